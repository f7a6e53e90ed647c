#include <gtest/gtest.h>

#include "acts/shared/watch_clock.hpp"

namespace layproof::acts::internal {
namespace {

TEST(watch_clock, offset_is_read_from_the_text) {
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00-05:00"), -18000.0);
    EXPECT_EQ(clock_offset_s("2026-03-04 07:45+0530"), 19800.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00+01"), 3600.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00Z"), 0.0);
    EXPECT_EQ(clock_offset_s(""), 0.0);
}

TEST(watch_clock, shows_the_sites_own_time) {
    // 2000-01-01T00:00:00Z is 946684800 s after 1970 (thirty years, seven leap days).
    constexpr double kUtc_s = 946684800.0;
    EXPECT_EQ(full_time(kUtc_s, 0.0), "2000-01-01T00:00:00+00:00");
    EXPECT_EQ(full_time(kUtc_s, -18000.0), "1999-12-31T19:00:00-05:00");
    EXPECT_EQ(clock(kUtc_s + 36120.0, 0.0), "10:02");
    EXPECT_EQ(clock(kUtc_s + 36127.0, 19800.0), "15:32:07");
    EXPECT_EQ(calendar_day(kUtc_s, -1.0), "1999-12-31");
    EXPECT_EQ(offset_words(19800.0), "UTC+05:30");
}

TEST(watch_clock, holds_before_1970) {
    EXPECT_EQ(full_time(-1.0, 0.0), "1969-12-31T23:59:59+00:00");
}

}  // namespace
}  // namespace layproof::acts::internal
