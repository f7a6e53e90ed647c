#include "paper/pdf/pdf_syntax_internal.hpp"

#include <gtest/gtest.h>

#include <string>
#include <string_view>
#include <vector>

namespace layproof::paper {
namespace {

TEST(pdf_syntax, objects_are_told_apart) {
    PdfReading reading(" 12 0 R 12 0 -3.5 (a(b)\\)) <</A[1 2 0 R]>>/N#41me<0a>true");
    for (const char* object :
         {"12 0 R", "12", "0", "-3.5", "(a(b)\\))", "<</A[1 2 0 R]>>", "/N#41me", "<0a>", "true"})
        EXPECT_EQ(reading.object(), object);
    EXPECT_FALSE(reading.object().has_value());
    EXPECT_EQ(elements_of("[1 2 0 R (])]"), (std::vector<std::string_view>{"1", "2 0 R", "(])"}));
    EXPECT_EQ(elements_of("7 0 R"), (std::vector<std::string_view>{"7 0 R"}));
    EXPECT_EQ(value_of("<</A<</B 1>>/B 2>>", "/B"), "2");
    EXPECT_EQ(with_key("<</A 1>>", "/A", "2"), "<</A 2>>");
    EXPECT_EQ(with_key("<</A 1>>", "/B", "2"), "<</A 1/B 2 >>");
    EXPECT_EQ(reference_of("12 0 R"), 12);
    EXPECT_FALSE(reference_of("12").has_value());
}

TEST(pdf_syntax, what_is_not_whole_is_no_object) {
    for (const char* text : {"", "<<", "<</A", "<</A>>", "<<1 2>>", "[1", "(a", "(a\\)", "<0a",
                             "endobj", "1x", "--1", "]", ">>", "{"})
        EXPECT_FALSE(PdfReading(text).object().has_value()) << text;
    EXPECT_FALSE(PdfReading(std::string(200, '[')).object().has_value());
    EXPECT_FALSE(
        PdfReading(std::string(100'000, '[') + std::string(100'000, ']')).object().has_value());
}

}  // namespace
}  // namespace layproof::paper
