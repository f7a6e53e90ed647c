#include "exchange/text/text.hpp"

#include <gtest/gtest.h>

#include <array>

namespace layproof::exchange {
namespace {

void expect_bad_text(const std::string& bytes, int line, int column) {
    const auto refusal = check_text({"f", bytes});
    ASSERT_TRUE(refusal.has_value());
    EXPECT_EQ(refusal->code, ErrorCode::not_utf8);
    EXPECT_EQ(refusal->place, (Place{"f", line, column})) << refusal->to_text();
}

TEST(Text, check_accepts_every_length_of_utf8_sequence) {
    EXPECT_FALSE(check_text({"f", "a\tß€😀\r\n\xF4\x8F\xBF\xBF\xED\x9F\xBF\xEE\x80\x80"}));
    EXPECT_FALSE(check_text({"f", "\xEF\xBB\xBFx"}));
}

TEST(Text, check_refuses_bytes_that_are_not_utf8_with_their_place) {
    expect_bad_text(
        "abc\nd\xE4"
        "e",
        2, 2);                                       // Latin-1
    expect_bad_text("ß\xC0\x80", 1, 2);              // overlong
    expect_bad_text("a\r\nb\r\xED\xA0\x80", 3, 1);   // surrogate, after CRLF and CR
    expect_bad_text("\xF4\x90\x80\x80", 1, 1);       // above U+10FFFF
    expect_bad_text("x\xE2\x82", 1, 2);              // cut short
    expect_bad_text("x\x80", 1, 2);                  // continuation alone
    expect_bad_text(std::string("ab\0c", 4), 1, 3);  // NUL
    expect_bad_text("ab\x1A", 1, 3);                 // control
    expect_bad_text("\xFF\xFEm", 1, 1);              // UTF-16
}

TEST(Text, check_refuses_text_of_nothing_but_blanks_as_empty) {
    for (const char* bytes : {"", "\xEF\xBB\xBF", " \n\t\r\n"}) {
        const auto refusal = check_text({"f", bytes});
        ASSERT_TRUE(refusal.has_value());
        EXPECT_EQ(refusal->code, ErrorCode::empty_file);
    }
}

TEST(Text, names_are_compared_without_case_and_with_blanks_as_underscores) {
    EXPECT_EQ(normal_name(" Slope  Distance "), "slope_distance");
    EXPECT_EQ(normal_name("SLOPE_DISTANCE"), "slope_distance");
    EXPECT_EQ(normal_name("slope-distance"), "slope_distance");
    EXPECT_NE(normal_name("slopedistance"), "slope_distance");
}

TEST(Text, in_quotes_cuts_at_a_character_not_inside_one) {
    EXPECT_EQ(in_quotes("abc"), "\"abc\"");
    std::string sharps;
    for (int i = 0; i < 50; ++i) sharps += "ß";
    std::string expected = "\"";
    for (int i = 0; i < 40; ++i) expected += "ß";
    EXPECT_EQ(in_quotes(sharps), expected + "…\"");
}

TEST(Text, nearest_finds_a_slip_and_nothing_for_another_word) {
    const std::array<std::string, 3> words{"bubble_arcmin", "centring_mm", "name"};
    EXPECT_EQ(nearest("buble_arcmin", words), "bubble_arcmin");
    EXPECT_EQ(nearest("centering_mm", words), "centring_mm");
    EXPECT_EQ(nearest("weather", words), std::nullopt);
    EXPECT_EQ(nearest("", words), std::nullopt);
}

}  // namespace
}  // namespace layproof::exchange
