// A point by the crossing of two grid lines, in one short label.

#include <gtest/gtest.h>

#include "lay/building_grid.hpp"
#include "measure/angle.hpp"
#include "measure/length.hpp"

namespace layproof::lay {
namespace {

using frame::grid_line_at;

/// Letters run north, 20 ft apart; numbers east, 30 ft apart.
BuildingGrid bays() {
    constexpr double kFoot = measure::kMetresPerFoot;
    return BuildingGrid({grid_line_at("B", {0.0, 0.0}, 0.0),
                         grid_line_at("C", {20 * kFoot, 0.0}, 0.0),
                         grid_line_at("4", {0.0, 0.0}, measure::kPi / 2),
                         grid_line_at("5", {0.0, 30 * kFoot}, -measure::kPi / 2)});
}

std::string words(double east_ft, double north_ft) {
    const measure::LengthStyle style{measure::LengthUnit::foot, true, 16};
    return bays()
        .crossing_words(measure::kMetresPerFoot * Eigen::Vector2d(east_ft, north_ft), style)
        .value_or("none");
}

TEST(CrossingWords, offsets_are_told_by_the_compass) {
    EXPECT_EQ(words(20, 0), "C/4");
    EXPECT_EQ(words(20 + 14.5 / 12, 0), "C/4 + 1'-2 1/2\" east");
    EXPECT_EQ(words(20 - 14.5 / 12, 3), "C/4 + 1'-2 1/2\" west + 3'-0\" north");
    // The sense of a line, here of 5, is no matter.
    EXPECT_EQ(words(0, 29), "B/5 + 1'-0\" south");
    EXPECT_EQ(words(0, 31), "B/5 + 1'-0\" north");
}

TEST(CrossingWords, without_crossing_lines_there_are_none) {
    EXPECT_FALSE(BuildingGrid().crossing_words({1.0, 2.0}, {}));
    EXPECT_FALSE(BuildingGrid({grid_line_at("B", {0.0, 0.0}, 0.0)}).crossing_words({1.0, 2.0}, {}));
}

}  // namespace
}  // namespace layproof::lay
