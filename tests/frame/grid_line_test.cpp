#include "frame/grid_line.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <numbers>

namespace layproof::frame {
namespace {

using Eigen::Vector2d;

GridLine line(double e1, double n1, double e2, double n2) {
    GridLine out;
    out.start_m << e1, n1;
    out.end_m << e2, n2;
    return out;
}

TEST(GridLine, line_running_north_has_east_on_its_right) {
    const LinePlace place = place_by(line(10, 0, 10, 50), {12.5, 7.0});
    EXPECT_DOUBLE_EQ(place.across_m, 2.5);
    EXPECT_DOUBLE_EQ(place.along_m, 7.0);
    EXPECT_DOUBLE_EQ(place_by(line(10, 50, 10, 0), {12.5, 7.0}).across_m, -2.5);
}

// 3-4-5: from a line along (3, 4) the point (4, −3) lies 5 to the right, its foot at the start.
TEST(GridLine, skew_line_agrees_with_three_four_five) {
    const GridLine skew = line(0, 0, 6, 8);
    const LinePlace place = place_by(skew, {4, -3});
    EXPECT_NEAR(place.across_m, 5.0, 1e-15);
    EXPECT_NEAR(place.along_m, 0.0, 1e-15);
    EXPECT_NEAR(foot_on(skew, {4 + 3, -3 + 4}).x(), 3.0, 1e-15);
}

TEST(GridLine, azimuth_gives_the_same_line_at_two_million_feet) {
    const Vector2d at(600000.0, 609600.0);
    const GridLine made = grid_line_at("B", at, 0.3);
    EXPECT_NEAR(place_by(made, at + 40.0 * Vector2d(std::sin(0.3), std::cos(0.3))).across_m, 0.0,
                1e-9);
    EXPECT_NEAR(direction_of(made).x(), std::sin(0.3), 1e-12);
}

TEST(GridLine, crossing_lies_on_both_lines) {
    const GridLine a = line(1, 2, 4, 9);
    const GridLine b = line(-3, 5, 8, 4);
    const auto at = crossing(a, b);
    ASSERT_TRUE(at.has_value());
    EXPECT_NEAR(place_by(a, *at).across_m, 0.0, 1e-12);
    EXPECT_NEAR(place_by(b, *at).across_m, 0.0, 1e-12);
    EXPECT_FALSE(crossing(a, line(2, 2, 5, 9)).has_value());
}

TEST(GridLine, angle_is_the_same_for_either_sense) {
    EXPECT_NEAR(angle_between(line(0, 0, 1, 0), line(0, 0, 1, 1)), std::numbers::pi / 4, 1e-15);
    EXPECT_NEAR(angle_between(line(0, 0, 1, 0), line(1, 1, 0, 0)), std::numbers::pi / 4, 1e-15);
    EXPECT_NEAR(angle_between(line(0, 0, 1, 0), line(3, 0, 0, 0)), 0.0, 1e-15);
}

TEST(GridLine, ends_in_one_place_or_not_finite_are_no_line) {
    EXPECT_FALSE(is_line(line(1, 1, 1, 1.009)));
    EXPECT_FALSE(is_line(line(1, 1, 1, std::numeric_limits<double>::quiet_NaN())));
    EXPECT_TRUE(is_line(line(1, 1, 1, 1.011)));
    EXPECT_EQ(direction_of(line(1, 1, 1, 1)), Vector2d(0, 1));
    EXPECT_FALSE(crossing(line(1, 1, 1, 1), line(0, 0, 1, 0)).has_value());
}

}  // namespace
}  // namespace layproof::frame
