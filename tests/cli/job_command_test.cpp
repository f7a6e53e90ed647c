// The act "job" as a crew types it: a job from its beginning to another crew and back.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "cli/program.hpp"

namespace layproof::testing {
namespace {

using ::testing::HasSubstr;
using Json = nlohmann::json;

class job_command : public ::testing::Test {
protected:
    job_command()
        : work_("job-" +
                std::string(::testing::UnitTest::GetInstance()->current_test_info()->name())) {
        const auto from =
            std::filesystem::path(LAYPROOF_SOURCE_DIR) / "examples" / "invented-mill-hall";
        for (const char* file : {"marks.csv", "sights.csv", "setups.csv", "day-sights.csv",
                                 "day-setups.csv", "points.csv", "instrument.toml"})
            std::filesystem::copy_file(from / file, work_.path() / file);
    }

    Ran run(const std::vector<std::string>& args) {
        return run_layproof(args, {work_.path(), false, ""});
    }
    std::string good(const std::vector<std::string>& args, int status = 0) {
        const Ran ran = run(args);
        EXPECT_EQ(ran.exit_status, status) << ran.err << ran.out;
        return ran.out;
    }
    Json json(std::vector<std::string> args, int status = 0) {
        args.emplace_back("--json");
        Json out = Json::parse(good(args, status), nullptr, false);
        EXPECT_FALSE(out.is_discarded());
        return out;
    }
    void begin() {
        good({"job", "new", "a.job", "--title", "Invented hall", "--crew", "day"});
        good(take("a.job"));
    }
    static std::vector<std::string> take(const std::string& job) {
        return {"job",
                "take",
                job,
                "--marks",
                "marks.csv",
                "--sights",
                "sights.csv",
                "--setups",
                "setups.csv",
                "--points",
                "points.csv",
                "--instrument",
                "instrument.toml",
                "--unit",
                "ft"};
    }
    std::filesystem::path file(const std::string& name) const { return work_.path() / name; }

private:
    WorkFolder work_;
};

TEST_F(job_command, station_from_the_job_has_the_numbers_of_the_files) {
    begin();
    const Json from_job = json({"station", "--job", "a.job"}, 1);
    const Json from_files =
        json({"station", "--marks", "marks.csv", "--sights", "sights.csv", "--setups", "setups.csv",
              "--points", "points.csv", "--instrument", "instrument.toml", "--unit", "ft"},
             1);
    EXPECT_EQ(from_job["stations"], from_files["stations"]);
    EXPECT_EQ(from_job["unit"], from_files["unit"]);
}

TEST_F(job_command, taking_twice_says_that_all_is_there) {
    begin();
    const std::string shown = good({"job", "show", "a.job"});
    auto again = take("a.job");
    again.emplace_back("--json");
    const Json answer = Json::parse(good(again));
    ASSERT_EQ(answer["documents"].size(), 5U);
    for (const Json& document : answer["documents"]) {
        EXPECT_EQ(document["rows_new"], 0) << document;
        EXPECT_GT(document["rows_known"], 0) << document;
    }
    EXPECT_EQ(good({"job", "show", "a.job"}), shown);
}

TEST_F(job_command, refused_sheet_leaves_the_job_as_it_was) {
    begin();
    const std::string shown = good({"job", "show", "a.job"});
    write_text(file("bad.csv"), "mark,east [m],north [m],height [m]\nX1,1,abc,3\n");
    const Ran ran = run({"job", "take", "a.job", "--marks", "bad.csv", "--points", "points.csv"});
    EXPECT_EQ(ran.exit_status, 3);
    EXPECT_EQ(ran.out, "");
    EXPECT_THAT(ran.err, HasSubstr("bad.csv:2:6"));
    EXPECT_EQ(good({"job", "show", "a.job"}), shown);
    EXPECT_EQ(run({"job", "take", "a.job", "--marks", "none.csv"}).exit_status, 3);
    write_text(file("empty.csv"), "");
    EXPECT_EQ(run({"job", "take", "a.job", "--marks", "empty.csv"}).exit_status, 3);
    EXPECT_EQ(good({"job", "show", "a.job"}), shown);
}

TEST_F(job_command, decision_changes_the_station_and_stands_in_the_job) {
    begin();
    EXPECT_THAT(good({"job", "decide", "a.job", "set-aside", "S1:H4", "--reason", "hit by a loader",
                      "--initials", "AB"}),
                HasSubstr("S1 to H4"));
    const Json from_job = json({"station", "--job", "a.job"}, 1);
    const Json from_files =
        json({"station", "--marks", "marks.csv", "--sights", "sights.csv", "--setups", "setups.csv",
              "--points", "points.csv", "--instrument", "instrument.toml", "--unit", "ft",
              "--set-aside", "S1:H4=hit by a loader (AB)"},
             1);
    EXPECT_EQ(from_job["stations"], from_files["stations"]);
    const Json before = json({"job", "show", "a.job", "--as-of", "2000-01-01T00:00:00Z"});
    EXPECT_TRUE(before["decisions"].empty());
    const Json now = json({"job", "show", "a.job"});
    ASSERT_FALSE(now["decisions"].empty());
    EXPECT_EQ(now["decisions"][0]["reason"], "hit by a loader");
    EXPECT_EQ(run({"station", "--job", "a.job", "--as-of", "2000-01-01T00:00:00Z"}).exit_status, 3);
}

TEST_F(job_command, copy_for_another_crew_is_merged_back) {
    begin();
    good({"job", "give", "a.job", "--out", "b.job"});
    EXPECT_EQ(run({"job", "give", "a.job", "--out", "b.job"}).exit_status, 4) << "replaced";
    good({"job", "decide", "b.job", "mark-moved", "H4", "--reason", "leans", "--initials", "CD"});
    const Json merged = json({"job", "merge", "a.job", "b.job"});
    EXPECT_EQ(merged["facts_new"], 1);
    EXPECT_EQ(json({"job", "merge", "a.job", "b.job"})["facts_new"], 0);
    EXPECT_TRUE(json({"job", "verify", "a.job"})["sound"].get<bool>());
    EXPECT_EQ(json({"job", "show", "a.job"})["writers"].size(), 2U);
}

TEST_F(job_command, facts_of_another_job_are_taken_only_when_asked_for) {
    begin();
    good({"job", "new", "c.job", "--title", "Another", "--crew", "night"});
    good({"job", "take", "c.job", "--marks", "marks.csv", "--unit", "ft"});
    EXPECT_EQ(run({"job", "merge", "a.job", "c.job"}).exit_status, 4);
    good({"job", "merge", "a.job", "c.job", "--other-job"});
}

TEST_F(job_command, kept_document_comes_back_byte_for_byte) {
    begin();
    for (const Json& document : json({"job", "show", "a.job"})["documents"]) {
        const auto name = document["name"].get<std::string>();
        good({"job", "give", "a.job", "--document", document["digest"].get<std::string>(), "--out",
              "back"});
        EXPECT_EQ(read_text(file("back")), read_text(file(name))) << name;
        std::filesystem::remove(file("back"));
    }
    EXPECT_EQ(run({"job", "give", "a.job", "--document", std::string(64, '0'), "--out", "none"})
                  .exit_status,
              3);
    EXPECT_FALSE(std::filesystem::exists(file("none")));
    const std::string job = read_text(file("a.job"));
    const auto digest =
        json({"job", "show", "a.job"})["documents"].at(0)["digest"].get<std::string>();
    EXPECT_EQ(run({"job", "give", "a.job", "--document", digest, "--out", "a.job"}).exit_status, 4);
    EXPECT_EQ(read_text(file("a.job")), job);
}

TEST_F(job_command, changed_byte_is_found) {
    begin();
    good({"job", "give", "a.job", "--out", "single.job"});
    const Json sound = json({"job", "verify", "single.job"});
    EXPECT_TRUE(sound["sound"].get<bool>());
    const auto head = sound["heads"].at(0)["hash"].get<std::string>();
    good({"job", "verify", "single.job", "--head", head});
    good({"job", "verify", "single.job", "--head", std::string(64, 'a')}, 1);
    EXPECT_EQ(run({"job", "verify", "single.job", "--head", "abc"}).exit_status, 2);

    // The sheet of marks is kept as it was; a digit of it is changed in the file.
    std::string bytes = read_text(file("single.job"));
    const std::string sheet = read_text(file("marks.csv"));
    const std::size_t at = bytes.find(sheet.substr(0, 60));
    ASSERT_NE(at, std::string::npos);
    const std::size_t digit = bytes.find_first_of("0123456789", at);
    bytes[digit] = bytes[digit] == '9' ? '8' : '9';
    write_text(file("single.job"), bytes);
    const Json changed = json({"job", "verify", "single.job"}, 1);
    EXPECT_FALSE(changed["sound"].get<bool>());
    EXPECT_EQ(changed["findings"].at(0)["kind"], "document-changed");
}

TEST_F(job_command, lay_and_watch_read_the_job_too) {
    good({"job", "new", "day.job", "--title", "Invented hall", "--crew", "day"});
    const std::vector<std::string> files{
        "--marks",  "marks.csv",  "--sights",     "day-sights.csv",  "--setups", "day-setups.csv",
        "--points", "points.csv", "--instrument", "instrument.toml", "--unit",   "ft"};
    std::vector<std::string> take{"job", "take", "day.job"};
    take.insert(take.end(), files.begin(), files.end());
    good(take);
    for (const char* act : {"lay", "watch"}) {
        std::vector<std::string> loose{act};
        loose.insert(loose.end(), files.begin(), files.end());
        loose.emplace_back("--json");
        const Ran from_files = run(loose);
        const Ran from_job = run({act, "--job", "day.job", "--json"});
        EXPECT_EQ(from_job.exit_status, from_files.exit_status) << from_job.err << from_files.err;
        Json job = Json::parse(from_job.out, nullptr, false);
        Json expected = Json::parse(from_files.out, nullptr, false);
        ASSERT_TRUE(job.is_object() && expected.is_object()) << act;
        ASSERT_FALSE(expected["stations"].empty()) << act;
        // What the readers remark about a file is said when it is taken.
        job.erase("notices");
        expected.erase("notices");
        EXPECT_EQ(job, expected) << act;
    }
}

/// With a record the whole job is adjusted once; what is said stays the same.
TEST_F(job_command, prove_says_the_same_with_a_record_and_without) {
    begin();
    const Ran alone = run({"prove", "--job", "a.job", "--json"});
    const Ran with = run({"prove", "--job", "a.job", "--json", "--out", "record"});
    EXPECT_EQ(alone.exit_status, with.exit_status);
    EXPECT_EQ(alone.out, with.out);
    EXPECT_TRUE(std::filesystem::exists(file("record") / "record.pdf"));
    good({"prove", "--from", "record/record.pdf"});
}

}  // namespace
}  // namespace layproof::testing
