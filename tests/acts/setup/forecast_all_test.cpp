// Points shared among the cores get what one core would give them.

#include "acts/setup/forecast_all_internal.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

station::Pose pose() {
    station::Pose out;
    out.position_m << 1000.0, 2000.0, 100.0;
    out.covariance.diagonal() << 4e-6, 3e-6, 1e-6, 4e-10;
    return out;
}

/// From beside the instrument to far beyond what can be proven.
std::vector<station::LayTarget> targets(int count) {
    std::vector<station::LayTarget> out;
    for (int i = 0; i < count; ++i) {
        station::LayTarget target;
        const double angle = 0.1 * i;
        const double away = 1.0 + 0.05 * i;
        target.east_m = 1000.0 + away * std::sin(angle);
        target.north_m = 2000.0 + away * std::cos(angle);
        target.height_m = 99.0;
        target.tolerance_plan_m = 0.00635;
        target.tolerance_height_m = 0.0127;
        out.push_back(target);
    }
    return out;
}

void expect_same(int count) {
    const measure::Instrument instrument;
    const std::vector<station::Belief> beliefs{station::belief_of(pose())};
    const auto points = targets(count);
    const station::Forecast one = station::forecast(pose(), points, instrument, 1.5, beliefs, 0.95);
    const station::Forecast all = forecast_all(pose(), points, instrument, 1.5, beliefs, 0.95);
    ASSERT_EQ(all.points.size(), one.points.size());
    for (std::size_t i = 0; i < one.points.size(); ++i) {
        EXPECT_EQ(all.points[i].probability, one.points[i].probability);
        EXPECT_EQ(all.points[i].sd_plan_m, one.points[i].sd_plan_m);
        EXPECT_EQ(all.points[i].word, one.points[i].word);
    }
    EXPECT_EQ(all.proven, one.proven);
    EXPECT_EQ(all.weakest, one.weakest);
    EXPECT_EQ(all.lowest, one.lowest);
    EXPECT_EQ(all.highest, one.highest);
    EXPECT_EQ(all.word, one.word);
}

TEST(forecast_all, many_points_are_judged_as_by_one_core) {
    expect_same(5003);
}

TEST(forecast_all, few_points_and_none_are_judged_as_by_one_core) {
    expect_same(3);
    expect_same(0);
}

}  // namespace
}  // namespace layproof::acts::internal
