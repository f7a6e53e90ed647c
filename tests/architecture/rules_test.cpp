// Planted violations: each rule must find its own, and leave innocent text alone.

#include "architecture/rules.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "architecture/source_text.hpp"

namespace layproof::architecture {
namespace {

std::string joined(const Findings& findings) {
    std::string text;
    for (const Finding& finding : findings) text += finding.to_text() + "\n";
    return text;
}

TEST(direction, order_of_the_rooms_is_held) {
    EXPECT_TRUE(may_include("measure", "base"));
    EXPECT_TRUE(may_include("cli", "acts"));
    EXPECT_TRUE(may_include("watch", "cause"));
    EXPECT_TRUE(may_include("acts", "paper"));
    EXPECT_TRUE(may_include("station", "station"));
    EXPECT_FALSE(may_include("base", "measure"));
    EXPECT_FALSE(may_include("station", "cause"));
    EXPECT_FALSE(may_include("acts", "cli"));
}

TEST(direction, rooms_of_one_step_do_not_include_each_other) {
    EXPECT_FALSE(may_include("plan", "lay"));
    EXPECT_FALSE(may_include("vet", "watch"));
    EXPECT_TRUE(may_include("prove", "lay"));
    EXPECT_FALSE(may_include("lay", "prove"));
    EXPECT_FALSE(may_include("exchange", "drawing"));
    EXPECT_FALSE(may_include("drawing", "exchange"));
    EXPECT_TRUE(may_include("cli", "server"));
    EXPECT_FALSE(may_include("server", "cli"));
    EXPECT_FALSE(may_include("server", "wasm"));
}

TEST(direction, adjust_depends_on_base_alone) {
    EXPECT_TRUE(may_include("adjust", "base"));
    EXPECT_FALSE(may_include("adjust", "measure"));
    EXPECT_FALSE(may_include("adjust", "frame"));
    EXPECT_TRUE(may_include("infer", "adjust"));
    EXPECT_FALSE(may_include("infer", "measure"));
}

TEST(direction, unknown_room_is_never_allowed) {
    EXPECT_FALSE(may_include("attic", "base"));
    EXPECT_FALSE(may_include("acts", "attic"));
}

TEST(include_direction, right_pointing_include_is_found_with_its_line) {
    const Findings findings =
        include_direction({{"src/frame/a.hpp", "#pragma once\n#include \"station/pose.hpp\"\n"}});
    ASSERT_EQ(findings.size(), 1U) << joined(findings);
    EXPECT_EQ(findings[0].path, "src/frame/a.hpp");
    EXPECT_EQ(findings[0].line, 2);
}

TEST(include_direction, angle_brackets_hide_nothing) {
    EXPECT_EQ(include_direction({{"src/base/a.cpp", "#  include <acts/station.hpp>\n"}}).size(),
              1U);
}

TEST(include_direction, include_without_room_is_found) {
    EXPECT_EQ(include_direction({{"src/base/a.cpp", "#include \"b.hpp\"\n"},
                                 {"src/base/b.hpp", "#pragma once\n"}})
                  .size(),
              1U);
    EXPECT_EQ(include_direction({{"src/base/a.cpp", "#include \"../acts/b.hpp\"\n"}}).size(), 1U);
    EXPECT_EQ(include_direction({{"src/acts/lay/a.cpp", "#include \"b.hpp\"\n"},
                                 {"src/acts/lay/b.hpp", "#pragma once\n"}})
                  .size(),
              1U);
}

TEST(include_direction, folder_that_is_called_as_another_room_is_no_trap) {
    EXPECT_EQ(joined(include_direction({{"src/acts/vet/a.hpp", "#include \"job/job.hpp\"\n"},
                                        {"src/acts/job/job.hpp", "#pragma once\n"},
                                        {"src/job/job.hpp", "#pragma once\n"}})),
              "");
}

TEST(include_direction, internal_header_of_another_room_is_found) {
    const Files files{{"src/station/a.cpp", "#include \"adjust/normal_internal.hpp\"\n"},
                      {"src/adjust/b.cpp", "#include \"adjust/normal_internal.hpp\"\n"}};
    const Findings findings = include_direction(files);
    ASSERT_EQ(findings.size(), 1U) << joined(findings);
    EXPECT_EQ(findings[0].path, "src/station/a.cpp");
}

TEST(include_direction, file_in_no_known_room_is_found) {
    EXPECT_EQ(include_direction({{"src/attic/a.cpp", "int f();\n"}}).size(), 1U);
    EXPECT_EQ(include_direction({{"src/a.cpp", "int f();\n"}}).size(), 1U);
}

TEST(include_direction, left_includes_comments_and_libraries_are_left_alone) {
    const Files files{{"src/cause/a.cpp",
                       "#include \"cause/a.hpp\"\n#include <Eigen/Core>\n#include <vector>\n"
                       "// #include \"acts/x.hpp\"\n/*\n#include \"cli/x.hpp\"\n*/\n"
                       "#include \"base/result.hpp\"\n"}};
    EXPECT_EQ(joined(include_direction(files)), "");
}

TEST(include_cycles, circle_over_three_files_is_found) {
    const Files files{{"src/base/a.hpp", "#include \"base/b.hpp\"\n"},
                      {"src/base/b.hpp", "#include \"base/c.hpp\"\n"},
                      {"src/base/c.hpp", "#include \"base/a.hpp\"\n"}};
    EXPECT_EQ(include_cycles(files).size(), 1U);
}

TEST(include_cycles, file_that_includes_itself_is_found) {
    EXPECT_EQ(include_cycles({{"src/base/a.hpp", "#include \"base/a.hpp\"\n"}}).size(), 1U);
}

TEST(include_cycles, diamond_is_no_circle) {
    const Files files{{"src/base/a.hpp", "#include \"base/b.hpp\"\n#include \"base/c.hpp\"\n"},
                      {"src/base/b.hpp", "#include \"base/d.hpp\"\n"},
                      {"src/base/c.hpp", "#include \"base/d.hpp\"\n"},
                      {"src/base/d.hpp", "#pragma once\n"}};
    EXPECT_EQ(joined(include_cycles(files)), "");
}

TEST(include_direction, internal_header_of_another_folder_is_found) {
    const Files files{
        {"src/acts/watch/watch.cpp", "#include \"acts/lay/lay_rules_internal.hpp\"\n"},
        {"src/acts/lay/lay.cpp", "#include \"acts/lay/lay_rules_internal.hpp\"\n"},
        {"src/acts/lay/lay_rules_internal.hpp", "#pragma once\n"}};
    const Findings findings = include_direction(files);
    ASSERT_EQ(findings.size(), 1U) << joined(findings);
    EXPECT_EQ(findings[0].path, "src/acts/watch/watch.cpp");
}

TEST(folder_direction, include_of_a_later_folder_is_found) {
    const Findings findings = folder_direction(
        {{"src/exchange/text/number.cpp",
          "#include \"base/result.hpp\"\n#include \"exchange/landxml/landxml.hpp\"\n"},
         {"src/exchange/landxml/landxml.hpp", "#include \"exchange/text/text.hpp\"\n"}});
    ASSERT_EQ(findings.size(), 1U) << joined(findings);
    EXPECT_EQ(findings[0].path, "src/exchange/text/number.cpp");
    EXPECT_EQ(findings[0].line, 2);
}

TEST(folder_direction, folders_of_one_step_do_not_include_each_other) {
    EXPECT_EQ(folder_direction({{"src/exchange/geojson/geojson.cpp",
                                 "#include \"exchange/landxml/landxml.hpp\"\n"}})
                  .size(),
              1U);
    EXPECT_EQ(
        folder_direction({{"src/acts/vet/vet.cpp", "#include \"acts/station/station.hpp\"\n"}})
            .size(),
        1U);
}

TEST(folder_direction, file_outside_the_known_folders_is_found) {
    EXPECT_EQ(folder_direction({{"src/acts/attic/a.cpp", "int f();\n"}}).size(), 1U);
    EXPECT_EQ(folder_direction({{"src/acts/a.cpp", "int f();\n"}}).size(), 1U);
    EXPECT_EQ(folder_direction({{"src/frame/attic/a.cpp", "int f();\n"}}).size(), 1U);
}

TEST(folder_direction, earlier_folders_and_other_rooms_are_left_alone) {
    EXPECT_EQ(joined(folder_direction({{"src/acts/record/record.cpp",
                                        "#include \"acts/record/record.hpp\"\n"
                                        "#include \"acts/shared/words.hpp\"\n"
                                        "#include \"exchange/import/import.hpp\"\n"
                                        "#include <vector>\n"},
                                       {"src/frame/a.cpp", "#include \"base/b.hpp\"\n"}})),
              "");
}

TEST(folder_cycles, circle_between_folders_without_one_between_files_is_found) {
    const Files files{{"src/acts/lay/a.hpp", "#include \"acts/watch/b.hpp\"\n"},
                      {"src/acts/watch/b.hpp", "#pragma once\n"},
                      {"src/acts/watch/c.hpp", "#include \"acts/shared/d.hpp\"\n"},
                      {"src/acts/shared/d.hpp", "#include \"acts/lay/e.hpp\"\n"},
                      {"src/acts/lay/e.hpp", "#include \"base/f.hpp\"\n"},
                      {"src/base/f.hpp", "#pragma once\n"}};
    EXPECT_EQ(joined(include_cycles(files)), "");
    const Findings findings = folder_cycles(files);
    ASSERT_EQ(findings.size(), 3U) << joined(findings);
    EXPECT_EQ(findings[0].path, "src/acts/lay/a.hpp");
}

TEST(folder_cycles, one_way_is_no_circle) {
    EXPECT_EQ(joined(folder_cycles({{"src/acts/lay/a.hpp",
                                     "#include \"acts/lay/b.hpp\"\n"
                                     "#include \"acts/watch/c.hpp\"\n"},
                                    {"src/acts/lay/b.hpp", "#include \"acts/watch/c.hpp\"\n"},
                                    {"src/acts/watch/c.hpp", "#pragma once\n"}})),
              "");
}

TEST(component_cycles, circle_through_the_sources_is_found) {
    const Files files{
        {"src/exchange/tables/readers.hpp", "#pragma once\n"},
        {"src/exchange/tables/readers.cpp",
         "#include \"exchange/tables/readers.hpp\"\n#include \"exchange/tables/rows.hpp\"\n"},
        {"src/exchange/tables/rows.hpp", "#include \"exchange/tables/readers.hpp\"\n"}};
    EXPECT_EQ(joined(include_cycles(files)), "");
    const Findings findings = component_cycles(files);
    ASSERT_EQ(findings.size(), 2U) << joined(findings);
    EXPECT_EQ(findings[0].path, "src/exchange/tables/readers.cpp");
    EXPECT_EQ(findings[0].line, 2);
}

TEST(component_cycles, files_that_carry_the_name_of_a_header_belong_to_it) {
    const Files files{
        {"src/acts/lay/lay.hpp", "#pragma once\n"},
        {"src/acts/lay/lay.cpp", "#include \"acts/lay/lay_rules_internal.hpp\"\n"},
        {"src/acts/lay/lay_rules_internal.hpp", "#include \"acts/lay/lay.hpp\"\n"},
        {"src/acts/lay/lay_rules.cpp", "#include \"acts/lay/lay_rules_internal.hpp\"\n"}};
    EXPECT_EQ(joined(component_cycles(files)), "");
    // Not by the letters alone: layer is no part of lay.
    const Files other{{"src/acts/lay/lay.hpp", "#pragma once\n"},
                      {"src/acts/lay/lay.cpp", "#include \"acts/lay/layer.hpp\"\n"},
                      {"src/acts/lay/layer.hpp", "#include \"acts/lay/lay.hpp\"\n"}};
    EXPECT_EQ(component_cycles(other).size(), 2U);
}

TEST(internal_in_tests, header_of_a_folder_that_is_not_tested_is_found) {
    const std::string text = "#include \"acts/vet/vet_fits_internal.hpp\"\n";
    EXPECT_EQ(internal_in_tests({{"tests/acts/prove/a_test.cpp", text}}).size(), 1U);
    EXPECT_EQ(internal_in_tests({{"tests/door/a_test.cpp", text}}).size(), 1U);
    EXPECT_EQ(joined(internal_in_tests(
                  {{"tests/acts/vet/a_test.cpp", text}, {"tests/acts/a_test.cpp", text}})),
              "");
}

TEST(link_direction, room_that_links_right_is_found) {
    const Files files{{"src/CMakeLists.txt",
                       "layproof_room(base LIBRARIES fmt::fmt)\n"
                       "layproof_room(frame DEPENDS measure station LIBRARIES Eigen3::Eigen)\n"
                       "layproof_room(drawing DEPENDS exchange)\n"
                       "layproof_room(cause DEPENDS station)\n"
                       "layproof_room(late IN_PARTS DEPENDS base acts LATE sparse)\n"
                       "layproof_room(paper IN_PARTS DEPENDS drawing late LATE pdf)\n"}};
    const Findings findings = link_direction(files);
    ASSERT_EQ(findings.size(), 3U) << joined(findings);
    EXPECT_EQ(findings[0].line, 2);
    EXPECT_EQ(findings[1].line, 3);
    EXPECT_EQ(findings[2].line, 5);
}

class core_text : public ::testing::TestWithParam<const char*> {};

TEST_P(core_text, is_found_in_the_core_and_allowed_outside) {
    const std::string text = std::string("#pragma once\n") + GetParam() + "\n";
    const Findings findings = core_purity({{"src/watch/a.cpp", text}});
    EXPECT_EQ(findings.size(), 1U) << text << joined(findings);
    for (const Finding& finding : findings) EXPECT_EQ(finding.line, 2);
    EXPECT_EQ(core_purity({{"src/base/a.cpp", text}}).size(), 1U);
    EXPECT_EQ(core_purity({{"src/prove/a.cpp", text}}).size(), 1U);
    EXPECT_EQ(joined(core_purity({{"src/job/a.cpp", text}})), "");
    EXPECT_EQ(joined(core_purity({{"src/exchange/a.cpp", text}})), "");
}

INSTANTIATE_TEST_SUITE_P(
    forbidden, core_text,
    ::testing::Values(
        "#include <iostream>", "#include <fstream>", "#include <filesystem>", "#include <cstdio>",
        "#include <stdio.h>", "#include <sqlite3.h>", "#include <nlohmann/json.hpp>",
        "#include <toml++/toml.h>", "#include <sys/socket.h>", "#include <httplib.h>",
        "#include <ctime>", "auto f() { return std::chrono::steady_clock::now(); }",
        "double f() { return std::chrono::system_clock :: now(); }",
        "long f() { return time(nullptr); }", "long f() { return std::time(nullptr); }",
        "auto f() { return std::getenv(\"HOME\"); }",
        "auto f() { std::random_device d; return 1; }", "int f() { std::mt19937 g; return 1; }",
        "int f() { return rand(); }", "void f() { std::printf(\"x\"); }",
        "void f() { fmt::print(\"x\"); }", "void f() { std::cerr << 1; }", "int counter = 0;",
        "int counter;", "static int counter = 0;", "namespace a { std::vector<int> cache; }",
        "namespace { double last_m{0.0}; }", "inline int calls = 0;", "extern int shared_count;",
        "int f() { static int calls = 0; return ++calls; }",
        "int f() { static std::string name(8, 'x'); return 1; }",
        "int f() { thread_local int calls = 0; return ++calls; }",
        "struct A { static int count; };", "struct A { inline static int count = 0; };",
        "int f() { return g([&] { static int calls = 0; return ++calls; }); }"));

TEST(core_purity, innocent_code_is_left_alone) {
    const char* text = R"source(
#include <vector>
// std::cout and time() in a comment; static int x;
namespace layproof {
namespace {
constexpr int kLimit = 3;
const std::array<double, 2> kSizes{1.0, 2.0};
static constexpr double kHalf{0.5};
struct Row { double time_s = 0.0; int count{0}; std::vector<int> rows; };
enum class Kind : int { one = 1, two };
enum Old { a, b };
struct Later;
using Rows = std::vector<Row>;
double time_of(const Row& row);
double sum_of(const Row& row = {}, int low = 1, const Rows& rows = {}, int high = 2);
static double helper(double x) { return x; }
template <class T>
T twice(T x) { T y = x; return y + y; }
}  // namespace
class Random {
public:
    explicit Random(int seed) : state_{seed} { ++state_; }
    static int rotate(int x) { return x; }
    static Random from(int seed);
    int run_time() const { return state_; }
private:
    mutable int state_ = 0;
};
Random Random::from(int seed) { Random r(seed); int i = 0; for (; i < 3; ++i) { r.run_time(); } return r; }
double f(const Row& row) {
    static const std::vector<int> table{1, 2, 3};
    const char* said = "std::cout << time(nullptr); static int x;";
    auto g = [&](double x) { double y = x; return y; };
    return row.time_s + g(1'000.0) + r.time(3) + said[0];
}
}  // namespace layproof
)source";
    EXPECT_EQ(joined(core_purity({{"src/station/a.cpp", text}})), "");
}

TEST(survey_words, words_are_found_in_code_comments_and_names) {
    const Files files{{"src/adjust/a.hpp",
                       "// the mark\nint rod_index;\nstruct SightRow {};\n/* Stations */\n"
                       "double zenith;\n"},
                      {"src/station/a.hpp", "// the mark\n"}};
    const Findings findings = survey_words(files);
    ASSERT_EQ(findings.size(), 5U) << joined(findings);
    for (int i = 0; i < 5; ++i) EXPECT_EQ(findings[static_cast<std::size_t>(i)].line, i + 1);
    EXPECT_EQ(survey_words({{"src/infer/a.hpp", "// a rod\n"}}).size(), 1U);
}

TEST(survey_words, longer_words_are_left_alone) {
    EXPECT_EQ(joined(survey_words({{"src/adjust/a.hpp",
                                    "// stationary, remarkable, benchmark, insight, product\n"}})),
              "");
}

TEST(foreign_documents, mention_is_found_and_similar_text_is_left_alone) {
    const std::string plan = std::string("see design") + ".md for this\n";
    const std::string folder = std::string("\n(shared") + "/style.txt)\n";
    const Findings findings = foreign_documents({{"README.md", plan}, {"src/a.hpp", folder}});
    ASSERT_EQ(findings.size(), 2U) << joined(findings);
    EXPECT_EQ(findings[0].line, 1);
    EXPECT_EQ(findings[1].line, 2);
    EXPECT_EQ(joined(foreign_documents({{"HACKING.md", "docs/design/ holds notes; shared_ptr\n"},
                                        {"tests/reference/PROVENANCE.md", plan}})),
              "");
}

TEST(all_findings, every_rule_takes_part) {
    const Files files{{"src/base/a.hpp", "#include \"base/a.hpp\"\n#include \"cli/x.hpp\"\n"},
                      {"src/frame/a.cpp", "#include <cstdio>\n"},
                      {"src/adjust/a.cpp", "// rods\n"},
                      {"src/CMakeLists.txt", "layproof_room(base DEPENDS acts)\n"},
                      {"README.md", std::string("design") + ".md\n"}};
    EXPECT_EQ(all_findings(files).size(), 6U) << joined(all_findings(files));
}

TEST(code_only, literals_and_comments_go_and_lines_stay) {
    EXPECT_EQ(code_only("a /* b\nc */ d // e\nf"), "a     \n     d     \nf");
    EXPECT_EQ(code_only("x(\"a;\\\"b\", 'c', 1'000)"), "x(\"     \", ' ', 1'000)");
    EXPECT_EQ(code_only("#define A \\\n 1\nb"), "           \n  \nb");
    EXPECT_EQ(code_only("R\"(a\"b)\" c"), "         c");
}

}  // namespace
}  // namespace layproof::architecture
