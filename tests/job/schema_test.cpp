#include <array>

#include "job/kinds_internal.hpp"
#include "job/open_internal.hpp"
#include "job_support.hpp"

namespace layproof::job {
namespace {

Result<Done> open_memory(Db& db) {
    return db.open(":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, "memory");
}

const int kToday = newest_version(migrations());

/// Today's steps and one more, as a later layproof would have it: a new kind of fact.
std::vector<Migration> with_next_step(const std::string& sql) {
    std::vector<Migration> steps(migrations().begin(), migrations().end());
    steps.push_back({kToday + 1, sql});
    return steps;
}
const std::string kFoundValue =
    "CREATE TABLE found_value (seq INTEGER PRIMARY KEY REFERENCES fact (seq),"
    " name TEXT NOT NULL, value REAL NOT NULL) STRICT;";

using SchemaTest = JobTest;

TEST(Schema, every_kind_has_a_table_with_its_columns_in_order) {
    Db db;
    ASSERT_TRUE(open_memory(db));
    ASSERT_TRUE(migrate(db, migrations()));
    for (const KindTable& table : kind_tables()) {
        auto row =
            db.use("SELECT group_concat(name, ', ') FROM pragma_table_info('" + table.word + "')");
        ASSERT_TRUE(row);
        ASSERT_EQ((*row)->step(), SQLITE_ROW);
        EXPECT_EQ((*row)->text(0), "seq, " + joined(table.columns, "")) << table.word;
    }
}

TEST(Schema, every_table_is_strict) {
    Db db;
    ASSERT_TRUE(open_memory(db));
    ASSERT_TRUE(migrate(db, migrations()));
    const auto loose = db.integer(
        "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND strict = 0 "
        "AND name NOT LIKE 'sqlite_%'");
    ASSERT_TRUE(loose);
    EXPECT_EQ(*loose, 0);
}

TEST_F(SchemaTest, facts_cannot_be_changed_deleted_or_replaced) {
    {
        Job job = create("a.job");
        fill(job);
    }
    RawDb raw(folder / "a.job");
    const auto tables = raw.rows(
        "SELECT name FROM sqlite_master WHERE type = 'table' "
        "AND name NOT IN ('head', 'this_file') AND name NOT LIKE 'sqlite_%'");
    ASSERT_EQ(tables.size(), 4 + kind_tables().size());
    for (const auto& row : tables) {
        const std::string& table = row[0];
        const auto before = raw.rows("SELECT * FROM " + table);
        ASSERT_FALSE(before.empty()) << table;
        const std::string column = raw.rows("SELECT name FROM pragma_table_info('" + table +
                                            "') ORDER BY cid DESC LIMIT 1")[0][0];
        for (const std::string& sql :
             {"UPDATE " + table + " SET " + column + " = " + column, "DELETE FROM " + table,
              "INSERT OR REPLACE INTO " + table + " SELECT * FROM " + table}) {
            EXPECT_NE(raw.run(sql), SQLITE_OK) << sql;
            EXPECT_EQ(raw.said(), "facts are only added") << sql;
        }
        EXPECT_EQ(raw.rows("SELECT * FROM " + table), before);
    }
}

TEST_F(SchemaTest, older_file_opened_for_writing_is_brought_up_to_date_with_its_facts) {
    {
        Job job = create("a.job");
        fill(job);
    }
    const auto facts = facts_in("a.job");
    const auto steps = with_next_step(kFoundValue);
    Db db;
    ASSERT_TRUE(open_job_db(db, folder / "a.job", true, 50, steps));
    EXPECT_EQ(*db.integer("PRAGMA user_version"), kToday + 1);
    EXPECT_EQ(*db.integer("SELECT count(*) FROM found_value"), 0);
    auto differences = schema_differences(db, steps);
    ASSERT_TRUE(differences);
    EXPECT_TRUE(differences->empty());
    db.close();
    EXPECT_EQ(facts_in("a.job"), facts);
}

TEST_F(SchemaTest, older_file_opened_for_reading_is_left_as_it_is) {
    {
        Job job = create("a.job");
        fill(job);
    }
    const std::string bytes = file_bytes(folder / "a.job");
    const auto steps = with_next_step(kFoundValue);
    {
        Db db;
        ASSERT_TRUE(open_job_db(db, folder / "a.job", false, 50, steps));
        EXPECT_EQ(*db.integer("PRAGMA user_version"), kToday + 1);
        EXPECT_EQ(*db.integer("SELECT count(*) FROM found_value"), 0);
        EXPECT_EQ(*db.integer("SELECT count(*) FROM mark"), 2);
    }
    EXPECT_EQ(file_bytes(folder / "a.job"), bytes);
}

TEST_F(SchemaTest, newer_file_is_refused_and_left_as_it_is) {
    { create("a.job"); }
    {
        Db db;
        ASSERT_TRUE(open_job_db(db, folder / "a.job", true, 50, with_next_step(kFoundValue)));
    }
    const std::string bytes = file_bytes(folder / "a.job");
    for (const Mode mode : {Mode::read, Mode::write}) {
        auto opened = try_open("a.job", mode);
        ASSERT_FALSE(opened);
        EXPECT_EQ(opened.refusal().code, ErrorCode::job_newer);
        EXPECT_NE(opened.refusal().to_text().find("schema " + std::to_string(kToday)),
                  std::string::npos);
    }
    EXPECT_EQ(file_bytes(folder / "a.job"), bytes);
}

TEST_F(SchemaTest, step_that_fails_half_way_leaves_the_old_schema) {
    { create("a.job"); }
    Db db;
    auto opened = open_job_db(db, folder / "a.job", true, 50,
                              with_next_step(kFoundValue + "INSERT INTO nowhere VALUES (1);"));
    ASSERT_FALSE(opened);
    db.close();
    EXPECT_EQ(open("a.job").summary()->schema, kToday);
    RawDb raw(folder / "a.job");
    EXPECT_EQ(raw.rows("SELECT count(*) FROM sqlite_master WHERE name = 'found_value'")[0][0], "0");
}

TEST_F(SchemaTest, dropped_or_added_object_is_named) {
    { create("a.job"); }
    {
        RawDb raw(folder / "a.job");
        raw.run("DROP TRIGGER mark_keep_update");
        raw.run("CREATE TRIGGER sly AFTER INSERT ON mark BEGIN DELETE FROM head; END");
    }
    auto report = open("a.job").verify();
    ASSERT_TRUE(report);
    const std::string text = findings_text(*report);
    EXPECT_NE(text.find("schema-changed: trigger mark_keep_update is missing"), std::string::npos);
    EXPECT_NE(text.find("schema-changed: trigger sly does not belong"), std::string::npos);
}

}  // namespace
}  // namespace layproof::job
