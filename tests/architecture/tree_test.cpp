// The rules of the house, held against the tree as it stands.

#include <gtest/gtest.h>

#include <array>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <string_view>

#include "architecture/rules.hpp"

namespace layproof::architecture {
namespace {

namespace fs = std::filesystem;

// Made by tools, or published data with its own words.
constexpr std::array<std::string_view, 7> kLeftOut{
    ".git", ".cache", "build", "out", "node_modules", "tests/reference", "tests/data"};
constexpr std::uintmax_t kLargestText = 2'000'000;

bool is_left_out(const std::string& path) {
    for (const std::string_view name : kLeftOut) {
        if (path == name || (name == "node_modules" && path.ends_with("/node_modules")))
            return true;
    }
    return false;
}

Files read_tree(const fs::path& root) {
    Files files;
    for (fs::recursive_directory_iterator it(root), end; it != end; ++it) {
        const std::string path = it->path().lexically_relative(root).generic_string();
        if (it->is_directory() && is_left_out(path)) {
            it.disable_recursion_pending();
            continue;
        }
        if (is_left_out(path)) continue;  // .git is a file in a second working tree
        if (!it->is_regular_file() || it->file_size() > kLargestText) continue;
        std::ifstream file(it->path(), std::ios::binary);
        std::ostringstream text;
        text << file.rdbuf();
        files[path] = text.str();
    }
    return files;
}

class tree : public ::testing::Test {
protected:
    static void SetUpTestSuite() { files_ = read_tree(LAYPROOF_SOURCE_DIR); }
    static void TearDownTestSuite() { files_.clear(); }

    static void expect_none(const Findings& findings) {
        for (const Finding& finding : findings) ADD_FAILURE() << finding.to_text();
    }

    static Files files_;
};

Files tree::files_;

TEST_F(tree, is_read_whole) {
    EXPECT_TRUE(files_.count("src/base/result.hpp"));
    EXPECT_TRUE(files_.count("src/adjust/solve.hpp"));
    EXPECT_TRUE(files_.count("README.md"));
    EXPECT_TRUE(files_.count("tests/architecture/rules.cpp"));
}

TEST_F(tree, includes_point_left) {
    expect_none(include_direction(files_));
}

TEST_F(tree, includes_close_no_circle) {
    expect_none(include_cycles(files_));
}

TEST_F(tree, folders_of_a_room_include_each_other_one_way) {
    expect_none(folder_direction(files_));
    expect_none(folder_cycles(files_));
}

TEST_F(tree, components_of_acts_and_exchange_close_no_circle) {
    expect_none(component_cycles(files_));
}

TEST_F(tree, tests_look_inside_their_own_folder_only) {
    expect_none(internal_in_tests(files_));
}

TEST_F(tree, link_lines_point_left) {
    expect_none(link_direction(files_));
}

TEST_F(tree, core_does_no_input_or_output_and_keeps_nothing) {
    expect_none(core_purity(files_));
}

TEST_F(tree, adjust_holds_no_survey_word) {
    expect_none(survey_words(files_));
}

TEST_F(tree, mentions_only_documents_it_holds) {
    expect_none(foreign_documents(files_));
}

}  // namespace
}  // namespace layproof::architecture
