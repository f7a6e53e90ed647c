#include "base/result.hpp"

#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <type_traits>

namespace layproof {
namespace {

Result<int> half(int x) {
    if (x % 2 != 0) {
        return Refusal{ErrorCode::not_a_number, {"marks.csv", 3, 7}, "\"abc\"", "an even number"};
    }
    return x / 2;
}

TEST(result, value_is_held_and_is_ok) {
    const Result<int> result = half(8);
    ASSERT_TRUE(result.ok());
    EXPECT_TRUE(static_cast<bool>(result));
    EXPECT_EQ(result.value(), 4);
    EXPECT_EQ(*result, 4);
}

TEST(result, refusal_is_held_and_is_not_ok) {
    const Result<int> result = half(7);
    ASSERT_FALSE(result.ok());
    EXPECT_FALSE(static_cast<bool>(result));
    EXPECT_EQ(result.refusal().code, ErrorCode::not_a_number);
    EXPECT_EQ(result.refusal().place, (Place{"marks.csv", 3, 7}));
}

TEST(result, value_can_be_changed_in_place) {
    Result<std::string> result{std::string("mar")};
    result.value() += "k";
    EXPECT_EQ(result->size(), 4U);
    EXPECT_EQ(*result, "mark");
}

TEST(result, move_only_value_can_be_moved_out) {
    Result<std::unique_ptr<int>> result{std::make_unique<int>(5)};
    const std::unique_ptr<int> moved = std::move(result).value();
    ASSERT_NE(moved, nullptr);
    EXPECT_EQ(*moved, 5);
}

TEST(result, refusal_passes_from_one_result_to_another) {
    Result<int> inner = half(7);
    const Result<std::string> outer{std::move(inner).refusal()};
    ASSERT_FALSE(outer.ok());
    EXPECT_EQ(outer.refusal().found, "\"abc\"");
}

// A Result holding a Refusal-like text must not be mistaken for a refusal.
TEST(result, text_value_is_not_a_refusal) {
    const Result<std::string> result{std::string("refused")};
    EXPECT_TRUE(result.ok());
}

static_assert(!std::is_convertible_v<Result<int>, bool>, "only an explicit question is allowed");
static_assert(!std::is_default_constructible_v<Result<int>>, "a Result always holds something");

TEST(refusal, text_with_line_and_column_names_all_parts) {
    const Refusal refusal{
        ErrorCode::not_a_number, {"marks.csv", 3, 7}, "\"abc\"", "a number such as 12.345"};
    EXPECT_EQ(refusal.to_text(),
              "marks.csv:3:7: found \"abc\", expected a number such as 12.345 "
              "[E110 not-a-number]");
}

TEST(refusal, text_without_line_names_the_file_only) {
    const Refusal refusal{ErrorCode::empty_file, {"marks.csv", 0, 0}, "nothing", "a header"};
    EXPECT_EQ(refusal.to_text(), "marks.csv: found nothing, expected a header [E103 empty-file]");
}

TEST(refusal, text_without_place_starts_with_found) {
    const Refusal refusal{ErrorCode::no_sights, {}, "no sight", "at least one"};
    EXPECT_EQ(refusal.to_text(), "found no sight, expected at least one [E205 no-sights]");
}

}  // namespace
}  // namespace layproof
