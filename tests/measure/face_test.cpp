#include "measure/face.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <map>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "measure/angle.hpp"
#include "support/reference.hpp"

namespace layproof::measure {
namespace {

constexpr double kRadPerCc = kRadPerGon * 1e-4;
constexpr double kTight = 4e-15;

TEST(TwoFace, published_sets_of_two_observers) {
    const layproof::testing::Reference reference("two-face-reduction");
    const auto& rows = *reference.input()["pairs"]["rows"].as_array();
    ASSERT_EQ(rows.size(), 24U);
    std::map<int, std::vector<TwoFace>> sessions;
    for (const auto& node : rows) {
        const auto& row = *node.as_array();
        const auto gon = [&](std::size_t column) {
            return row[column].value<double>().value_or(0.0) * kRadPerGon;
        };
        const int observer = row[0].value_or(0);
        const TwoFace pair = reduce_two_face({gon(3), gon(5)}, {gon(4), gon(6)});
        sessions[observer].push_back(pair);
        const std::string name = "set" + std::to_string(row[1].value_or(0)) + "_target" +
                                 std::to_string(row[2].value_or(0));
        reference.check(name + ".c", pair.direction.collimation_rad / kRadPerCc);
        reference.check(name + ".i", pair.zenith.index_rad / kRadPerCc);
        reference.check(name + ".zenith", pair.zenith.zenith_rad / kRadPerGon);
        reference.check(name + ".direction", pair.direction.direction_rad / kRadPerGon);
    }
    for (const auto& [observer, pairs] : sessions) {
        const FaceSession session = summarise_faces(pairs);
        EXPECT_EQ(session.pairs, 12);
        ASSERT_TRUE(session.collimation_sd_rad && session.index_sd_rad);
        const std::string name = "observer" + std::to_string(observer);
        reference.check(name + ".mean_c", session.collimation_rad / kRadPerCc);
        reference.check(name + ".sd_c", *session.collimation_sd_rad / kRadPerCc);
        reference.check(name + ".mean_i", session.index_rad / kRadPerCc);
        reference.check(name + ".sd_i", *session.index_sd_rad / kRadPerCc);
    }
}

TEST(TwoFace, planted_errors_come_back_and_the_mean_is_free_of_them) {
    Random random(5);
    for (int i = 0; i < 5000; ++i) {
        const double direction = random.uniform(0.0, kTwoPi);
        const double zenith = random.uniform(0.01, kPi - 0.01);
        const double c = random.uniform(-1.0, 1.0) * 60.0 * kRadPerArcsec;
        const double index = random.uniform(-1.0, 1.0) * 60.0 * kRadPerArcsec;
        // Corrections are added to face one, so the reading lacks them.
        const CircleReading one{wrap_0_2pi(direction - c), zenith - index};
        const CircleReading two{wrap_0_2pi(direction + kPi + c), kTwoPi - zenith - index};
        const TwoFace pair = reduce_two_face(one, two);
        EXPECT_NEAR(pair.direction.collimation_rad, c, kTight);
        EXPECT_NEAR(pair.zenith.index_rad, index, kTight);
        EXPECT_NEAR(wrap_pi(pair.direction.direction_rad - direction), 0.0, kTight);
        EXPECT_NEAR(pair.zenith.zenith_rad, zenith, kTight);
        EXPECT_GE(pair.direction.direction_rad, 0.0);
        EXPECT_LT(pair.direction.direction_rad, kTwoPi);

        // Turned into face one, each face keeps its error with its own sign.
        const CircleReading turned = to_face_one(two);
        EXPECT_NEAR(wrap_pi(turned.direction_rad - (direction + c)), 0.0, kTight);
        EXPECT_NEAR(turned.zenith_rad, zenith + index, kTight);
        const CircleReading same = to_face_one(one);
        EXPECT_EQ(same.direction_rad, one.direction_rad);
        EXPECT_EQ(same.zenith_rad, one.zenith_rad);
    }
}

TEST(TwoFace, faces_across_zero_give_a_mean_at_zero) {
    const double c = 10.0 * kRadPerArcsec;
    const auto mean = mean_of_faces_direction(kTwoPi - c, kPi + c);
    EXPECT_NEAR(wrap_pi(mean.direction_rad), 0.0, kTight);
    EXPECT_NEAR(mean.collimation_rad, c, kTight);
}

TEST(Face, is_told_by_the_zenith_angle) {
    EXPECT_EQ(face_of_zenith(90.0 * kRadPerDeg), Face::one);
    EXPECT_EQ(face_of_zenith(270.0 * kRadPerDeg), Face::two);
    EXPECT_EQ(face_of_zenith(-90.0 * kRadPerDeg), Face::two);
    EXPECT_EQ(face_of_zenith(0.0), Face::one);
    EXPECT_EQ(face_of_zenith(kPi), Face::one);
    EXPECT_EQ(face_of_zenith(std::nextafter(kPi, 4.0)), Face::two);
    EXPECT_EQ(face_of_zenith(std::numeric_limits<double>::quiet_NaN()), Face::unknown);
    EXPECT_EQ(face_of_zenith(std::numeric_limits<double>::infinity()), Face::unknown);
}

TEST(Face, booked_face_counts_only_without_a_zenith_angle) {
    Sight sight;
    EXPECT_EQ(face_of(sight), Face::unknown);
    sight.face = Face::two;
    EXPECT_EQ(face_of(sight), Face::two);
    sight.zenith_rad = 1.5;
    EXPECT_EQ(face_of(sight), Face::one);
    sight.zenith_rad = std::numeric_limits<double>::quiet_NaN();
    EXPECT_EQ(face_of(sight), Face::two);
}

TEST(FaceSession, few_pairs_have_no_spread) {
    const FaceSession none = summarise_faces({});
    EXPECT_EQ(none.pairs, 0);
    EXPECT_EQ(none.collimation_rad, 0.0);
    EXPECT_FALSE(none.collimation_sd_rad || none.index_sd_rad);
    const std::vector<TwoFace> one{{{1.0, 2e-5}, {1.5, -3e-5}}};
    const FaceSession single = summarise_faces(one);
    EXPECT_EQ(single.collimation_rad, 2e-5);
    EXPECT_EQ(single.index_rad, -3e-5);
    EXPECT_FALSE(single.collimation_sd_rad || single.index_sd_rad);
}

}  // namespace
}  // namespace layproof::measure
