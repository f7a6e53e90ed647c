#include "base/error_code.hpp"

#include <gtest/gtest.h>

#include <cctype>
#include <cstdlib>
#include <fstream>
#include <set>
#include <sstream>
#include <string>

namespace layproof {
namespace {

TEST(error_table, codes_ascend_and_are_unique) {
    int last = 0;
    for (const ErrorEntry& entry : error_table()) {
        EXPECT_GT(static_cast<int>(entry.code), last) << entry.word;
        last = static_cast<int>(entry.code);
    }
}

TEST(error_table, words_are_unique_kebab_case) {
    std::set<std::string_view> words;
    for (const ErrorEntry& entry : error_table()) {
        EXPECT_TRUE(words.insert(entry.word).second) << entry.word << " stands twice";
        ASSERT_FALSE(entry.word.empty());
        EXPECT_NE(entry.word.front(), '-');
        EXPECT_NE(entry.word.back(), '-');
        for (const char c : entry.word) {
            const bool is_allowed = std::islower(static_cast<unsigned char>(c)) != 0 ||
                                    std::isdigit(static_cast<unsigned char>(c)) != 0 || c == '-';
            EXPECT_TRUE(is_allowed) << entry.word;
        }
    }
}

TEST(error_table, meanings_are_one_sentence_each) {
    for (const ErrorEntry& entry : error_table()) {
        ASSERT_FALSE(entry.meaning.empty()) << entry.word;
        EXPECT_EQ(entry.meaning.back(), '.') << entry.word;
        EXPECT_TRUE(std::isupper(static_cast<unsigned char>(entry.meaning.front())) != 0)
            << entry.word;
        EXPECT_EQ(entry.meaning.find('|'), std::string_view::npos)
            << "breaks the table of the page";
    }
}

// The enumerators are read from the header, so that a code without a table row is found.
TEST(error_table, every_code_of_the_header_has_a_row) {
    std::ifstream header(LAYPROOF_SOURCE_DIR "/src/base/error_code.hpp");
    ASSERT_TRUE(header.is_open());
    std::set<std::string> in_header;
    std::string line;
    bool inside = false;
    while (std::getline(header, line)) {
        if (line.find("enum class ErrorCode") != std::string::npos) inside = true;
        if (inside && line.find("};") != std::string::npos) break;
        const auto equals = line.find(" = ");
        if (inside && equals != std::string::npos) in_header.insert(line.substr(4, equals - 4));
    }
    ASSERT_GT(in_header.size(), 30U);

    std::set<std::string> in_table;
    for (const ErrorEntry& entry : error_table()) {
        std::string name(entry.word);
        for (char& c : name) c = c == '-' ? '_' : c;
        in_table.insert(name);
    }
    EXPECT_EQ(in_header, in_table);
}

TEST(error_word, known_code_gives_its_word_and_unknown_gives_unknown) {
    for (const ErrorEntry& entry : error_table()) EXPECT_EQ(to_word(entry.code), entry.word);
    EXPECT_EQ(to_word(static_cast<ErrorCode>(9999)), "unknown");
}

std::string errors_page() {
    std::ostringstream page;
    page
        << "# Why layproof refuses an input\n\n"
           "Made from the table in `src/base/error_code.cpp`; the test "
           "`error_page.matches_the_table` writes it:\n"
           "`LAYPROOF_UPDATE=1 build/dev/tests/base_tests --gtest_filter='error_page.*'`\n\n"
           "A refusal names the file, line and column, what was found, what was expected, and "
           "one of these codes. A misfit, a weak geometry or an ambiguous set-up is never refused: "
           "it is an answer.\n";
    int room = 0;
    for (const ErrorEntry& entry : error_table()) {
        const int code = static_cast<int>(entry.code);
        if (code / 100 != room) {
            room = code / 100;
            page << "\n## E" << room << "xx\n\n| code | word | meaning |\n| --- | --- | --- |\n";
        }
        page << "| E" << code << " | `" << entry.word << "` | " << entry.meaning << " |\n";
    }
    return page.str();
}

TEST(error_page, matches_the_table) {
    const std::string path = LAYPROOF_SOURCE_DIR "/docs/errors.md";
    const std::string expected = errors_page();
    if (std::getenv("LAYPROOF_UPDATE") != nullptr) {
        std::ofstream(path, std::ios::binary) << expected;
    }
    std::ifstream file(path, std::ios::binary);
    std::ostringstream actual;
    actual << file.rdbuf();
    EXPECT_EQ(actual.str(), expected)
        << "docs/errors.md is out of date: run this test with LAYPROOF_UPDATE=1";
}

}  // namespace
}  // namespace layproof
