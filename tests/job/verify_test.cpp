#include <gmock/gmock.h>

#include "job/kinds_internal.hpp"
#include "job_support.hpp"

namespace layproof::job {
namespace {

class Verifying : public JobTest {
protected:
    void SetUp() override {
        Job job = create("a.job");
        fill(job);
    }
    VerifyReport verify(const std::string& name, std::span<const Digest> noted = {}) {
        return *open(name, Mode::read).verify(noted);
    }
    /// A copy with something done to it past the guards.
    std::string tampered(const std::string& sql) {
        std::filesystem::copy_file(folder / "a.job", folder / "t.job",
                                   std::filesystem::copy_options::overwrite_existing);
        RawDb raw(folder / "t.job");
        raw.guards_off();
        raw.run("PRAGMA synchronous = OFF; BEGIN");
        EXPECT_EQ(raw.run(sql), SQLITE_OK) << raw.said() << ": " << sql;
        EXPECT_EQ(raw.run("COMMIT"), SQLITE_OK) << raw.said();
        return "t.job";
    }
    static bool has(const VerifyReport& report, FindingKind kind) {
        return std::any_of(report.findings.begin(), report.findings.end(),
                           [&](const Finding& finding) { return finding.kind == kind; });
    }
    /// Changes each cell of at most `most_rows` rows of each table, one at a time.
    int change_cells(std::size_t most_rows) {
        std::vector<std::string> tables{"job", "writer", "content", "fact"};
        for (const KindTable& table : kind_tables()) tables.push_back(table.word);
        int tried = 0;
        for (const std::string& table : tables) {
            std::vector<std::vector<std::string>> columns;
            std::vector<std::vector<std::string>> rows;
            {
                RawDb raw(folder / "a.job");
                columns = raw.rows("SELECT name, type, \"notnull\" FROM pragma_table_info('" +
                                   table + "')");
                rows = raw.rows("SELECT rowid FROM " + table);
            }
            EXPECT_FALSE(rows.empty()) << table;
            if (rows.size() > most_rows)
                rows.erase(rows.begin() + 1,
                           rows.end() - static_cast<std::ptrdiff_t>(most_rows) + 1);
            for (const auto& column : columns) {
                const std::string& name = column[0];
                // The order of arrival says nothing; `only` is the key of a table of one row.
                if (name == "only" || (name == "seq" && table == "writer")) continue;
                std::vector<std::string> changes;
                if (column[1] == "TEXT") changes = {name + " || ' '", "upper(" + name + ") || 'x'"};
                if (column[1] == "REAL")
                    changes = {"coalesce(" + name + ", 0.0) * 1.0000000001 + 1e-9"};
                if (column[1] == "INTEGER") changes = {"coalesce(" + name + ", 0) + 1000"};
                if (column[1] == "BLOB") changes = {"the last byte, below"};
                for (const auto& row : rows) {
                    for (std::string change : changes) {
                        if (column[1] == "BLOB") {
                            RawDb raw(folder / "a.job");
                            std::string hex = raw.rows("SELECT hex(" + name + ") FROM " + table +
                                                       " WHERE rowid = " + row[0])[0][0];
                            if (hex.empty()) hex = std::string(64, '0');
                            hex.back() = hex.back() == '0' ? '1' : '0';
                            change = "x'" + hex + "'";
                        }
                        const VerifyReport report =
                            verify(tampered("UPDATE " + table + " SET " + name + " = " + change +
                                            " WHERE rowid = " + row[0]));
                        EXPECT_FALSE(report.sound()) << table << "." << name << " of " << row[0];
                        ++tried;
                    }
                }
            }
        }
        return tried;
    }

