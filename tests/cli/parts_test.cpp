// What the program loads to begin, and what it says where a part of it is not installed.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

#include "cli/program.hpp"

namespace layproof::testing {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
namespace fs = std::filesystem;

class parts : public ::testing::Test {
protected:
    parts()
        : work_("parts-" +
                std::string(::testing::UnitTest::GetInstance()->current_test_info()->name())) {
        for (const auto& entry : fs::directory_iterator(fs::path(LAYPROOF_SOURCE_DIR) / "examples" /
                                                        "invented-mill-hall")) {
            if (entry.is_regular_file()) fs::copy_file(entry, file(entry.path().filename()));
        }
        fs::create_directory(file("bin"));
        fs::create_directories(file("lib/layproof"));
        fs::copy_file(LAYPROOF_CLI, file("bin/layproof"));
    }

    fs::path file(const fs::path& name) const { return work_.path() / name; }

    /// A part as it was built, into the folder where the copied program looks for it.
    void install(const std::string& part) {
        const std::string name = "layproof_" + part + ".so";
        fs::copy_file(fs::path(LAYPROOF_CLI).parent_path() / "../lib/layproof" / name,
                      file("lib/layproof/" + name));
    }

    Ran run(const std::vector<std::string>& args) {
        RunOptions options;
        options.folder = work_.path();
        options.program = file("bin/layproof");
        return run_layproof(args, options);
    }
    std::vector<std::string> station() const {
        return {
            "station",    "--marks",      "marks.csv",       "--sights", "sights.csv", "--setups",
            "setups.csv", "--instrument", "instrument.toml", "--points", "points.csv", "--unit",
            "ft"};
    }

private:
    WorkFolder work_;
};

TEST_F(parts, program_begins_without_libraries_of_paper_maps_xml_and_numerics) {
    // The loader lists what it would load and ends (ld.so(8)).
    RunOptions options;
    options.folder = file("");
    options.program = "/usr/bin/env";
    const Ran listed = run_layproof({"LD_TRACE_LOADED_OBJECTS=1", LAYPROOF_CLI}, options);
    EXPECT_EQ(listed.exit_status, 0) << listed.err;
    EXPECT_THAT(listed.out, HasSubstr("libstdc++"));
    for (const char* name : {"libproj", "libcairo", "libpango", "libqpdf", "libxml2", "libicu",
                             "openblas", "libmetis", "libfontconfig", "libcurl"})
        EXPECT_THAT(listed.out, Not(HasSubstr(name)));
}

TEST_F(parts, station_of_one_set_up_needs_none) {
    // The first set-up of the site alone.
    std::string one;
    {
        std::ifstream all(file("sights.csv"));
        for (std::string line; std::getline(all, line);)
            if (line.find("S2,") != 0 && line.find(",check,") == std::string::npos)
                one += line + "\n";
    }
    std::ofstream(file("sights.csv")) << one;
    const Ran whole = run_layproof(station(), {file(""), false, "", ""});
    const Ran alone = run(station());
    EXPECT_EQ(alone.exit_status, whole.exit_status) << alone.err;
    EXPECT_EQ(alone.out, whole.out);
    EXPECT_THAT(alone.out, HasSubstr("Station"));
}

TEST_F(parts, xml_is_refused_without_its_part_and_read_with_it) {
    fs::copy_file(fs::path(LAYPROOF_SOURCE_DIR) / "tests/cases/lay/landxml-and-dxf/site.xml",
                  file("site.xml"));
    const std::vector<std::string> asked{"station",  "--marks",      "site.xml",
                                         "--sights", "site.xml",     "--setups",
                                         "site.xml", "--instrument", "instrument.toml"};
    const Ran without = run(asked);
    EXPECT_GT(without.exit_status, 1);
    EXPECT_THAT(without.err, HasSubstr("layproof_xml.so"));
    EXPECT_THAT(without.err, HasSubstr((file("lib") / "layproof").string()));
    EXPECT_THAT(without.err, HasSubstr("cannot-read"));
    install("xml");
    install("sparse");
    EXPECT_LE(run(asked).exit_status, 1);
}

TEST_F(parts, map_is_refused_without_its_part_and_known_with_it) {
    const std::vector<std::string> begun{"job",      "new",    "a.job", "--title",
                                         "Invented", "--crew", "day"};
    EXPECT_EQ(run(begun).exit_status, 0);
    const std::vector<std::string> asked{"job",    "take", "a.job",      "--marks",  "marks.csv",
                                         "--unit", "ft",   "--site-crs", "EPSG:2227"};
    const Ran without = run(asked);
    EXPECT_GT(without.exit_status, 1);
    EXPECT_THAT(without.err, HasSubstr("layproof_maps.so"));
    write_text(file("lib/layproof/layproof_maps.so"), "no library at all");
    const Ran broken = run(asked);
    EXPECT_GT(broken.exit_status, 1);
    EXPECT_THAT(broken.err, HasSubstr("layproof_maps.so"));
    fs::remove(file("lib/layproof/layproof_maps.so"));
    install("maps");
    const Ran with = run(asked);
    EXPECT_EQ(with.exit_status, 0) << with.err;
}

TEST_F(parts, whole_job_and_its_record_are_refused_without_theirs) {
    EXPECT_EQ(run({"job", "new", "a.job", "--title", "Invented", "--crew", "day"}).exit_status, 0);
    const Ran took = run({"job", "take", "a.job", "--marks", "marks.csv", "--sights", "sights.csv",
                          "--setups", "setups.csv", "--points", "points.csv", "--instrument",
                          "instrument.toml", "--unit", "ft"});
    EXPECT_EQ(took.exit_status, 0) << took.err;
    const std::vector<std::string> asked{"prove", "--job", "a.job", "--out", "out"};
    for (const auto& [here, missing] : {std::pair{"sparse", "pdf"}, std::pair{"pdf", "sparse"}}) {
        install(here);
        const Ran ran = run(asked);
        EXPECT_GT(ran.exit_status, 1);
        EXPECT_THAT(ran.err, HasSubstr(std::string("layproof_") + missing + ".so"));
        EXPECT_FALSE(fs::exists(file("out/record.html")));
        fs::remove(file("lib/layproof/layproof_" + std::string(here) + ".so"));
    }
    install("sparse");
    install("pdf");
    const Ran whole = run(asked);
    EXPECT_LE(whole.exit_status, 1) << whole.err;
    EXPECT_TRUE(fs::exists(file("out/record.pdf")));
}

}  // namespace
}  // namespace layproof::testing
