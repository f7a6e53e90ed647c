#include "measure/reduce.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "base/random.hpp"
#include "measure/atmosphere.hpp"

namespace layproof::measure {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr double kTight = 4e-15;

Sight sight_of(double direction_deg, double zenith_deg, double slope_m) {
    Sight sight;
    sight.direction_rad = direction_deg * kRadPerDeg;
    sight.zenith_rad = zenith_deg * kRadPerDeg;
    sight.slope_distance_m = slope_m;
    sight.target_height_m = 1.5;
    return sight;
}

Instrument with_reference_air() {
    Instrument instrument;
    instrument.wavelength_um = 0.658;
    instrument.reference_temperature_k = 285.15;
    instrument.reference_pressure_hpa = 1013.25;
    return instrument;
}

TEST(Reduce, face_one_sight_is_kept) {
    const Sight sight = sight_of(30.0, 88.0, 42.0);
    const ReducedSight reduced = reduce(sight, Instrument{});
    EXPECT_EQ(reduced.size(), 3);
    EXPECT_EQ(reduced.direction_rad, *sight.direction_rad);
    EXPECT_EQ(reduced.zenith_rad, *sight.zenith_rad);
    EXPECT_EQ(reduced.distance_m, 42.0);
    EXPECT_EQ(reduced.target_height_m, 1.5);
    EXPECT_EQ(reduced.pointings, 1);
    EXPECT_EQ(reduced.face_balance, 1.0);
    EXPECT_FALSE(reduced.distance_is_horizontal);
    EXPECT_EQ(reduced.covariance, sight_covariance(Instrument{}, 42.0, 88.0 * kRadPerDeg, 1.5));
}

TEST(Reduce, face_two_turns_into_face_one) {
    Random random(11);
    for (int i = 0; i < 1000; ++i) {
        const double direction = random.uniform(0.0, 360.0);
        const double zenith = random.uniform(1.0, 179.0);
        const Instrument instrument;
        const ReducedSight one = reduce(sight_of(direction, zenith, 20.0), instrument);
        const ReducedSight two =
            reduce(sight_of(direction + 180.0, 360.0 - zenith, 20.0), instrument);
        EXPECT_NEAR(wrap_pi(one.direction_rad - two.direction_rad), 0.0, kTight);
        EXPECT_NEAR(one.zenith_rad, two.zenith_rad, kTight);
        EXPECT_TRUE(one.covariance.isApprox(two.covariance, 1e-9));
        EXPECT_EQ(two.face_balance, -1.0);
    }
    Sight booked = sight_of(10.0, 90.0, 20.0);
    booked.zenith_rad.reset();
    booked.face = Face::two;
    EXPECT_NEAR(reduce(booked, Instrument{}).direction_rad, 190.0 * kRadPerDeg, kTight);
}

TEST(Reduce, prism_constant_is_added_and_air_scales) {
    Sight sight = sight_of(0.0, 90.0, 100.0);
    sight.prism_constant_m = -0.030;
    EXPECT_DOUBLE_EQ(reduce(sight, Instrument{}).distance_m, 99.97);
    // Without reference air nothing is corrected, whatever the weather.
    EXPECT_DOUBLE_EQ(reduce(sight, Instrument{}, 310.0, 950.0).distance_m, 99.97);
    const Instrument instrument = with_reference_air();
    const double ppm = *distance_correction_ppm(instrument, 310.0, 950.0);
    EXPECT_GT(ppm, 30.0);
    EXPECT_DOUBLE_EQ(reduce(sight, instrument, 310.0, 950.0).distance_m,
                     100.0 * (1.0 + ppm * 1e-6) - 0.030);
    // One of the two alone says nothing.
    EXPECT_DOUBLE_EQ(reduce(sight, instrument, 310.0).distance_m, 99.97);
    // The sight's own air wins, each value by itself.
    sight.temperature_k = 285.15;
    const double own = *distance_correction_ppm(instrument, 285.15, 950.0);
    EXPECT_DOUBLE_EQ(reduce(sight, instrument, 310.0, 950.0).distance_m,
                     100.0 * (1.0 + own * 1e-6) - 0.030);
    sight.pressure_hpa = 1013.25;
    EXPECT_DOUBLE_EQ(reduce(sight, instrument, 310.0, 950.0).distance_m, 99.97);
}

TEST(Reduce, horizontal_distance_with_and_without_zenith) {
    Sight sight = sight_of(0.0, 60.0, 0.0);
    sight.slope_distance_m.reset();
    sight.horizontal_distance_m = 30.0;
    const ReducedSight with_zenith = reduce(sight, Instrument{});
    EXPECT_FALSE(with_zenith.distance_is_horizontal);
    EXPECT_NEAR(with_zenith.distance_m, 30.0 / std::sin(60.0 * kRadPerDeg), 1e-13);
    sight.zenith_rad.reset();
    const ReducedSight without = reduce(sight, Instrument{});
    EXPECT_TRUE(without.distance_is_horizontal);
    EXPECT_FALSE(without.has_zenith);
    EXPECT_EQ(without.distance_m, 30.0);
    EXPECT_EQ(without.covariance, sight_covariance(Instrument{}, 30.0, kPi / 2.0, 1.5, true));
    // Straight up a horizontal distance says nothing.
    sight.zenith_rad = 0.0;
    EXPECT_FALSE(reduce(sight, Instrument{}).has_distance);
}

TEST(Reduce, direction_alone_takes_the_assumed_distance) {
    Sight sight = sight_of(0.0, 90.0, 10.0);
    sight.slope_distance_m.reset();
    const ReducedSight near = reduce(sight, Instrument{}, {}, {}, 10.0);
    const ReducedSight far = reduce(sight, Instrument{}, {}, {}, 100.0);
    EXPECT_FALSE(near.has_distance);
    EXPECT_EQ(near.distance_m, 0.0);
    EXPECT_EQ(near.covariance, sight_covariance(Instrument{}, 10.0, kPi / 2.0, 1.5));
    EXPECT_GT(near.covariance(0, 0), 20.0 * far.covariance(0, 0));
    EXPECT_EQ(reduce(sight, Instrument{}).covariance,
              sight_covariance(Instrument{}, kAssumedDistance_m, kPi / 2.0, 1.5));
}

TEST(Reduce, impossible_parts_are_left_out_and_nothing_is_nan) {
    EXPECT_EQ(reduce(Sight{}, Instrument{}).size(), 0);
    const double odd[] = {kNan, kInf, -kInf, 0.0, -0.0, -1.0, 1e300};
    for (const double value : odd) {
        for (int part = 0; part < 8; ++part) {
            Sight sight = sight_of(10.0, 90.0, 20.0);
            if (part == 0) sight.direction_rad = value;
            if (part == 1) sight.zenith_rad = value;
            if (part == 2) sight.slope_distance_m = value;
            if (part == 3) sight.prism_constant_m = value;
            if (part == 4) sight.target_height_m = value;
            if (part == 5) sight.temperature_k = value;
            if (part == 6) sight.pressure_hpa = value;
            if (part == 7) {
                sight.slope_distance_m.reset();
                sight.horizontal_distance_m = value;
            }
            for (const double assumed : {30.0, 0.0, kNan}) {
                const ReducedSight reduced =
                    reduce(sight, with_reference_air(), 290.0, 1000.0, assumed);
                EXPECT_TRUE(std::isfinite(reduced.direction_rad));
                EXPECT_TRUE(std::isfinite(reduced.zenith_rad));
                EXPECT_TRUE(std::isfinite(reduced.distance_m));
                EXPECT_FALSE(reduced.covariance.hasNaN()) << part << ' ' << value;
                EXPECT_EQ(reduced.has_distance, reduced.distance_m > 0.0);
            }
        }
    }
    Sight sight = sight_of(10.0, 90.0, 0.02);
    sight.prism_constant_m = -0.03;
    EXPECT_FALSE(reduce(sight, Instrument{}).has_distance);
    EXPECT_EQ(reduce(sight, Instrument{}).size(), 2);
}

TEST(ReducePair, mean_is_free_of_planted_instrument_errors) {
    const double c = 8.0 * kRadPerArcsec;
    const double index = -5.0 * kRadPerArcsec;
    Sight one = sight_of(359.999, 85.0, 40.001);
    Sight two = sight_of(179.999, 275.0, 40.003);
    *one.direction_rad -= c;
    *two.direction_rad += c;
    *one.zenith_rad -= index;
    *two.zenith_rad -= index;
    const Instrument instrument;
    for (const bool swapped : {false, true}) {
        const auto pair =
            swapped ? reduce_pair(two, one, instrument) : reduce_pair(one, two, instrument);
        ASSERT_TRUE(pair);
        EXPECT_NEAR(wrap_pi(pair->sight.direction_rad - 359.999 * kRadPerDeg), 0.0, kTight);
        EXPECT_NEAR(pair->sight.zenith_rad, 85.0 * kRadPerDeg, kTight);
        EXPECT_NEAR(pair->sight.distance_m, 40.002, 1e-13);
        EXPECT_NEAR(*pair->collimation_rad, c, kTight);
        EXPECT_NEAR(*pair->index_rad, index, kTight);
        EXPECT_NEAR(*pair->distance_difference_m, 0.002, 1e-13);
        EXPECT_EQ(pair->sight.pointings, 2);
        EXPECT_EQ(pair->sight.face_balance, 0.0);
        EXPECT_TRUE(pair->sight.covariance.isApprox(
            sight_covariance(instrument, 40.002, 85.0 * kRadPerDeg, 1.5, false, 2.0, 2.0), 1e-9));
    }
}

TEST(ReducePair, rod_part_is_kept_once) {
    const Instrument instrument;
    const Sight one = sight_of(10.0, 90.0, 40.0);
    const Sight two = sight_of(190.0, 270.0, 40.0);
    const auto pair = reduce_pair(one, two, instrument);
    ASSERT_TRUE(pair);
    const ReducedSight single = reduce(one, instrument);
    const double rod = std::pow(1.5 * instrument.bubble_rad, 2) + std::pow(0.001, 2);
    EXPECT_NEAR(pair->sight.covariance(2, 2), rod + (single.covariance(2, 2) - rod) / 2.0, 1e-15);
    EXPECT_GT(pair->sight.covariance(0, 0), single.covariance(0, 0) / 2.0);
}

TEST(ReducePair, distance_in_one_face_only) {
    const Instrument instrument;
    const Sight one = sight_of(10.0, 90.0, 40.0);
    Sight two = sight_of(190.0, 270.0, 40.0);
    two.slope_distance_m.reset();
    const auto pair = reduce_pair(one, two, instrument);
    ASSERT_TRUE(pair);
    EXPECT_EQ(pair->sight.distance_m, 40.0);
    EXPECT_FALSE(pair->distance_difference_m);
    EXPECT_TRUE(pair->sight.covariance.isApprox(
        sight_covariance(instrument, 40.0, kPi / 2.0, 1.5, false, 2.0, 1.0), 1e-9));
}

TEST(ReducePair, directions_alone_pair_by_booked_face) {
    Sight one;
    one.direction_rad = 1.0;
    one.face = Face::one;
    Sight two;
    two.direction_rad = 1.0 + kPi + 4e-5;
    two.face = Face::two;
    const auto pair = reduce_pair(one, two, Instrument{});
    ASSERT_TRUE(pair);
    EXPECT_NEAR(pair->sight.direction_rad, 1.0 + 2e-5, kTight);
    EXPECT_NEAR(*pair->collimation_rad, 2e-5, kTight);
    EXPECT_FALSE(pair->index_rad);
    EXPECT_EQ(pair->sight.size(), 1);
}

TEST(ReducePair, angle_in_one_face_only_keeps_that_face) {
    Sight one = sight_of(10.0, 90.0, 40.0);
    Sight two = sight_of(190.0, 270.0, 40.0);
    two.direction_rad.reset();
    const auto pair = reduce_pair(one, two, Instrument{});
    ASSERT_TRUE(pair);
    EXPECT_FALSE(pair->collimation_rad);
    EXPECT_EQ(pair->sight.face_balance, 1.0);
    EXPECT_NEAR(pair->sight.direction_rad, 10.0 * kRadPerDeg, kTight);
    EXPECT_EQ(pair->sight.covariance(0, 0), reduce(one, Instrument{}).covariance(0, 0));
}

TEST(ReducePair, what_is_no_pair_gives_nothing) {
    const Instrument instrument;
    const Sight one = sight_of(10.0, 90.0, 40.0);
    const Sight two = sight_of(190.0, 270.0, 40.0);
    EXPECT_FALSE(reduce_pair(one, one, instrument));
    EXPECT_FALSE(reduce_pair(two, two, instrument));
    EXPECT_FALSE(reduce_pair(Sight{}, Sight{}, instrument));
    Sight higher = two;
    higher.target_height_m = 1.6;
    EXPECT_FALSE(reduce_pair(one, higher, instrument));
    higher.target_height_m = kNan;
    EXPECT_FALSE(reduce_pair(one, higher, instrument));
    Sight horizontal;
    horizontal.face = Face::two;
    horizontal.horizontal_distance_m = 40.0;
    horizontal.target_height_m = 1.5;
    EXPECT_FALSE(reduce_pair(one, horizontal, instrument));
}

}  // namespace
}  // namespace layproof::measure
