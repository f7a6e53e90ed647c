#include "measure/repeats.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "base/random.hpp"
#include "measure/reduce.hpp"

namespace layproof::measure {
namespace {

ReducedSight reduced(double direction_rad, double zenith_rad, double distance_m,
                     const Instrument& instrument = {}) {
    Sight sight;
    sight.direction_rad = direction_rad;
    sight.zenith_rad = zenith_rad;
    sight.slope_distance_m = distance_m;
    sight.target_height_m = 1.5;
    return reduce(sight, instrument);
}

TEST(MeanOfRepeats, a_doubled_sight_has_half_the_variance) {
    const ReducedSight sight = reduced(1.0, 1.4, 30.0);
    for (const int count : {1, 2, 3, 10}) {
        const std::vector<ReducedSight> sights(static_cast<std::size_t>(count), sight);
        const auto mean = mean_of_repeats(sights);
        ASSERT_TRUE(mean);
        EXPECT_TRUE(mean->covariance.isApprox(sight.covariance / count, 1e-12));
        EXPECT_NEAR(mean->direction_rad, sight.direction_rad, 1e-15);
        EXPECT_NEAR(mean->zenith_rad, sight.zenith_rad, 1e-15);
        EXPECT_NEAR(mean->distance_m, sight.distance_m, 1e-13);
        EXPECT_EQ(mean->pointings, count);
        EXPECT_EQ(mean->face_balance, 1.0);
        EXPECT_EQ(mean->size(), 3);
    }
}

TEST(MeanOfRepeats, equal_covariances_give_the_plain_mean_across_zero) {
    const double small = 2e-5;
    std::vector<ReducedSight> sights{reduced(kTwoPi - small, 1.4, 30.001),
                                     reduced(2.0 * small, 1.4, 30.003)};
    for (auto& sight : sights) sight.covariance = sights.front().covariance;
    const auto mean = mean_of_repeats(sights);
    ASSERT_TRUE(mean);
    EXPECT_NEAR(wrap_pi(mean->direction_rad), 0.5 * small, 1e-15);
    EXPECT_GE(mean->direction_rad, 0.0);
    EXPECT_LT(mean->direction_rad, kTwoPi);
    EXPECT_NEAR(mean->distance_m, 30.002, 1e-13);
}

TEST(MeanOfRepeats, better_sights_weigh_more_and_order_does_not_matter) {
    Instrument rough;
    rough.distance_sd_m = 0.02;
    rough.angle_sd_rad *= 10.0;
    std::vector<ReducedSight> sights{reduced(1.0, 1.4, 30.0), reduced(1.0001, 1.4001, 30.03, rough),
                                     reduced(1.0002, 1.3999, 29.998)};
    const auto mean = mean_of_repeats(sights);
    std::reverse(sights.begin(), sights.end());
    const auto reversed = mean_of_repeats(sights);
    ASSERT_TRUE(mean && reversed);
    EXPECT_NEAR(mean->direction_rad, reversed->direction_rad, 1e-14);
    EXPECT_NEAR(mean->distance_m, reversed->distance_m, 1e-12);
    EXPECT_TRUE(mean->covariance.isApprox(reversed->covariance, 1e-10));
    EXPECT_LT(std::abs(mean->distance_m - 29.999), 0.002);

    // Against the normal equations of the full problem, solved in one go.
    Eigen::Matrix3d information = Eigen::Matrix3d::Zero();
    for (const auto& sight : sights) information += sight.covariance.inverse();
    EXPECT_TRUE(mean->covariance.isApprox(information.inverse(), 1e-9));
}

TEST(MeanOfRepeats, pairs_in_sequence_equal_all_at_once) {
    Random random(31);
    for (int run = 0; run < 200; ++run) {
        std::vector<ReducedSight> sights;
        const double direction = random.uniform(0.0, kTwoPi);
        for (int i = 0; i < 4; ++i) {
            Instrument instrument;
            instrument.distance_sd_m = random.uniform(0.001, 0.01);
            instrument.bubble_rad = random.uniform(0.0, 20.0) * kRadPerArcmin;
            sights.push_back(reduced(wrap_0_2pi(direction + 1e-4 * random.normal()),
                                     1.2 + 1e-4 * random.normal(), 15.0 + 0.003 * random.normal(),
                                     instrument));
        }
        const auto whole = mean_of_repeats(sights);
        const auto first = mean_of_repeats(std::span(sights).first(2));
        const auto last = mean_of_repeats(std::span(sights).last(2));
        ASSERT_TRUE(whole && first && last);
        const std::vector<ReducedSight> halves{*first, *last};
        const auto both = mean_of_repeats(halves);
        ASSERT_TRUE(both);
        EXPECT_NEAR(wrap_pi(both->direction_rad - whole->direction_rad), 0.0, 1e-13);
        EXPECT_NEAR(both->zenith_rad, whole->zenith_rad, 1e-13);
        EXPECT_NEAR(both->distance_m, whole->distance_m, 1e-11);
        EXPECT_TRUE(both->covariance.isApprox(whole->covariance, 1e-9));
        EXPECT_EQ(both->pointings, 4);
    }
}

TEST(MeanOfRepeats, parts_count_where_they_were_observed) {
    ReducedSight full = reduced(1.0, 1.4, 30.0);
    ReducedSight direction_only = reduced(1.0002, 1.4, 30.0);
    direction_only.has_zenith = direction_only.has_distance = false;
    direction_only.zenith_rad = direction_only.distance_m = 0.0;
    for (const bool full_first : {true, false}) {
        const std::vector<ReducedSight> sights =
            full_first ? std::vector{full, direction_only} : std::vector{direction_only, full};
        const auto mean = mean_of_repeats(sights);
        ASSERT_TRUE(mean);
        EXPECT_EQ(mean->size(), 3);
        EXPECT_NEAR(mean->direction_rad, 1.0001, 1e-12);
        EXPECT_NEAR(mean->zenith_rad, 1.4, 1e-15);
        EXPECT_NEAR(mean->distance_m, 30.0, 1e-13);
        EXPECT_NEAR(mean->covariance(0, 0), full.covariance(0, 0) / 2.0,
                    1e-12 * full.covariance(0, 0));
        EXPECT_NEAR(mean->covariance(2, 2), full.covariance(2, 2), 1e-12 * full.covariance(2, 2));
    }
    const std::vector<ReducedSight> twice{direction_only, direction_only};
    const auto mean = mean_of_repeats(twice);
    ASSERT_TRUE(mean);
    EXPECT_EQ(mean->size(), 1);
    EXPECT_EQ(mean->distance_m, 0.0);
    EXPECT_EQ(mean->covariance(2, 2), direction_only.covariance(2, 2));
    EXPECT_EQ(mean->covariance(1, 2), 0.0);
}

TEST(MeanOfRepeats, opposite_faces_balance) {
    ReducedSight two = reduced(1.0, 1.4, 30.0);
    two.face_balance = -1.0;
    const std::vector<ReducedSight> sights{reduced(1.0, 1.4, 30.0), two, two};
    EXPECT_NEAR(mean_of_repeats(sights)->face_balance, -1.0 / 3.0, 1e-15);
}

TEST(MeanOfRepeats, exact_instrument_gets_equal_weights) {
    ReducedSight one = reduced(1.0, 1.4, 30.0);
    ReducedSight two = reduced(1.0002, 1.4002, 30.002);
    one.covariance.setZero();
    two.covariance.setZero();
    const auto mean = mean_of_repeats(std::vector{one, two});
    ASSERT_TRUE(mean);
    EXPECT_NEAR(mean->direction_rad, 1.0001, 1e-15);
    EXPECT_NEAR(mean->zenith_rad, 1.4001, 1e-15);
    EXPECT_NEAR(mean->distance_m, 30.001, 1e-13);
    EXPECT_TRUE(mean->covariance.isZero());
    // A covariance of rank one: everything from the same lean.
    one.covariance = Eigen::Vector3d(1e-5, 2e-5, 1e-3) * Eigen::RowVector3d(1e-5, 2e-5, 1e-3);
    two.covariance = one.covariance;
    const auto lean = mean_of_repeats(std::vector{one, two});
    ASSERT_TRUE(lean);
    EXPECT_TRUE(lean->covariance.isApprox(one.covariance / 2.0, 1e-12));
}

TEST(MeanOfRepeats, what_does_not_belong_together_gives_nothing) {
    EXPECT_FALSE(mean_of_repeats({}));
    const ReducedSight sight = reduced(1.0, 1.4, 30.0);
    ReducedSight other = sight;
    other.target_height_m = 1.6;
    EXPECT_FALSE(mean_of_repeats(std::vector{sight, other}));
    other = sight;
    other.distance_is_horizontal = true;
    EXPECT_FALSE(mean_of_repeats(std::vector{sight, other}));
    other = sight;
    other.distance_m = std::numeric_limits<double>::quiet_NaN();
    EXPECT_FALSE(mean_of_repeats(std::vector{other}));
    other = sight;
    other.covariance(1, 1) = std::numeric_limits<double>::infinity();
    EXPECT_FALSE(mean_of_repeats(std::vector{sight, other}));
    const ReducedSight nothing = reduce(Sight{}, Instrument{});
    const auto empty = mean_of_repeats(std::vector{nothing, nothing});
    ASSERT_TRUE(empty);
    EXPECT_EQ(empty->size(), 0);
}

}  // namespace
}  // namespace layproof::measure
