#include "drawing/plan_scale_internal.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace layproof::drawing {
namespace {

using measure::LengthStyle;
using measure::LengthUnit;

const LengthStyle kMetre{LengthUnit::metre, false, 16};
const LengthStyle kFoot{LengthUnit::foot, false, 16};
const LengthStyle kUsFoot{LengthUnit::us_foot, false, 16};
const LengthStyle kInches{LengthUnit::foot, true, 16};

TEST(PlanScale, site_lengths_are_round_in_the_unit) {
    EXPECT_EQ(round_site_length(60.0, kMetre).text, "50 m");
    EXPECT_EQ(round_site_length(0.3, kMetre).text, "0.2 m");
    EXPECT_EQ(round_site_length(0.049, kMetre).text, "0.02 m");
    EXPECT_EQ(round_site_length(31.0, kFoot).text, "100 ft");
    EXPECT_EQ(round_site_length(31.0, kUsFoot).text, "100 us-ft");
    EXPECT_DOUBLE_EQ(round_site_length(31.0, kUsFoot).length_m, 100.0 * 1200.0 / 3937.0);
    EXPECT_EQ(round_site_length(1.0, kMetre).text, "1 m");
}

TEST(PlanScale, small_lengths_are_round_in_the_unit) {
    EXPECT_EQ(round_small_length(0.006, kMetre).text, "5 mm");
    EXPECT_EQ(round_small_length(0.00003, kMetre).text, "0.02 mm");
    EXPECT_EQ(round_small_length(0.0065, kInches).text, "1/4 in");
    EXPECT_DOUBLE_EQ(round_small_length(0.0065, kInches).length_m, 0.00635);
    EXPECT_EQ(round_small_length(0.7, kInches).text, "2 ft");
    EXPECT_EQ(round_small_length(0.004, kFoot).text, "0.01 ft");
    EXPECT_EQ(round_small_length(100.0, kInches).text, "200 ft");
    EXPECT_EQ(round_small_length(1e-5, kInches).text, "0.00002 ft");
    EXPECT_EQ(round_small_length(3.0, kMetre).text, "2 m");
}

TEST(PlanScale, round_length_is_below_and_near_what_was_asked) {
    for (const auto& style : {kMetre, kFoot, kUsFoot, kInches}) {
        for (double most = 1e-5; most < 1e6; most *= 1.37) {
            for (const auto& r :
                 {round_site_length(most, style), round_small_length(most, style)}) {
                EXPECT_LE(r.length_m, most * (1.0 + 1e-9)) << r.text;
                EXPECT_GT(r.length_m, most * 0.39) << r.text;
            }
        }
    }
}

TEST(PlanScale, coordinates_are_grouped_and_carry_the_unit) {
    EXPECT_EQ(coordinate_text(5000.0, 50.0, kFoot), "5000\u00A0ft");
    EXPECT_EQ(coordinate_text(2000050.0, 50.0, kUsFoot), "2\u00A0000\u00A0050\u00A0us-ft");
    EXPECT_EQ(coordinate_text(-12345.5, 0.5, kMetre), "−12\u00A0345.5\u00A0m");
    EXPECT_EQ(coordinate_text(-0.0, 1.0, kMetre), "0\u00A0m");
    EXPECT_EQ(coordinate_text(-0.001, 0.1, kMetre), "0.0\u00A0m");
}

}  // namespace
}  // namespace layproof::drawing
