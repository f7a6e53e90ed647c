#include "base/text/percent.hpp"

#include <gtest/gtest.h>

namespace layproof {
namespace {

TEST(percent, never_reads_as_more_than_was_reached) {
    EXPECT_EQ(percent(0.95), "95 %");
    EXPECT_EQ(percent(0.9499999), "94.9 %");
    EXPECT_EQ(percent(0.971), "97.1 %");
    EXPECT_EQ(percent(0.99999), "more than 99.9 %");
    EXPECT_EQ(percent(1.0), "more than 99.9 %");
    EXPECT_EQ(percent(0.0), "less than 0.1 %");
    EXPECT_EQ(percent(0.5), "50 %");
    EXPECT_EQ(percent(-0.1), "less than 0.1 %");
}

TEST(percent, short_form_keeps_its_tenth) {
    EXPECT_EQ(short_percent(0.95), "95.0 %");
    EXPECT_EQ(short_percent(0.9499999), "94.9 %");
    EXPECT_EQ(short_percent(0.29), "29.0 %");  // 0.29 · 1000 is a hair below 290
    EXPECT_EQ(short_percent(0.99999), "99.9 %");
    EXPECT_EQ(short_percent(1.0), "over 99.9 %");
    EXPECT_EQ(short_percent(0.001), "0.1 %");
    EXPECT_EQ(short_percent(0.0009), "under 0.1 %");
}

}  // namespace
}  // namespace layproof
