#include <gtest/gtest.h>

#include <Eigen/LU>
#include <array>
#include <cmath>
#include <vector>

#include "adjust/jacobian_check.hpp"
#include "base/random.hpp"
#include "measure/angle.hpp"
#include "station/misfit_model.hpp"
#include "station/observations.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

// The check itself agrees to about 1e-9 of a row's largest derivative.
constexpr double kJacobian = 1e-8;

using Span = std::span<const double>;
using Span2 = std::span<const Span>;

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

TEST(over_mark, jacobian_with_and_without_height_agrees_with_differences) {
    const std::array pose{3.0, -2.0, 0.4, 11.6};
    const std::array mark{3.001, -2.002, 10.0};
    for (const int pose_size : {3, 4}) {
        for (const bool with_height : {false, true}) {
            if (with_height && pose_size == 3) continue;
            const auto over = over_mark(1.6, with_height, pose_size);
            const adjust::ObservationFunction& function = *over;
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

TEST(sight_function, split_blocks_say_what_joint_blocks_say) {
    Random random(13);
    for (int mask = 1; mask < 8; ++mask) {
        for (const bool has_height : {true, false}) {
            for (const bool horizontal : {true, false}) {
                const auto sight =
                    parts((mask & 1) != 0, (mask & 2) != 0, (mask & 4) != 0, horizontal);
                const SightFunction joint(sight, 0.9997, 0.13, has_height);
                const SightFunction split(sight, 0.9997, 0.13, has_height,
                                          SightFunction::Blocks::split);
                const double azimuth = random.uniform(-2.0, 2.0);
                const std::array pose{random.uniform(-50.0, 50.0), random.uniform(-50.0, 50.0),
                                      azimuth - 0.3, random.uniform(-5.0, 5.0)};
                const std::array mark{pose[0] + 40.0 * std::sin(azimuth),
                                      pose[1] + 40.0 * std::cos(azimuth),
                                      pose[3] + random.uniform(-20.0, 20.0)};
                const std::array<const double*, 2> two{pose.data(), mark.data()};
                const std::array<const double*, 4> four{pose.data(), mark.data(), &pose[3],
                                                        &mark[2]};
                std::array<double, 3> a{}, b{};
                std::array<double, 12> pose_joint{}, pose_split{};
                std::array<double, 9> mark_joint{}, mark_split{};
                std::array<double, 3> by_axes{}, by_height{};
                const std::array<double*, 2> into_two{pose_joint.data(), mark_joint.data()};
                const std::array<double*, 4> into_four{pose_split.data(), mark_split.data(),
                                                       by_axes.data(), by_height.data()};
                joint.evaluate(two, a.data(), into_two.data());
                split.evaluate(four, b.data(), into_four.data());
                const std::size_t of_pose = has_height ? 4 : 3;
                const std::size_t of_mark = has_height ? 3 : 2;
                for (std::size_t r = 0; r < static_cast<std::size_t>(sight.size()); ++r) {
                    EXPECT_EQ(a[r], b[r]);
                    for (std::size_t c = 0; c < 3; ++c)
                        EXPECT_EQ(pose_joint[r * of_pose + c], pose_split[r * 3 + c]);
                    for (std::size_t c = 0; c < 2; ++c)
                        EXPECT_EQ(mark_joint[r * of_mark + c], mark_split[r * 2 + c]);
                    if (!has_height) continue;
                    EXPECT_EQ(pose_joint[r * 4 + 3], by_axes[r]);
                    EXPECT_EQ(mark_joint[r * 3 + 2], by_height[r]);
                }
                const bool is_smooth = has_height || !sight.has_zenith;
                if (!is_smooth) continue;
                const std::array<Span, 4> blocks{Span(pose.data(), 3), Span(mark.data(), 2),
                                                 Span(&pose[3], 1), Span(&mark[2], 1)};
                EXPECT_LT(adjust::check_jacobian(split, sight.size(),
                                                 Span2(blocks.data(), has_height ? 4U : 2U), 1e-3)
                              .worst,
                          kJacobian)
                    << mask << has_height << horizontal;
            }
        }
    }
}

TEST(difference_function, leading_numbers_of_blocks_of_any_size_agree_with_differences) {
    const std::array pose{3.0, -2.0, 0.4};
    const std::array mark{3.5, -2.25};
    const std::array value{-0.5, 0.125};
    const DifferenceFunction function(value, 3, 2);
    const std::array<Span, 2> blocks{Span(pose), Span(mark)};
    EXPECT_LT(adjust::check_jacobian(function, 2, blocks).worst, kJacobian);
    const std::array<const double*, 2> values{pose.data(), mark.data()};
    std::array<double, 2> residual{};
    function.evaluate(values, residual.data(), nullptr);
    EXPECT_EQ(residual[0], 0.0);
    EXPECT_EQ(residual[1], 0.125);
}

TEST(tape_function, level_and_slope_jacobians_agree_with_differences) {
    const std::array a{0.0, 1.0}, b{20.0, -13.0};
    const std::array low{1.0}, high{4.0};
    const std::array<Span, 4> blocks{Span(a), Span(b), Span(low), Span(high)};
    const TapeFunction level(24.0, 0.9998, false);
    const TapeFunction slope(24.0, 0.9998, true);
    EXPECT_LT(adjust::check_jacobian(level, 1, Span2(blocks.data(), 2)).worst, kJacobian);
    EXPECT_LT(adjust::check_jacobian(slope, 1, blocks).worst, kJacobian);
    const std::array<const double*, 4> values{a.data(), b.data(), low.data(), high.data()};
    double residual = 0.0;
    slope.evaluate(values, &residual, nullptr);
    const double ground_square = (20.0 * 20.0 + 14.0 * 14.0) / (0.9998 * 0.9998);
    EXPECT_NEAR(residual, std::sqrt(ground_square + 9.0) - 24.0, 1e-12);
}

TEST(tape_partials, of_no_length_and_of_a_vertical_tape_are_finite) {
    for (const double far : {0.0, 1e-300, 1e-160, 1e-12}) {
        const TapePartials none = tape_partials(far, -far, far, 0.9996);
        EXPECT_TRUE(std::isfinite(none.length_m));
        for (const double by : none.by_end) EXPECT_LE(std::abs(by), 1.001);
    }
    const TapePartials plumb = tape_partials(0.0, 0.0, -2.5, 1.0);
    EXPECT_EQ(plumb.length_m, 2.5);
    EXPECT_EQ(plumb.by_end[0], 0.0);
    EXPECT_EQ(plumb.by_end[2], -1.0);
}

TEST(sight_partials, at_no_distance_and_beside_it_are_finite) {
    const auto sight = parts(true, true, true, false);
    const auto level = parts(true, true, true, true);
    for (const double far : {0.0, 1e-320, 1e-300, 1e-160, 1e-12, 1e-9}) {
        for (const auto* one : {&sight, &level}) {
            const Eigen::Vector3d to(far, -far, -one->target_height_m + far);
            const SightPartials found = sight_partials(*one, 0.9996, bend_of(0.13), true, to, 0.2);
            for (const double r : found.residual) EXPECT_TRUE(std::isfinite(r)) << far;
            for (const auto& row : found.by_target)
                for (const double by : row) EXPECT_TRUE(std::isfinite(by)) << far;
        }
    }
}

measure::Instrument lean_of_ten_minutes() {
    measure::Instrument out;
    out.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
    out.bubble_rad = 10.0 * measure::kRadPerArcmin;
    out.centring_m = 0.0;
    return out;
}

TEST(covariance_of, angle_to_a_near_target_has_the_lean_at_its_distance) {
    measure::ReducedSight sight = parts(true, false, false, false);
    sight.target_height_m = 1.5;
    const measure::Instrument instrument = lean_of_ten_minutes();
    // 1.5 m out of plumb by 10' is 4.363 mm: 90" seen from 10 m, 30" from 30 m.
    const double near = std::sqrt(covariance_of(sight, instrument, 10.0)(0, 0));
    const double far = std::sqrt(covariance_of(sight, instrument, 30.0)(0, 0));
    EXPECT_NEAR(near / measure::kRadPerArcsec, std::hypot(90.0, 3.0), 1e-6);
    EXPECT_NEAR(far / measure::kRadPerArcsec, std::hypot(30.0, 3.0), 1e-6);
}

TEST(covariance_of, angles_have_what_they_would_have_beside_a_distance) {
    const measure::Instrument instrument = lean_of_ten_minutes();
    for (const double zenith : {0.02, 0.3, 1.2, 1.57, 2.9}) {
        measure::ReducedSight sight = parts(true, true, false, false);
        sight.zenith_rad = zenith;
        const double slope = 25.0;
        const Eigen::Matrix3d with =
            measure::sight_covariance(instrument, slope, zenith, sight.target_height_m);
        const Eigen::Matrix3d without = covariance_of(sight, instrument, slope * std::sin(zenith));
        EXPECT_NEAR(without(0, 0) / with(0, 0), 1.0, 1e-12) << zenith;
        EXPECT_NEAR(without(1, 1) / with(1, 1), 1.0, 1e-12) << zenith;
        EXPECT_NEAR(without(0, 1), 0.0, 1e-20);
    }
}

TEST(covariance_of, measured_distance_settles_it_and_no_place_leaves_it) {
    measure::ReducedSight sight = parts(true, true, true, false);
    sight.covariance.diagonal() << 1.0, 2.0, 3.0;
    EXPECT_EQ(covariance_of(sight, lean_of_ten_minutes(), 7.0), sight.covariance);
    sight.has_distance = false;
    EXPECT_EQ(covariance_of(sight, lean_of_ten_minutes(), NAN), sight.covariance);
    EXPECT_EQ(covariance_of(sight, lean_of_ten_minutes(), INFINITY), sight.covariance);
    EXPECT_EQ(covariance_of(sight, lean_of_ten_minutes(), 0.0),
              covariance_of(sight, lean_of_ten_minutes(), kNearest_m));
}

TEST(covariance_of, two_faces_halve_the_pointing_and_another_round_halves_all) {
    measure::ReducedSight sight = parts(true, true, false, false);
    const measure::Instrument instrument = lean_of_ten_minutes();
    const Eigen::Matrix3d one = covariance_of(sight, instrument, 20.0);
    const double pointing = instrument.angle_sd_rad * instrument.angle_sd_rad;
    sight.pointings = 2;
    const Eigen::Matrix3d both = covariance_of(sight, instrument, 20.0);
    EXPECT_NEAR(one(0, 0) - both(0, 0), 0.5 * pointing, 1e-9 * one(0, 0));
    EXPECT_NEAR(one(1, 1) - both(1, 1), 0.5 * pointing, 1e-9 * one(1, 1));
    sight.rounds = 2;
    const Eigen::Matrix3d again = covariance_of(sight, instrument, 20.0);
    EXPECT_NEAR(again(0, 0) / one(0, 0), 0.5, 1e-12);
    EXPECT_NEAR(again(1, 1) / one(1, 1), 0.5, 1e-12);
}

/// The model of a set-up has the direction's rows in metres at the mark.
TEST(covariance_of, a_set_up_has_it_and_halves_it_with_another_round) {
    testing::PlanSetup plan;
    plan.mark("A", 10.0, 0.0).mark("B", 0.0, 40.0).mark("C", -25.0, -5.0);
    const std::array<double, 3> far{10.0, 40.0, std::hypot(25.0, 5.0)};
    plan.sight(0, 0.5 * measure::kPi, 1.0).sight(1, 0.0, 1.0);
    plan.sight(2, std::atan2(-25.0, -5.0), 1.0);
    Prepared& setup = plan.raw();
    setup.instrument = lean_of_ten_minutes();
    for (ControlSight& sight : setup.sights) sight.reduced.target_height_m = 1.5;
    Prepared twice = setup;
    for (ControlSight& sight : twice.sights) {
        sight.reduced.pointings = 2;
        sight.reduced.rounds = 2;
    }
    Pose pose;
    pose.has_height = false;
    const MisfitModel once = misfit_model(setup, pose);
    const MisfitModel again = misfit_model(twice, pose);
    for (std::size_t i = 0; i < far.size(); ++i) {
        const int row = once.sights[i].first_row;
        const double variance =
            covariance_of(setup.sights[i].reduced, setup.instrument, far[i])(0, 0);
        EXPECT_NEAR(once.covariance(row, row) / (far[i] * far[i] * variance), 1.0, 1e-12);
        EXPECT_NEAR(again.covariance(row, row) / once.covariance(row, row), 0.5, 1e-12);
    }
}

TEST(level_part, of_a_slope_distance_has_the_covariance_of_a_horizontal_one) {
    const measure::Instrument instrument = lean_of_ten_minutes();
    measure::ReducedSight sight = parts(true, true, true, false);
    sight.zenith_rad = 1.1;
    sight.covariance = measure::sight_covariance(instrument, sight.distance_m, sight.zenith_rad,
                                                 sight.target_height_m);
    const measure::ReducedSight level = level_part(sight);
    EXPECT_FALSE(level.has_zenith);
    EXPECT_TRUE(level.distance_is_horizontal);
    EXPECT_NEAR(level.distance_m, 40.0 * std::sin(1.1), 1e-12);
    EXPECT_NEAR(ground_distance(sight), level.distance_m, 1e-12);
    EXPECT_NEAR(ground_distance(level), level.distance_m, 0.0);
    // D sin z has σ_d² sin² + σ_a² D² cos², and the rod's part along the line.
    const double s = std::sin(1.1);
    const double c = std::cos(1.1);
    const double distance =
        std::pow(instrument.distance_sd_m, 2) + std::pow(instrument.distance_ppm * 4e-5, 2);
    const double rod = std::pow(sight.target_height_m * instrument.bubble_rad, 2);
    EXPECT_NEAR(level.covariance(2, 2),
                distance * s * s + std::pow(instrument.angle_sd_rad * 40.0 * c, 2) + rod, 1e-15);
    EXPECT_NEAR(level.covariance(0, 0) / sight.covariance(0, 0), 1.0, 1e-15);
}

TEST(level_part, without_a_distance_or_a_zenith_angle_keeps_what_is_there) {
    const measure::ReducedSight angles = level_part(parts(true, true, false, false));
    EXPECT_EQ(angles.size(), 1);
    EXPECT_FALSE(angles.distance_is_horizontal);
    EXPECT_EQ(ground_distance(angles), 0.0);
    const measure::ReducedSight slope = level_part(parts(true, false, true, false));
    EXPECT_TRUE(slope.distance_is_horizontal);
    EXPECT_EQ(slope.distance_m, 40.0);
}

TEST(place_by_reading, undoes_the_partials_of_a_sight) {
    Random random(15);
    for (int draw = 0; draw < 50; ++draw) {
        const Eigen::Vector3d to(random.uniform(-60.0, 60.0), random.uniform(-60.0, 60.0),
                                 random.uniform(-10.0, 10.0));
        const double scale = random.uniform(0.9996, 1.0004);
        measure::ReducedSight sight = parts(true, true, true, false);
        const SightLine line = sight_line(to, sight.target_height_m, scale, 0.0, true);
        const Eigen::Vector2d ahead = to.head<2>().normalized();
        for (const bool level : {false, true}) {
            sight.distance_is_horizontal = level;
            sight.has_zenith = !level;
            const SightPartials partials = sight_partials(sight, scale, 0.0, true, to, 0.4);
            Eigen::Matrix3d by_place;
            for (int r = 0; r < 3; ++r)
                by_place.row(r) = Eigen::Map<const Eigen::RowVector3d>(
                    partials.by_target[static_cast<std::size_t>(r)].data());
            const Eigen::Matrix3d by_reading =
                place_by_reading(ahead, line.ground_m, line.rise_m, line.slope_m, scale, level);
            const Eigen::Matrix3d product = by_place * by_reading;
            Eigen::Matrix3d expected = Eigen::Matrix3d::Identity();
            if (level) expected(1, 1) = 0.0;
            EXPECT_LT((product - expected).cwiseAbs().maxCoeff(), 1e-12) << level;
        }
    }
}

}  // namespace
}  // namespace layproof::station