    /// Everything the facts say, as text.
    std::string said(const std::string& name) {
        std::string out;
        RawDb raw(folder / name);
        for (const std::string table : {"job", "writer", "content", "fact"}) {
            for (const auto& row : raw.rows("SELECT * FROM " + table + " ORDER BY 1")) {
                for (const auto& cell : row) out += cell + "|";
            }
        }
        for (const KindTable& table : kind_tables()) {
            for (const auto& row : raw.rows("SELECT * FROM " + table.word + " ORDER BY seq")) {
                for (const auto& cell : row) out += cell + "|";
            }
        }
        return out;
    }
};

TEST_F(Verifying, untouched_file_is_sound_with_its_head) {
    const VerifyReport report = verify("a.job");
    EXPECT_TRUE(report.sound()) << findings_text(report);
    EXPECT_EQ(report.facts, 16);
    ASSERT_EQ(report.heads.size(), 1U);
    EXPECT_EQ(report.heads[0].position, 16);
    EXPECT_TRUE(verify(tampered("SELECT 1")).sound());
}

TEST_F(Verifying, each_changed_cell_of_each_table_is_found) {
    EXPECT_GT(change_cells(2), 120);
}

TEST_F(Verifying, slow_each_changed_cell_of_each_row_is_found) {
    EXPECT_GT(change_cells(100), 250);
}

TEST_F(Verifying, absent_value_given_or_given_value_removed_is_found) {
    EXPECT_TRUE(has(verify(tampered("UPDATE setup SET instrument_height_m = 1.5")),
                    FindingKind::fact_changed));
    EXPECT_TRUE(has(verify(tampered("UPDATE mark SET height_m = NULL WHERE name = 'H1'")),
                    FindingKind::fact_changed));
    EXPECT_TRUE(has(verify(tampered("UPDATE fact SET document = NULL WHERE position = 3")),
                    FindingKind::fact_changed));
}

TEST_F(Verifying, deleted_fact_is_found_at_the_beginning_middle_and_end) {
    for (const int position : {1, 5, 12}) {
        const std::string at = std::to_string(position);
        const std::string where = " (SELECT seq FROM fact WHERE position = " + at + ")";
        std::string sql = "";
        for (const KindTable& table : kind_tables()) {
            sql += "DELETE FROM " + table.word + " WHERE seq IN" + where + ";";
        }
        const VerifyReport report =
            verify(tampered(sql + "DELETE FROM fact WHERE position = " + at));
        EXPECT_TRUE(has(report, FindingKind::fact_missing)) << position << findings_text(report);
    }
}

TEST_F(Verifying, facts_swapped_in_place_are_found) {
    const VerifyReport report =
        verify(tampered("UPDATE fact SET position = 99 WHERE position = 3;"
                        "UPDATE fact SET position = 3 WHERE position = 4;"
                        "UPDATE fact SET position = 4 WHERE position = 99"));
    EXPECT_TRUE(has(report, FindingKind::chain_broken)) << findings_text(report);
    const VerifyReport rows = verify(
        tampered("UPDATE sight SET seq = 99 WHERE seq = 6; UPDATE sight SET seq = 6 WHERE seq = 7;"
                 "UPDATE sight SET seq = 7 WHERE seq = 99"));
    EXPECT_TRUE(has(rows, FindingKind::fact_changed)) << findings_text(rows);
}

TEST_F(Verifying, inserted_fact_is_found) {
    const VerifyReport report = verify(tampered(
        "INSERT INTO fact (id, writer, position, kind, recorded_ms, revision, content, previous, "
        "hash) SELECT randomblob(16), writer, 13, kind, recorded_ms, revision, content, hash, "
        "randomblob(32) FROM fact WHERE position = 12;"
        "INSERT INTO decision SELECT (SELECT max(seq) FROM fact), decision, subject_kind, "
        "subject_name, subject_fact, reason, time_s, time_text, initials FROM decision"));
    EXPECT_TRUE(has(report, FindingKind::fact_changed));
    EXPECT_TRUE(has(report, FindingKind::fact_extra)) << findings_text(report);
}

TEST_F(Verifying, row_without_a_fact_is_found) {
    const VerifyReport report =
        verify(tampered("INSERT INTO column_map VALUES (500, 'x', 'marks', '')"));
    EXPECT_TRUE(has(report, FindingKind::fact_extra)) << findings_text(report);
}

TEST_F(Verifying, document_bytes_changed_or_gone_are_found) {
    EXPECT_TRUE(has(verify(tampered("UPDATE content SET bytes = randomblob(length(bytes))")),
                    FindingKind::document_changed));
    EXPECT_TRUE(has(verify(tampered("DELETE FROM content")), FindingKind::document_changed));
}

TEST_F(Verifying, end_removed_with_its_head_is_found_by_a_noted_head) {
    const std::vector<Digest> noted{verify("a.job").heads[0].hash};
    {
        Job job = open("a.job");
        ASSERT_TRUE(job.add(mark("H3", 1, 2, 3)));
    }
    EXPECT_TRUE(verify("a.job", noted).sound());
    // A forger who knows the file sets the head back as well.
    const std::string name = tampered(
        "DELETE FROM mark WHERE name = 'H3';"
        "DELETE FROM fact WHERE position = 17; DELETE FROM decision;"
        "DELETE FROM fact WHERE position = 16; UPDATE head SET position = 15, "
        "hash = (SELECT hash FROM fact WHERE position = 15)");
    EXPECT_TRUE(verify(name).sound());
    EXPECT_TRUE(has(verify(name, noted), FindingKind::note_missing));
}

TEST_F(Verifying, byte_changed_in_the_raw_file_is_found_or_touches_no_fact) {
    const std::string whole = file_bytes(folder / "a.job");
    const std::string before = said("a.job");
    Random random(41);
    int found = 0;
    int harmless = 0;
    for (int round = 0; round < 250; ++round) {
        std::string bytes = whole;
        const auto at = static_cast<std::size_t>(random.below(static_cast<int>(whole.size())));
        bytes[at] = static_cast<char>(bytes[at] ^ (1 << random.below(8)));
        write_bytes(folder / "t.job", bytes);
        auto opened = try_open("t.job", Mode::read);
        if (!opened) {
            ++found;
            continue;
        }
        auto report = opened->verify();
        if (!report || !report->sound()) {
            ++found;
            continue;
        }
        ++harmless;
        EXPECT_EQ(said("t.job"), before) << "byte " << at;
    }
    EXPECT_GT(found, 20);
    EXPECT_GT(harmless, 20);
}

// Every byte of every page that holds facts, one at a time.
TEST_F(Verifying, slow_every_byte_of_the_raw_file) {
    const std::string whole = file_bytes(folder / "a.job");
    const std::string before = said("a.job");
    int found = 0;
    for (std::size_t at = 0; at < whole.size(); ++at) {
        if (whole[at] == 0) continue;  // free space, nearly always: covered by the random test
        std::string bytes = whole;
        bytes[at] = static_cast<char>(bytes[at] ^ 0x01);
        write_bytes(folder / "t.job", bytes);
        auto opened = try_open("t.job", Mode::read);
        if (!opened) {
            ++found;
            continue;
        }
        auto report = opened->verify();
        if (!report || !report->sound()) {
            ++found;
            continue;
        }
        ASSERT_EQ(said("t.job"), before) << "byte " << at;
    }
    EXPECT_GT(found, 3000);
}

}  // namespace
}  // namespace layproof::job
