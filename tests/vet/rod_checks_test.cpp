#include "vet/rod_checks.hpp"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <cmath>

#include "base/random.hpp"
#include "measure/angle.hpp"

namespace layproof::vet {
namespace {

using Eigen::Vector2d;

double four_sds(int runs) {
    return 4.0 / std::sqrt(runs);
}

measure::Instrument careful() {
    measure::Instrument out;
    out.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
    out.distance_sd_m = 0.001;
    out.bubble_rad = 1.0 * measure::kRadPerArcmin;
    return out;
}

/// A mark 20 m away; the prism stands off by `offset` in the rod's own axes.
std::vector<RodSight> turns(Random& random, double height, const Vector2d& offset,
                            const measure::Instrument& i, double noise) {
    std::vector<RodSight> out;
    for (const double degrees : {0.0, 90.0, 180.0, 270.0}) {
        const double turn = degrees * measure::kRadPerDeg;
        const double azimuth = 0.8;
        // Right and away, turned clockwise seen from above.
        const Vector2d e(std::cos(turn) * offset.x() + std::sin(turn) * offset.y(),
                         std::cos(turn) * offset.y() - std::sin(turn) * offset.x());
        const double plumb = noise * i.bubble_rad * height;
        const double right = e.x() + plumb * random.normal();
        const double away = 20.0 + e.y() + plumb * random.normal();
        const double d = std::hypot(right, away);
        const double z = 91.0 * measure::kRadPerDeg;
        RodSight s;
        s.turn_rad = turn;
        s.height_m = height;
        s.direction_rad =
            azimuth + std::atan2(right, away) + noise * i.angle_sd_rad * random.normal();
        s.zenith_rad = z;
        s.slope_m = d / std::sin(z) + noise *
                                          std::hypot(i.distance_sd_m, 1e-6 * i.distance_ppm * d) *
                                          random.normal();
        out.push_back(s);
    }
    return out;
}

TEST(rod_check, noise_free_turns_give_the_planted_lean_and_bend) {
    Random random(1);
    const auto i = careful();
    auto sights = turns(random, 1.0, {0.002, -0.001}, i, 0.0);
    const auto upper = turns(random, 2.0, {0.004 + 0.003, -0.002}, i, 0.0);
    sights.insert(sights.end(), upper.begin(), upper.end());
    const auto check = rod_check(sights, i);
    ASSERT_TRUE(check);
    ASSERT_EQ(check->leans.size(), 2U);
    // The first sight's direction is the axis: off by 2 mm in 20 m, 1e-4 rad of it.
    EXPECT_NEAR(check->leans[0].offset_m.x(), 0.002, 1e-6);
    EXPECT_NEAR(check->leans[0].offset_m.y(), -0.001, 1e-6);
    EXPECT_NEAR(check->leans[0].lean_rad, std::hypot(0.002, 0.001), 1e-6);
    ASSERT_TRUE(check->bend_m);
    EXPECT_NEAR(check->bend_m->x(), 0.003, 3e-6);
    EXPECT_NEAR(check->bend_m->y(), 0.0, 3e-6);
}

TEST(rod_check, simulated_turns_are_unbiased_with_the_stated_sd) {
    Random random(2);
    const auto i = careful();
    const Vector2d truth(0.003, 0.001);
    constexpr int kRuns = 3000;
    Vector2d sum = Vector2d::Zero();
    double square = 0.0, bend = 0.0;
    int real = 0, stated = 0;
    for (int run = 0; run < kRuns; ++run) {
        auto sights = turns(random, 1.2, truth, i, 1.0);
        const auto upper = turns(random, 2.0, truth * (2.0 / 1.2), i, 1.0);
        sights.insert(sights.end(), upper.begin(), upper.end());
        const auto check = rod_check(sights, i);
        const Lean& low = check->leans[0];
        const Vector2d e = low.offset_m - truth;
        sum += e.cwiseQuotient(low.covariance.diagonal().cwiseSqrt());
        square += e.dot(low.covariance.inverse() * e);
        bend += check->bend_m->dot(check->bend_covariance->inverse() * *check->bend_m);
        real += check->bend_is_real ? 1 : 0;
        stated += low.scatter_as_stated ? 1 : 0;
    }
    EXPECT_NEAR(sum.x() / kRuns, 0.0, four_sds(kRuns));
    EXPECT_NEAR(sum.y() / kRuns, 0.0, four_sds(kRuns));
    EXPECT_NEAR(square / kRuns, 2.0, four_sds(kRuns) * 2.0);  // χ² with 2 has sd 2
    EXPECT_NEAR(bend / kRuns, 2.0, four_sds(kRuns) * 2.0);
    EXPECT_NEAR(real / double{kRuns}, 0.05, four_sds(kRuns) * std::sqrt(0.05 * 0.95));
    EXPECT_NEAR(stated / double{kRuns}, 0.95, four_sds(kRuns) * std::sqrt(0.05 * 0.95));
}

TEST(rod_check, one_turn_only_or_nothing_gives_nothing) {
    Random random(1);
    auto sights = turns(random, 1.0, {0, 0}, careful(), 0.0);
    sights.resize(1);
    EXPECT_FALSE(rod_check(sights, careful()));
    EXPECT_FALSE(rod_check({}, careful()));
    sights.push_back(sights.front());
    EXPECT_FALSE(rod_check(sights, careful()));
}

TEST(rod_check, half_a_turn_alone_gives_the_lean_without_spare) {
    Random random(1);
    auto all = turns(random, 1.0, {0.002, 0.001}, careful(), 0.0);
    const std::vector<RodSight> half{all[0], all[2]};
    const auto check = rod_check(half, careful());
    ASSERT_TRUE(check);
    EXPECT_EQ(check->leans[0].dof, 0);
    EXPECT_NEAR(check->leans[0].offset_m.x(), 0.002, 1e-6);
    EXPECT_FALSE(check->bend_m);
}

}  // namespace
}  // namespace layproof::vet
