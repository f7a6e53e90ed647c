#include "exchange/text/time.hpp"

#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"

namespace layproof::exchange {
namespace {

const Place kPlace{"f", 2, 9};

double seconds(std::string_view text) {
    const auto time = parse_time(text, kPlace);
    if (!time) {
        ADD_FAILURE() << time.refusal().to_text();
        return 0.0;
    }
    return *time;
}

// 2026-03-04T12:45:00Z is 1772628300 by `date -u -d ... +%s`.
TEST(Time, forms_of_one_moment_give_the_same_seconds) {
    constexpr double kMoment_s = 1772628300.0;
    EXPECT_EQ(seconds("2026-03-04T12:45:00Z"), kMoment_s);
    EXPECT_EQ(seconds("2026-03-04T07:45:00-05:00"), kMoment_s);
    EXPECT_EQ(seconds("2026-03-04 07:45-05:00"), kMoment_s);
    EXPECT_EQ(seconds("2026-03-04T07:45:00 -0500"), kMoment_s);
    EXPECT_EQ(seconds("2026-03-04T07:45-05"), kMoment_s);
    EXPECT_EQ(seconds("2026-03-04T18:15:00+05:30"), kMoment_s);
    EXPECT_EQ(seconds(" 2026-03-04t12:45:00z "), kMoment_s);
    EXPECT_NEAR(seconds("2026-03-04T12:45:00.25Z"), kMoment_s + 0.25, 1e-6);
}

TEST(Time, epoch_leap_day_and_years_before_it) {
    EXPECT_EQ(seconds("1970-01-01T00:00Z"), 0.0);
    EXPECT_EQ(seconds("1969-12-31T23:59:59Z"), -1.0);
    EXPECT_EQ(seconds("2024-02-29T00:00Z") + 86400.0, seconds("2024-03-01T00:00Z"));
}

TEST(Time, what_is_not_a_full_time_with_offset_is_refused) {
    for (const char* text :
         {"07:45", "2026-03-04", "2026-03-04T07:45:00", "2026-03-04T07:45", "2026-02-29T00:00Z",
          "2026-13-01T00:00Z", "2026-00-01T00:00Z", "2026-03-04T24:00Z", "2026-03-04T07:60Z",
          "2026-03-04T07:45:60Z", "2026-03-04T07:45:00.Z", "2026-03-04T07:45+15:00",
          "2026-03-04T07:45+05:60", "04.03.2026 07:45", "3/4/2026 7:45 AM", "2026-3-4T07:45Z",
          "2026-03-04T07:45Zulu", "1799-01-01T00:00Z", "yesterday"}) {
        SCOPED_TRACE(text);
        testing::expect_refused(parse_time(text, kPlace), ErrorCode::time_not_read, 2, 9);
    }
    testing::expect_refused(parse_time(" ", kPlace), ErrorCode::value_missing, 2, 9);
}

}  // namespace
}  // namespace layproof::exchange
