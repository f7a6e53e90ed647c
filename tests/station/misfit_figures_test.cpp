#include "station/misfit_figures.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "measure/angle.hpp"
#include "station/misfit_model.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

constexpr double kAngleSd_rad = 3.0 * measure::kRadPerArcsec;
constexpr double kDistanceSd_m = 0.002;
constexpr double kMarkSd_m = 0.0015;

/// Station at the origin, circle zero north; exact sights, mark `moved` shifted on its sheet.
Prepared plan_setup(const std::vector<Eigen::Vector2d>& marks, int moved = -1,
                    const Eigen::Vector2d& by = Eigen::Vector2d::Zero()) {
    testing::PlanSetup setup;
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const Eigen::Vector2d sheet =
            marks[i] + (static_cast<int>(i) == moved ? by : Eigen::Vector2d::Zero());
        setup.mark("M" + std::to_string(i + 1), sheet.x(), sheet.y(), kMarkSd_m);
        setup.sight(static_cast<int>(i), std::atan2(marks[i].x(), marks[i].y()), kAngleSd_rad,
                    marks[i].norm(), kDistanceSd_m);
    }
    return setup.centred();
}

Solution solve(const Prepared& setup) {
    auto solved = solve_station(setup);
    EXPECT_TRUE(solved.ok());
    add_misfit_figures(setup, solved->best);
    return solved->best;
}

const std::vector<Eigen::Vector2d> kFour{
    {40.0, 30.0}, {-35.0, 25.0}, {-30.0, -40.0}, {45.0, -20.0}};

TEST(misfit_figures, unused_mark_is_off_by_what_its_sheet_is_wrong) {
    Prepared setup = plan_setup(kFour, 2, {0.030, -0.010});
    setup.sights[2].used = false;
    const Solution solution = solve(setup);
    // The other three fit exactly. First order in the misfit: 1e-6 m is its square over the range.
    EXPECT_NEAR(*solution.marks[2].off_east_m, -0.030, 1e-6);
    EXPECT_NEAR(*solution.marks[2].off_north_m, 0.010, 1e-6);
    EXPECT_FALSE(solution.marks[2].off_height_m.has_value());
    for (const int m : {0, 1, 3})
        EXPECT_NEAR(*solution.marks[static_cast<std::size_t>(m)].off_east_m, 0.0, 1e-6);
}

TEST(misfit_figures, unused_sight_is_less_certain_than_a_used_one) {
    Prepared setup = plan_setup(kFour);
    const Solution with = solve(setup);
    setup.sights[2].used = false;
    const Solution without = solve(setup);
    EXPECT_GT(without.marks[2].off_covariance(0, 0), with.marks[2].off_covariance(0, 0));
    // What shows of a used sight is at most its own error and its mark's.
    const double shown = with.marks[2].off_covariance(0, 0) + with.marks[2].off_covariance(1, 1);
    const double across_m = kAngleSd_rad * kFour[2].norm();
    EXPECT_LT(shown,
              2.0 * kMarkSd_m * kMarkSd_m + kDistanceSd_m * kDistanceSd_m + across_m * across_m);
}

TEST(misfit_figures, misfit_is_the_mean_of_two_sights_to_one_mark) {
    testing::PlanSetup setup;
    for (std::size_t i = 0; i < kFour.size(); ++i) {
        setup.mark("M" + std::to_string(i + 1), kFour[i].x(), kFour[i].y(), kMarkSd_m);
        const double direction = std::atan2(kFour[i].x(), kFour[i].y());
        for (const double longer : {0.001, -0.001})
            setup.sight(static_cast<int>(i), direction, kAngleSd_rad, kFour[i].norm() + longer,
                        kDistanceSd_m);
    }
    const Solution solution = solve(setup.centred());
    for (const SolvedMark& mark : solution.marks) {
        EXPECT_NEAR(*mark.off_east_m, 0.0, 1e-8);
        EXPECT_NEAR(*mark.off_north_m, 0.0, 1e-8);
    }
}

TEST(misfit_figures, direction_alone_does_not_place_its_mark) {
    testing::PlanSetup setup;
    for (std::size_t i = 0; i < kFour.size(); ++i) {
        setup.mark("M" + std::to_string(i + 1), kFour[i].x(), kFour[i].y(), kMarkSd_m);
        const double direction = std::atan2(kFour[i].x(), kFour[i].y());
        if (i == 1) {
            setup.sight(1, direction, kAngleSd_rad);
        } else {
            setup.sight(static_cast<int>(i), direction, kAngleSd_rad, kFour[i].norm(),
                        kDistanceSd_m);
        }
    }
    const Solution solution = solve(setup.centred());
    EXPECT_FALSE(solution.marks[1].off_east_m.has_value());
    EXPECT_FALSE(solution.marks[1].off_north_m.has_value());
    EXPECT_TRUE(solution.marks[0].off_east_m.has_value());
}

// The shift is planted in the weakest direction; the test for it must then move by δ0.
TEST(misfit_figures, detectable_shift_moves_its_test_by_delta_0) {
    const Prepared setup = plan_setup(kFour);
    const Solution solution = solve(setup);
    const MisfitModel model = misfit_model(setup, solution.pose);
    for (std::size_t i = 0; i < kFour.size(); ++i) {
        ASSERT_TRUE(solution.sights[i].detectable_m.has_value());
        const double size = *solution.sights[i].detectable_m;
        const int first = model.sights[i].first_row;
        double least = 1e300;
        Eigen::Vector2d worst;
        for (int k = 0; k < 3600; ++k) {
            const Eigen::Vector2d u(std::sin(k * measure::kPi / 3600.0),
                                    std::cos(k * measure::kPi / 3600.0));
            const double strength = u.dot(model.reduced.block<2, 2>(first, first) * u);
            if (strength < least) {
                least = strength;
                worst = u;
            }
        }
        // 4.1321: Baarda 1968, α 0.001 two-sided, power 80 %; four decimals, and the grid of 0.05°.
        EXPECT_NEAR(size * std::sqrt(least), 4.1321, 1e-4);
        const Eigen::Vector4d effect = model.pose_from_misfit.middleCols<2>(first) * (size * worst);
        EXPECT_NEAR(*solution.sights[i].undetected_effect_m, effect.head<2>().norm(), 1e-5);
    }
}

TEST(misfit_figures, two_marks_leave_a_shift_across_the_line_unseen) {
    const Solution solution = solve(plan_setup({{40.0, 30.0}, {-35.0, 25.0}}));
    // Two marks see a change of their distance only; the turn hides the rest.
    EXPECT_FALSE(solution.sights[0].detectable_m.has_value());
    EXPECT_FALSE(solution.sights[1].detectable_m.has_value());
}

}  // namespace
}  // namespace layproof::station
