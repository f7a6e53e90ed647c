// What each act says about the demo job, whole: text and JSON, kept in tests/snapshots. A change
// shows as a difference; where it is wanted, LAYPROOF_UPDATE=1 writes the files anew, and the
// difference is read in the commit.

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <regex>
#include <string>
#include <vector>

#include "cli/program.hpp"
#include "cli/readable.hpp"

namespace layproof::testing {
namespace {

namespace fs = std::filesystem;
using OrderedJson = nlohmann::ordered_json;

struct Snapshot {
    std::string name;
    std::vector<std::string> args;
    int exit_status = 0;
    bool has_json = true;
    bool is_of_job = false;  ///< ids, times of recording and what hangs on them differ each time
};

std::vector<Snapshot> snapshot_list() {
    const auto with = [](std::vector<std::string> args, const std::vector<std::string>& more) {
        args.insert(args.end(), more.begin(), more.end());
        return args;
    };
    const std::vector<std::string> site{"--marks",         "marks.csv", "--instrument",
                                        "instrument.toml", "--unit",    "ft"};
    const std::vector<std::string> first{"--sights", "sights.csv", "--setups", "setups.csv"};
    const std::vector<std::string> second{"--sights", "day-sights.csv", "--setups",
                                          "day-setups.csv"};
    const std::vector<std::string> points{"--points", "points.csv"};
    const std::vector<std::string> levels{"--levels", "levels.csv"};
    return {
        {"plan", with(with(with({"plan"}, site), points),
                      {"--obstacles", "obstacles.csv", "--no-go", "no-go.csv", "--rod", "0.4ft"})},
        {"station", with(with(with({"station"}, site), first), points), 1},
        {"lay",
         with(with(with({"lay"}, site), with(second, points)),
              {"--grid", "grid.csv", "--show", "ft-in", "--only", "A1,B4,C5,C8,D7,E8"}),
         1},
        {"watch", with(with(with({"watch"}, site), second), points), 1},
        {"vet", with(with(with({"vet"}, site), first), levels), 1},
        {"prove", with(with(with({"prove"}, site), first), with(points, levels)), 1},
        {"job_show", {"job", "show", "hall.job"}, 0, true, true},
        {"causes", {"causes"}, 0, false},
    };
}

std::string without_ids(const std::string& text) {
    static const std::regex id(
        "[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}");
    static const std::regex time("20[0-9]{2}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}:[0-9]{2}Z");
    static const std::regex head("(head |\"hash\": \")[0-9a-f]{64}");
    std::string out = std::regex_replace(text, id, "<id>");
    out = std::regex_replace(out, time, "<time>");
    return std::regex_replace(out, head, "$1<hash>");
}

class snapshots : public ::testing::TestWithParam<Snapshot> {
protected:
    void SetUp() override {
        const fs::path from = fs::path(LAYPROOF_SOURCE_DIR) / "examples" / "invented-mill-hall";
        for (const auto& entry : fs::directory_iterator(from))
            fs::copy_file(entry.path(), work_.path() / entry.path().filename());
        if (!GetParam().is_of_job) return;
        ASSERT_EQ(run({"job", "new", "hall.job", "--title", "Invented mill hall", "--crew", "day"})
                      .exit_status,
                  0);
        ASSERT_EQ(run({"job", "take", "hall.job", "--marks", "marks.csv", "--sights", "sights.csv",
                       "--setups", "setups.csv", "--points", "points.csv", "--instrument",
                       "instrument.toml", "--unit", "ft"})
                      .exit_status,
                  0);
    }

    Ran run(const std::vector<std::string>& args) const {
        return run_layproof(args, {work_.path(), false, ""});
    }
    std::string output(std::vector<std::string> args) const {
        const Ran ran = run(args);
        EXPECT_EQ(ran.exit_status, GetParam().exit_status) << ran.err;
        EXPECT_EQ(ran.err, "");
        return GetParam().is_of_job ? without_ids(ran.out) : ran.out;
    }

    static void expect_kept(const std::string& file, const std::string& now) {
        const fs::path path = kept_path(file);
        if (std::getenv("LAYPROOF_UPDATE") != nullptr) {
            fs::create_directories(path.parent_path());
            write_text(path, now);
            return;
        }
        const std::string kept = read_text(path);
        EXPECT_TRUE(kept == now)
            << "tests/snapshots/" << file << " says otherwise:\n"
            << difference(kept, now)
            << "Where this is wanted: LAYPROOF_UPDATE=1 build/dev/tests/cli_tests "
               "--gtest_filter='*snapshots*', and read what git shows.";
    }
    static fs::path kept_path(const std::string& file) {
        return fs::path(LAYPROOF_SOURCE_DIR) / "tests" / "snapshots" / file;
    }

private:
    WorkFolder work_{"snapshot-" + GetParam().name};
};

TEST_P(snapshots, whole_output_is_as_it_was_read) {
    const Snapshot& of = GetParam();
    expect_kept(of.name + ".txt", output(of.args));
    if (!of.has_json) return;
    std::vector<std::string> args = of.args;
    args.emplace_back("--json");
    OrderedJson json = OrderedJson::parse(output(args), nullptr, false);
    ASSERT_FALSE(json.is_discarded());
    for (const char* key : {"version", "layproof"})
        if (json.contains(key)) json[key] = "<version>";
    const OrderedJson kept =
        OrderedJson::parse(read_text(kept_path(of.name + ".json")), nullptr, false);
    expect_kept(of.name + ".json", readable(settled(std::move(json), kept)));
}

INSTANTIATE_TEST_SUITE_P(demo, snapshots, ::testing::ValuesIn(snapshot_list()),
                         [](const auto& one) { return one.param.name; });

}  // namespace
}  // namespace layproof::testing
