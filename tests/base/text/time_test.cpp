#include "base/text/time.hpp"

#include <gtest/gtest.h>

namespace layproof {
namespace {

TEST(time_text, offset_is_read_from_the_text) {
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00-05:00"), -18000.0);
    EXPECT_EQ(clock_offset_s("2026-03-04 07:45+0530"), 19800.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00+01"), 3600.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00Z"), 0.0);
    EXPECT_EQ(clock_offset_s(" 2026-03-04T07:45:00-05:00\n"), -18000.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00"), 0.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00+14:00"), 50400.0);
    EXPECT_EQ(clock_offset_s("2026-03-04T07:45:00+14:01"), 0.0);  // no clock is that far ahead
    EXPECT_EQ(clock_offset_s(""), 0.0);
    EXPECT_EQ(clock_offset_s("  "), 0.0);
}

TEST(time_text, shows_the_sites_own_time) {
    // 2000-01-01T00:00:00Z is 946684800 s after 1970 (thirty years, seven leap days).
    constexpr double kUtc_s = 946684800.0;
    EXPECT_EQ(full_time(kUtc_s, 0.0), "2000-01-01T00:00:00+00:00");
    EXPECT_EQ(full_time(kUtc_s, -18000.0), "1999-12-31T19:00:00-05:00");
    EXPECT_EQ(clock_text(kUtc_s + 36120.0, 0.0), "10:02");
    EXPECT_EQ(clock_text(kUtc_s + 36127.0, 19800.0), "15:32:07");
    EXPECT_EQ(calendar_day(kUtc_s, -1.0), "1999-12-31");
    EXPECT_EQ(offset_words(19800.0), "UTC+05:30");
}

TEST(time_text, holds_before_1970) {
    EXPECT_EQ(full_time(-1.0, 0.0), "1969-12-31T23:59:59+00:00");
}

TEST(time_text, moments_of_utc) {
    // 2000-01-01T00:00:00Z as above.
    constexpr std::int64_t kUtc_ms = 946684800250;
    EXPECT_EQ(utc_text(kUtc_ms), "2000-01-01 00:00:00Z");
    EXPECT_EQ(instant_text(kUtc_ms), "2000-01-01T00:00:00.250Z");
    EXPECT_EQ(instant_to_second(kUtc_ms), "2000-01-01T00:00:00Z");
    EXPECT_EQ(read_time(instant_text(kUtc_ms))->utc_s, 946684800.25);
}

TEST(time_text, moments_no_job_has) {
    EXPECT_EQ(utc_text(-1), "-1 ms");
    EXPECT_EQ(utc_text(253402300799999), "9999-12-31 23:59:59Z");
    EXPECT_EQ(utc_text(253402300800000), "253402300800000 ms");
    EXPECT_EQ(instant_text(-1), "1970-01-01T00:00:00.000Z");
    EXPECT_EQ(instant_text(INT64_MAX), "9999-12-31T23:59:59.999Z");
    EXPECT_EQ(instant_to_second(-1), "1969-12-31T23:59:59Z");
    EXPECT_EQ(instant_to_second(-62135596800000), "0001-01-01T00:00:00Z");
    EXPECT_EQ(instant_to_second(-62135596800001), "1970-01-01T00:00:00Z");
    EXPECT_EQ(instant_to_second(INT64_MIN), "1970-01-01T00:00:00Z");
}

}  // namespace
}  // namespace layproof
