// Every case under tests/cases, run as a user would run it. The form of a case: cli/case.hpp.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>
#include <string>

#include "base/error_code.hpp"
#include "cli/case.hpp"
#include "cli/program.hpp"

namespace layproof::testing {
namespace {

class cases : public ::testing::TestWithParam<std::string> {};

void expect_in_order(const std::string& text, const std::vector<std::string>& pieces,
                     const char* where) {
    std::size_t from = 0;
    for (const std::string& piece : pieces) {
        const std::size_t at = text.find(piece, from);
        EXPECT_NE(at, std::string::npos) << "not on " << where << ": " << piece << "\n" << text;
        if (at != std::string::npos) from = at + piece.size();
    }
}

// "marks.csv:3:7: found "abc", expected a number [E110 not-a-number]"
void expect_refusals(const std::string& err) {
    static const std::regex form(R"(^\S.*: found .+, expected .+ \[E(\d{3}) ([a-z0-9-]+)\]$)");
    int count = 0;
    std::istringstream lines(err);
    for (std::string line; std::getline(lines, line);) {
        std::smatch match;
        if (!std::regex_match(line, match, form)) continue;
        ++count;
        const auto code = static_cast<ErrorCode>(std::stoi(match[1]));
        EXPECT_EQ(to_word(code), match[2].str()) << line;
    }
    EXPECT_GE(count, 1) << "no line is a refusal in its form:\n" << err;
}

TEST_P(cases, run_gives_what_the_case_says) {
    const Case c = read_case(GetParam());
    SCOPED_TRACE(c.what);
    const bool needs_permissions = !c.unreadable.empty() || !c.unwritable.empty();
    if (needs_permissions && !can_obey_permissions()) {
        GTEST_SKIP() << "root without CAP_SETPCAP reads and writes every file here";
    }
    const WorkFolder work(c.act + "-" + c.name);
    lay_out(c, work.path());
    const auto before = snapshot(work.path());

    const Ran ran = run_layproof(c.args, {work.path(), needs_permissions, ""});

    EXPECT_EQ(ran.exit_status, c.exit_status) << ran.err << ran.out;
    expect_in_order(ran.out, c.out, "standard output");
    expect_in_order(ran.err, c.err, "standard error");
    EXPECT_THAT(ran.out,
                ::testing::Not(::testing::ContainsRegex("(^|[^A-Za-z])(nan|inf)([^A-Za-z]|$)")));
    if (c.is_json) {
        EXPECT_TRUE(nlohmann::json::accept(ran.out)) << "not one JSON document:\n" << ran.out;
    }
    if (c.exit_status >= 2) {
        EXPECT_EQ(ran.out, "");
        EXPECT_NE(ran.err, "");
        EXPECT_EQ(snapshot(work.path()), before) << "a file was written or changed";
    }
    if (c.exit_status == 3) expect_refusals(ran.err);
    const auto after = snapshot(work.path());
    for (const std::string& file : c.writes) {
        EXPECT_TRUE(after.count(file) > 0 && !after.at(file).empty()) << file << " is not there";
    }
    for (const auto& [file, text] : after) {
        EXPECT_THAT(file, ::testing::Not(::testing::HasSubstr(".tmp"))) << "left behind";
    }
}

std::string test_name(const ::testing::TestParamInfo<std::string>& info) {
    std::string name = info.param;
    std::replace_if(
        name.begin(), name.end(), [](char ch) { return ch == '-' || ch == '/'; }, '_');
    return name;
}

INSTANTIATE_TEST_SUITE_P(all, cases, ::testing::ValuesIn(case_names()), test_name);

TEST(case_list, is_found) {
    EXPECT_GT(case_names().size(), 30U);
}

}  // namespace
}  // namespace layproof::testing
