// Files that appear in a folder.

#include "door/inbox.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/job/job_test_support.hpp"
#include "door/shapes.hpp"

namespace layproof::acts {
namespace {

using layproof::testing::expect_value;
using layproof::testing::mill_hall;
using ::testing::HasSubstr;
using ::testing::StartsWith;

class inbox : public job::JobTest {
protected:
    void SetUp() override {
        create("a.job");
        open_job = expect_value(OpenJob::open(folder / "a.job", clock, entropy));
        std::filesystem::create_directory(folder / "in");
    }
    void put(const std::string& name, const std::string& text) {
        job::write_bytes(folder / ("in/" + name), text);
    }
    InboxFile only(const Inbox& box) {
        const InboxReport report = box.report();
        EXPECT_FALSE(check_record("InboxAnswer", to_json(report)));
        EXPECT_EQ(report.files.size(), 1U);
        return report.files.empty() ? InboxFile{} : report.files[0];
    }
    std::int64_t facts() { return expect_value(open_job->state()).facts; }

    std::unique_ptr<OpenJob> open_job;
    static constexpr const char* kMark = "mark,east [m],north [m],height [m]\nQ1,1,2,3\n";
};

TEST_F(inbox, file_is_taken_once_it_stands_still) {
    Inbox box(folder / "in", {});
    put("marks.csv", "mark,east [m],north [m],height [m]\nQ1,1,2");
    EXPECT_TRUE(box.look(*open_job));
    EXPECT_FALSE(only(box).is_taken);
    put("marks.csv", kMark);  // the writer goes on
    EXPECT_TRUE(box.look(*open_job));
    EXPECT_FALSE(only(box).is_taken);
    EXPECT_TRUE(box.look(*open_job));
    EXPECT_TRUE(only(box).is_taken);
    EXPECT_EQ(only(box).role, "marks");
    EXPECT_EQ(only(box).says, "Taken: 1 new.");
    const std::int64_t then = facts();
    EXPECT_FALSE(box.look(*open_job)) << "nothing is new";
    EXPECT_EQ(facts(), then);
    EXPECT_TRUE(std::filesystem::exists(folder / "in/marks.csv"));
}

TEST_F(inbox, same_bytes_are_taken_once_whatever_their_name) {
    Inbox box(folder / "in", {});
    put("a.csv", kMark);
    box.look(*open_job);
    box.look(*open_job);
    const std::int64_t then = facts();
    put("b.csv", kMark);
    Inbox again(folder / "in", {});
    again.look(*open_job);
    again.look(*open_job);
    EXPECT_EQ(facts(), then);
    ASSERT_EQ(again.report().files.size(), 2U);
    for (const InboxFile& file : again.report().files) {
        EXPECT_TRUE(file.is_taken);
        EXPECT_EQ(file.says, "Already in the job.");
    }
}

TEST_F(inbox, refused_file_stays_with_its_reason_until_it_changes) {
    Inbox box(folder / "in", {});
    // Another size than that of the whole file: a fast machine writes both at one time stamp.
    put("marks.csv", "mark,east [m],north [m],height [m]\nQ1,xx,2,3\n");
    box.look(*open_job);
    box.look(*open_job);
    EXPECT_FALSE(only(box).is_taken);
    EXPECT_THAT(only(box).says, HasSubstr("marks.csv, line 2, column 4"));
    EXPECT_FALSE(box.look(*open_job));
    put("marks.csv", kMark);
    box.look(*open_job);
    box.look(*open_job);
    EXPECT_TRUE(only(box).is_taken);
}

TEST_F(inbox, file_without_unit_waits_for_it) {
    put("marks.csv", "mark,east,north,height\nQ1,1,2,3\n");
    Inbox box(folder / "in", {});
    box.look(*open_job);
    box.look(*open_job);
    EXPECT_FALSE(only(box).is_taken);
    EXPECT_THAT(only(box).says, StartsWith("Waits for its unit"));
    Inbox with_unit(folder / "in", measure::LengthUnit::foot);
    with_unit.look(*open_job);
    with_unit.look(*open_job);
    EXPECT_TRUE(only(with_unit).is_taken);
}

TEST_F(inbox, what_is_no_table_of_ours_is_listed_and_left) {
    put("notes.txt", "buy stakes\n");
    put(".hidden.csv", kMark);
    std::filesystem::create_directory(folder / "in/folder.csv");
    job::write_bytes(folder / "elsewhere.csv", kMark);
    std::filesystem::create_symlink(folder / "elsewhere.csv", folder / "in/link.csv");
    const std::int64_t before = facts();
    Inbox box(folder / "in", {});
    box.look(*open_job);
    box.look(*open_job);
    EXPECT_EQ(only(box).name, "notes.txt");
    EXPECT_FALSE(only(box).is_taken);
    EXPECT_EQ(facts(), before);
}

TEST_F(inbox, whole_demo_day_is_taken_from_a_folder) {
    for (const char* name : {"marks.csv", "points.csv", "grid.csv", "instrument.toml",
                             "day-sights.csv", "day-setups.csv"})
        put(name, mill_hall(name).bytes);
    Inbox box(folder / "in", measure::LengthUnit::foot);
    box.look(*open_job);
    box.look(*open_job);
    ASSERT_EQ(box.report().files.size(), 6U);
    for (const InboxFile& file : box.report().files)
        EXPECT_TRUE(file.is_taken) << file.name << ": " << file.says;
    EXPECT_TRUE(open_job->facts({}));
}

TEST_F(inbox, folder_that_is_not_there_is_told) {
    Inbox box(folder / "nowhere", {});
    EXPECT_TRUE(box.look(*open_job));
    EXPECT_THAT(only(box).says, HasSubstr("cannot be read"));
    EXPECT_FALSE(box.look(*open_job));
    std::filesystem::create_directory(folder / "nowhere");
    EXPECT_TRUE(box.look(*open_job));
    EXPECT_TRUE(box.report().files.empty());
    Inbox none({}, {});
    EXPECT_FALSE(none.look(*open_job));
    EXPECT_FALSE(check_record("InboxAnswer", to_json(none.report())));
}

}  // namespace
}  // namespace layproof::acts
