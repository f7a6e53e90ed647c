#include "lay/as_laid.hpp"

#include <gtest/gtest.h>

#include <array>
#include <limits>
#include <vector>

#include "lay/lay_support.hpp"
#include "lay/verdict.hpp"

namespace layproof::lay {
namespace {

using Eigen::Vector3d;
using testing::kMm;

measure::ReducedSight reduced(const measure::Sight& sight) {
    return measure::reduce(sight, testing::instrument());
}

TEST(LaidPlace, exact_sight_finds_its_point) {
    const auto setup = testing::setup();
    for (const Vector3d& tip :
         {Vector3d(1040, 1990, 100), Vector3d(1003.5, 2002, 98.2), Vector3d(940, 2120, 118)}) {
        const LaidPlace place = testing::exact_place("P", setup, 0, tip);
        EXPECT_LT((place.place_m - tip).norm(), 2e-7);
        EXPECT_TRUE(place.has_height);
        EXPECT_EQ(place.shares.size(), 1U);
    }
}

// ∂(place)/∂(pose): by_state is that of p − true place, so its pose columns are the negative.
TEST(LaidPlace, derivative_by_pose_agrees_with_differences) {
    const auto sight = testing::exact_sight(testing::pose(), {1040, 1990, 104}, 1.3);
    const LaidPlace at = *laid_place("P", testing::setup(), 0, reduced(sight));
    const auto moved = [&](int which, double step) {
        auto p = testing::pose();
        if (which < 3) {
            p.position_m(which) += step;
        } else {
            p.orientation_rad += step;
        }
        return laid_place("P", testing::setup(p), 0, reduced(sight))->place_m;
    };
    const std::array<int, 4> state{station::state_east, station::state_north, station::state_height,
                                   station::state_orientation};
    for (int k = 0; k < 4; ++k) {
        const double step = k < 3 ? 1e-3 : 1e-6;
        const Vector3d slope = (moved(k, step) - moved(k, -step)) / (2.0 * step);
        const Vector3d expected = -at.shares[0].by_state.col(state[static_cast<std::size_t>(k)]);
        EXPECT_LT((slope - expected).norm(), 1e-6 * std::max(1.0, expected.norm())) << k;
    }
}

TEST(LaidPlace, own_error_agrees_with_station_forecast_of_laying) {
    const auto setup = testing::setup();
    station::LayTarget target{"P", 1040, 1990, 104.0, 0.01, {}};
    const auto model = station::lay_model(setup.pose, target, setup.instrument, 1.3);
    const LaidPlace place = testing::exact_place("P", setup, 0, {1040, 1990, 104});
    EXPECT_LT((model.own - place.noise()).norm(), 1e-4 * model.own.norm());
    EXPECT_LT((model.by_state + place.shares[0].by_state).norm(), 1e-3);
}

TEST(LaidPlace, incomplete_sights_place_nothing) {
    const auto setup = testing::setup();
    const auto full = testing::exact_sight(setup.pose, {1040, 1990, 100}, 1.3);
    auto sight = full;
    sight.direction_rad.reset();
    EXPECT_FALSE(laid_place("P", setup, 0, reduced(sight)).has_value());
    sight = full;
    sight.slope_distance_m.reset();
    EXPECT_FALSE(laid_place("P", setup, 0, reduced(sight)).has_value());
    sight = full;
    sight.zenith_rad.reset();
    EXPECT_FALSE(laid_place("P", setup, 0, reduced(sight)).has_value());
    sight.horizontal_distance_m = sight.slope_distance_m;
    sight.slope_distance_m.reset();
    const auto level = laid_place("P", setup, 0, reduced(sight));
    ASSERT_TRUE(level.has_value());
    EXPECT_FALSE(level->has_height);
    EXPECT_EQ(level->own(2, 2), 0.0);
    EXPECT_FALSE(laid_place("P", setup, 0, {}).has_value());
    auto broken = setup;
    broken.pose.position_m.x() = testing::kNan;
    EXPECT_FALSE(laid_place("P", broken, 0, reduced(full)).has_value());
}

TEST(PutTogether, n_equal_sights_give_their_own_error_over_n) {
    auto setup = testing::setup();
    setup.instrument.marking_m = 0.002;
    const LaidPlace one = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    const std::vector<LaidPlace> four(4, one);
    const auto mean = put_together(four, std::span(&setup, 1));
    ASSERT_TRUE(mean.has_value());
    EXPECT_LT((4.0 * mean->own - one.own).norm(), 1e-12 * one.own.norm());
    EXPECT_LT((mean->shares[0].by_state - one.shares[0].by_state).norm(), 1e-9);
    EXPECT_DOUBLE_EQ(mean->marking_m, 0.002);  // the mark was made once
    EXPECT_EQ(mean->sights, 4);
    EXPECT_EQ(mean->repeat_freedom, 9);
    EXPECT_FALSE(mean->sights_disagree);
}

TEST(PutTogether, sights_that_disagree_widen_and_are_told) {
    const auto setup = testing::setup();
    LaidPlace a = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    LaidPlace b = a;
    b.place_m.x() += 0.030;
    const std::array<LaidPlace, 2> two{a, b};
    const auto mean = put_together(two, std::span(&setup, 1));
    EXPECT_TRUE(mean->sights_disagree);
    EXPECT_GT(std::sqrt(mean->own(0, 0)), 0.004);
    EXPECT_NEAR(mean->place_m.x(), a.place_m.x() + 0.015, 1e-6);
}

TEST(PutTogether, level_sight_leaves_the_height_to_the_others) {
    const auto setup = testing::setup();
    const LaidPlace full = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    auto sight = testing::exact_sight(setup.pose, {1040, 1990, 100}, 1.3);
    sight.horizontal_distance_m = *sight.slope_distance_m * std::sin(*sight.zenith_rad);
    sight.slope_distance_m.reset();
    sight.zenith_rad.reset();
    const LaidPlace level = *laid_place("P", setup, 0, reduced(sight));
    for (const bool level_first : {true, false}) {
        const std::array<LaidPlace, 2> two{level_first ? level : full, level_first ? full : level};
        const auto mean = put_together(two, std::span(&setup, 1));
        EXPECT_TRUE(mean->has_height);
        EXPECT_NEAR(mean->place_m.z(), 100.0, 1e-6);
        EXPECT_NEAR(mean->place_m.x(), 1040.0, 1e-6);
        EXPECT_NEAR(mean->own(2, 2), full.own(2, 2), 1e-3 * full.own(2, 2));
        EXPECT_LT(mean->own(0, 0), full.own(0, 0));
    }
}

TEST(PutTogether, instrument_without_errors_gives_the_plain_mean) {
    auto setup = testing::setup();
    LaidPlace a = testing::exact_place("P", setup, 0, {1040, 1990, 100});
    a.own.setZero();
    LaidPlace b = a;
    b.place_m.y() += 0.002;
    const std::array<LaidPlace, 2> two{a, b};
    const auto mean = put_together(two, std::span(&setup, 1));
    EXPECT_NEAR(mean->place_m.y(), a.place_m.y() + 0.001, 1e-9);
    EXPECT_TRUE(mean->own.allFinite());
    EXPECT_FALSE(put_together({}, std::span(&setup, 1)).has_value());
}

TEST(PutTogether, two_set_ups_know_it_better_than_either) {
    auto far = testing::pose();
    far.position_m << 1070, 1960, 101.0;
    const std::array<LaySetup, 2> setups{testing::setup(), testing::setup(far, "S2")};
    const std::array<LaidPlace, 2> two{testing::exact_place("P", setups[0], 0, {1040, 1990, 100}),
                                       testing::exact_place("P", setups[1], 1, {1040, 1990, 100})};
    const auto both = put_together(two, setups);
    ASSERT_EQ(both->shares.size(), 2U);
    EXPECT_NEAR(both->place_m.x(), 1040.0, 1e-6);
    const SetupSet set{{setups[0], setups[1]}, {{0, 1, station::StateCovariance::Zero()}}};
    PointTolerance tolerance;
    tolerance.plan_m = 0.01;
    const auto target = testing::design("P", 1040, 1990);
    const double sd = judge_point(*both, target, tolerance, set).sd_plan_m;
    EXPECT_LT(sd, judge_point(two[0], target, tolerance, set).sd_plan_m);
    EXPECT_LT(sd, judge_point(two[1], target, tolerance, set).sd_plan_m);
    // What the two share is not known: never better than with independence.
    const auto unknown = judge_point(*both, target, tolerance, {set.setups, {}});
    EXPECT_TRUE(unknown.is_widened);
    EXPECT_GE(unknown.sd_plan_m, sd);
}

TEST(CentreOf, is_the_mean_and_shares_the_set_up) {
    const auto setup = testing::setup();
    std::vector<LaidPlace> rods;
    for (const auto& [e, n] : {std::pair{-.15, -.2}, {.15, -.2}, {-.15, .2}, {.15, .2}})
        rods.push_back(testing::exact_place("R", setup, 0, {1040 + e, 1990 + n, 100}));
    const auto centre = centre_of("G", rods);
    EXPECT_EQ(centre->name, "G");
    EXPECT_NEAR(centre->place_m.x(), 1040.0, 1e-6);
    EXPECT_NEAR(centre->own(0, 0), rods[0].own(0, 0) / 4.0, 0.02 * rods[0].own(0, 0));
    // The set-up's part does not average out.
    EXPECT_NEAR(centre->shares[0].by_state(0, station::state_east), -1.0, 1e-12);
    EXPECT_FALSE(centre_of("G", {}).has_value());
}

TEST(MomentsOf, mixture_has_the_spread_between_its_parts) {
    station::Belief a;
    a.weight = 0.75;
    station::Belief b;
    b.weight = 0.25;
    b.mean(0) = 4.0;
    b.covariance(0, 0) = 1.0;
    const auto m = moments_of({a, b});
    EXPECT_DOUBLE_EQ(m.mean(0), 1.0);
    EXPECT_DOUBLE_EQ(m.covariance(0, 0), 0.25 + 0.25 * 16.0 - 1.0);
    EXPECT_TRUE(moments_of({}).covariance.isZero());
}

// The site turned about the station: deviations turn, along and across stay.
TEST(AsLaid, turned_site_turns_the_deviation) {
    Random random(5);
    for (int i = 0; i < 100; ++i) {
        const auto p = testing::pose();
        const Vector3d tip(1003 + 40 * random.normal(), 2001 + 40 * random.normal(), 100);
        if ((tip - p.position_m).head<2>().norm() < 1.0) continue;
        const Vector3d off(0.01 * random.normal(), 0.01 * random.normal(), 0.003);
        const double turn = random.uniform(0.0, measure::kTwoPi);
        const auto turned_about = [&](const Vector3d& v) {
            const Vector3d from = v - p.position_m;
            return Vector3d(p.position_m +
                            Vector3d(std::cos(turn) * from.x() + std::sin(turn) * from.y(),
                                     -std::sin(turn) * from.x() + std::cos(turn) * from.y(),
                                     from.z()));
        };
        auto turned_pose = p;
        turned_pose.orientation_rad += turn;
        Eigen::Matrix4d r = Eigen::Matrix4d::Identity();
        r.topLeftCorner<2, 2>() << std::cos(turn), std::sin(turn), -std::sin(turn), std::cos(turn);
        turned_pose.covariance = r * p.covariance * r.transpose();
        PointTolerance tolerance;
        tolerance.plan_m = 0.008;
        tolerance.height = {0.01, 0.01};
        const auto verdict = [&](const station::Pose& at, const Vector3d& laid,
                                 const Vector3d& wanted) {
            const auto setup = testing::setup(at);
            return judge_point(testing::exact_place("P", setup, 0, laid),
                               testing::design("P", wanted.x(), wanted.y(), wanted.z()), tolerance,
                               {{setup}, {}});
        };
        const auto a = verdict(p, tip + off, tip);
        const auto b = verdict(turned_pose, turned_about(tip + off), turned_about(tip));
        EXPECT_NEAR(a.along_m, b.along_m, 1e-8);
        EXPECT_NEAR(a.across_m, b.across_m, 1e-8);
        EXPECT_NEAR(a.sd_plan_m, b.sd_plan_m, 1e-9);
        EXPECT_NEAR(a.probability, b.probability, 1e-6);
        EXPECT_NEAR(a.deviation_m.head<2>().norm(), b.deviation_m.head<2>().norm(), 1e-8);
        EXPECT_NEAR(a.station_share, b.station_share, 1e-6);
    }
}

TEST(AsLaid, two_million_feet_change_nothing) {
    const Vector3d shift(609600.0, 609600.0, 0.0);
    auto far = testing::pose();
    far.position_m += shift;
    PointTolerance tolerance;
    tolerance.plan_m = 0.005;
    const auto verdict = [&](const station::Pose& at, const Vector3d& by) {
        const auto setup = testing::setup(at);
        return judge_point(testing::exact_place("P", setup, 0, Vector3d(1040.003, 1990, 100) + by),
                           testing::design("P", 1040 + by.x(), 1990 + by.y()), tolerance,
                           {{setup}, {}});
    };
    const auto near = verdict(testing::pose(), Vector3d::Zero());
    const auto there = verdict(far, shift);
    EXPECT_NEAR(near.deviation_m.x(), there.deviation_m.x(), 1e-9);
    EXPECT_NEAR(near.probability, there.probability, 1e-6);
}

}  // namespace
}  // namespace layproof::lay
