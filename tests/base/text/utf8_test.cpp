#include "base/text/utf8.hpp"

#include <gtest/gtest.h>

#include <cstdint>
#include <string>

namespace layproof {
namespace {

TEST(utf8, valid_text_is_read_and_written_back) {
    const std::string text = "Ünï 東 𐍈 €";
    EXPECT_EQ(to_utf8(code_points(text)), text);
    EXPECT_EQ(code_points("𐍈"), std::vector<char32_t>{0x10348});
    EXPECT_EQ(character_count("Ünï 𐍈"), 5);
    EXPECT_EQ(character_count(""), 0);
}

TEST(utf8, first_and_last_of_each_length) {
    for (const char32_t c :
         {0x0U, 0x7FU, 0x80U, 0x7FFU, 0x800U, 0xD7FFU, 0xE000U, 0xFFFFU, 0x10000U, 0x10FFFFU}) {
        std::string out;
        append_utf8(out, c);
        EXPECT_EQ(out.size(), c < 0x80 ? 1U : c < 0x800 ? 2U : c < 0x10000 ? 3U : 4U);
        EXPECT_EQ(code_points(out), std::vector<char32_t>{c});
    }
}

TEST(utf8, what_is_no_character_becomes_the_replacement) {
    for (const char32_t c : {0xD800U, 0xDFFFU, 0x110000U, 0xFFFFFFFFU}) {
        std::string out;
        append_utf8(out, c);
        EXPECT_EQ(out, "\xEF\xBF\xBD") << static_cast<std::uint32_t>(c);
    }
    const auto count_of = [](std::string_view bytes) {
        const auto points = code_points(bytes);
        for (const char32_t c : points) EXPECT_EQ(c, kReplacementCharacter);
        return points.size();
    };
    EXPECT_EQ(count_of("\xFF"), 1U);
    EXPECT_EQ(count_of("\xC0\x80"), 2U);          // overlong
    EXPECT_EQ(count_of("\xE0\x9F\xBF"), 3U);      // overlong
    EXPECT_EQ(count_of("\xED\xA0\x80"), 1U);      // half of a surrogate pair
    EXPECT_EQ(count_of("\xF4\x90\x80\x80"), 1U);  // beyond 10FFFF
    EXPECT_EQ(count_of("\xE6\x9D"), 2U);          // cut off
}

TEST(utf8, long_names_are_shortened_by_characters_not_bytes) {
    EXPECT_EQ(shorten("abcdef", 6), "abcdef");
    EXPECT_EQ(shorten("abcdefg", 6), "abcde…");
    EXPECT_EQ(shorten("東京大阪", 3), "東京…");
    EXPECT_EQ(shorten("ab", 1), "…");
}

}  // namespace
}  // namespace layproof
