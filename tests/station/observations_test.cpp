#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <vector>

#include "adjust/jacobian_check.hpp"
#include "base/random.hpp"
#include "measure/angle.hpp"
#include "station/observations_internal.hpp"
#include "station/station_support.hpp"

namespace layproof::station::internal {
namespace {

// The check itself agrees to about 1e-9 of a row's largest derivative.
constexpr double kJacobian = 1e-8;

using Span = std::span<const double>;

measure::ReducedSight parts(bool direction, bool zenith, bool distance, bool horizontal) {
    measure::ReducedSight r;
    r.has_direction = direction;
    r.has_zenith = zenith;
    r.has_distance = distance;
    r.distance_is_horizontal = horizontal;
    r.direction_rad = 0.3;
    r.zenith_rad = 1.5;
    r.distance_m = 40.0;
    r.target_height_m = 1.7;
    return r;
}

TEST(sight_function, jacobian_every_mixture_of_parts_agrees_with_differences) {
    Random random(11);
    for (const double scale : {1.0, 0.99983, 1.0004}) {
        for (int mask = 1; mask < 8; ++mask) {
            for (const bool has_height : {true, false}) {
                for (const bool horizontal : {true, false}) {
                    const bool distance = (mask & 4) != 0;
                    const bool zenith = (mask & 2) != 0;
                    if (zenith && (!has_height || horizontal)) continue;
                    if (!has_height && distance && !horizontal) continue;
                    const auto sight = parts((mask & 1) != 0, zenith, distance, horizontal);
                    const SightFunction function(sight, scale, 0.13, has_height);
                    for (int draw = 0; draw < 20; ++draw) {
                        // Away from the place where the direction's residual is wrapped.
                        const double azimuth = random.uniform(-2.0, 2.0);
                        const double plan = random.uniform(3.0, 300.0);
                        const std::array pose{random.uniform(-50.0, 50.0),
                                              random.uniform(-50.0, 50.0), azimuth - 0.3,
                                              random.uniform(-5.0, 5.0)};
                        const std::array mark{pose[0] + plan * std::sin(azimuth),
                                              pose[1] + plan * std::cos(azimuth),
                                              pose[3] + random.uniform(-0.5, 0.5) * plan};
                        const std::array<Span, 2> blocks{Span(pose.data(), has_height ? 4U : 3U),
                                                         Span(mark.data(), has_height ? 3U : 2U)};
                        const auto check =
                            adjust::check_jacobian(function, sight.size(), blocks, 1e-3);
                        EXPECT_LT(check.worst, kJacobian)
                            << "parts " << mask << " block " << check.block << " row " << check.row
                            << " column " << check.column << ": " << check.analytic << " "
                            << check.numeric;
                    }
                }
            }
        }
    }
}

TEST(sight_function, residual_exact_readings_is_zero) {
    Random random(12);
    for (int draw = 0; draw < 200; ++draw) {
        layproof::testing::TruePose pose;
        pose.axes_m << random.uniform(-50.0, 50.0), random.uniform(-50.0, 50.0),
            random.uniform(-3.0, 3.0);
        pose.orientation_rad = random.uniform(0.0, measure::kTwoPi);
        const Eigen::Vector3d mark =
            pose.axes_m + Eigen::Vector3d(random.uniform(-300.0, 300.0),
                                          random.uniform(-300.0, 300.0), random.uniform(-20, 20));
        const double scale = random.uniform(0.9996, 1.0004);
        const double rod = random.uniform(0.0, 2.0);
        const auto reading = layproof::testing::read_exactly(
            pose, layproof::testing::rod_top(mark, rod, 0.0, 0.0), 0.13, scale);
        measure::ReducedSight sight = parts(true, true, true, false);
        sight.direction_rad = reading.direction_rad;
        sight.zenith_rad = reading.zenith_rad;
        sight.distance_m = reading.distance_m;
        sight.target_height_m = rod;
        const SightFunction function(sight, scale, 0.13, true);
        const std::array values{pose.axes_m.x(), pose.axes_m.y(), pose.orientation_rad,
                                pose.axes_m.z()};
        const std::array<const double*, 2> blocks{values.data(), mark.data()};
        std::array<double, 3> residual{};
        function.evaluate(blocks, residual.data(), nullptr);
        EXPECT_NEAR(residual[0], 0.0, 1e-12);
        EXPECT_NEAR(residual[1], 0.0, 1e-12);
        EXPECT_NEAR(residual[2], 0.0, 1e-10);
    }
}

TEST(sight_function, station_at_the_mark_or_straight_below_stays_finite) {
    for (const double height : {0.0, 3.0}) {
        const auto sight = parts(true, true, true, false);
        const SightFunction function(sight, 1.0, 0.13, true);
        const std::array pose{1.0, 2.0, 0.5, 1.7};
        const std::array mark{1.0, 2.0, height};
        const std::array<const double*, 2> blocks{pose.data(), mark.data()};
        std::array<double, 3> residual{};
        std::array<double, 12> by_pose{};
        std::array<double, 9> by_mark{};
        const std::array<double*, 2> jacobians{by_pose.data(), by_mark.data()};
        function.evaluate(blocks, residual.data(), jacobians.data());
        for (const double x : residual) EXPECT_TRUE(std::isfinite(x));
        for (const double x : by_pose) EXPECT_TRUE(std::isfinite(x));
        for (const double x : by_mark) EXPECT_TRUE(std::isfinite(x));
    }
}

TEST(over_mark_function, jacobian_with_and_without_height_agrees_with_differences) {
    const std::array pose{3.0, -2.0, 0.4, 11.6};
    const std::array mark{3.001, -2.002, 10.0};
    for (const int pose_size : {3, 4}) {
        for (const bool with_height : {false, true}) {
            if (with_height && pose_size == 3) continue;
            const OverMarkFunction function(1.6, with_height, pose_size);
            const std::array<Span, 2> blocks{
                Span(pose.data(), static_cast<std::size_t>(pose_size)),
                Span(mark.data(), static_cast<std::size_t>(pose_size - 1))};
            EXPECT_LT(adjust::check_jacobian(function, with_height ? 3 : 2, blocks).worst,
                      kJacobian);
            std::array<double, 3> residual{};
            const std::array<const double*, 2> values{pose.data(), mark.data()};
            function.evaluate(values, residual.data(), nullptr);
            EXPECT_NEAR(residual[0], -0.001, 1e-12);
            EXPECT_NEAR(residual[1], 0.002, 1e-12);
            if (with_height) {
                EXPECT_NEAR(residual[2], 0.0, 1e-12);
            }
        }
    }
}

TEST(given_function, jacobian_some_components_agrees_with_differences) {
    const std::array mark{4.0, 5.0, 6.0};
    const std::array<std::vector<int>, 4> cases{std::vector<int>{0, 1, 2}, {0, 1}, {2}, {0, 1}};
    const std::array<int, 4> sizes{3, 3, 3, 2};
    for (std::size_t i = 0; i < cases.size(); ++i) {
        const std::vector<double> given(cases[i].size(), 4.5);
        const GivenFunction function(given, cases[i], sizes[i]);
        const std::array<Span, 1> blocks{Span(mark.data(), static_cast<std::size_t>(sizes[i]))};
        EXPECT_LT(adjust::check_jacobian(function, static_cast<int>(cases[i].size()), blocks).worst,
                  kJacobian);
        std::array<double, 3> residual{};
        const std::array<const double*, 1> values{mark.data()};
        function.evaluate(values, residual.data(), nullptr);
        for (std::size_t k = 0; k < cases[i].size(); ++k)
            EXPECT_NEAR(residual[k], mark[static_cast<std::size_t>(cases[i][k])] - 4.5, 1e-12);
    }
}

}  // namespace
}  // namespace layproof::station::internal
