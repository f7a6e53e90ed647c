#include "exchange/text/number.hpp"

#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"

namespace layproof::exchange {
namespace {

const Place kPlace{"f", 3, 7};

TEST(Number, plain_decimals_are_read_exactly) {
    EXPECT_EQ(*parse_number("12.5", kPlace), 12.5);
    EXPECT_EQ(*parse_number(" -3 ", kPlace), -3.0);
    EXPECT_EQ(*parse_number("+0.1", kPlace), 0.1);
    EXPECT_EQ(*parse_number("1e-3", kPlace), 1e-3);
}

TEST(Number, what_is_no_number_is_refused_by_its_kind) {
    using testing::expect_refused;
    expect_refused(parse_number("", kPlace), ErrorCode::value_missing, 3, 7);
    for (const char* text : {"abc", "1.2.3", "12a", "1,5", "0x10", "--1", "+-1", "+", "1 2"}) {
        expect_refused(parse_number(text, kPlace), ErrorCode::not_a_number, 3, 7);
    }
    for (const char* text : {"nan", "NaN", "inf", "-Infinity"}) {
        expect_refused(parse_number(text, kPlace), ErrorCode::not_finite, 3, 7);
    }
    expect_refused(parse_number("1e999", kPlace), ErrorCode::out_of_range, 3, 7);
}

}  // namespace
}  // namespace layproof::exchange
