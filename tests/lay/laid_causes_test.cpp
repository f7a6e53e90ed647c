// Invented rows of points with known truth: what was planted is named, and a sound day has no
// cause.

#include "lay/laid_causes.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "base/random.hpp"

namespace layproof::lay {
namespace {

using Eigen::Vector3d;

struct Row {
    std::vector<LaidDeviation> laid;
    std::vector<DesignPlace> designs;
};

/// Twenty points on a grid of 5 m, four rows of five, measured to 2 mm and laid to 3 mm.
Row drawn(std::uint64_t seed) {
    Random random(seed);
    Row out;
    for (int i = 0; i < 20; ++i) {
        LaidDeviation one;
        one.name = "P" + std::to_string(i + 1);
        one.design_m = Vector3d(5.0 * (i % 5), 5.0 * (i / 5), 10.0);
        for (int axis = 0; axis < 3; ++axis) one.deviation_m[axis] = 0.0036 * random.normal();
        one.covariance = 4e-6 * Eigen::Matrix3d::Identity();
        one.has_height = true;
        one.setup = i / 10;
        out.designs.push_back({one.name, one.design_m.head<2>()});
        out.laid.push_back(std::move(one));
    }
    return out;
}

std::vector<LaidCause> causes(const Row& row, const BuildingGrid& grid = {}) {
    return laid_causes(row.laid, row.designs, grid);
}

TEST(laid_causes, sound_day_has_none) {
    int told = 0;
    for (std::uint64_t seed = 1; seed <= 300; ++seed) told += causes(drawn(seed)).empty() ? 0 : 1;
    EXPECT_LT(told, 3);
}

TEST(laid_causes, bolts_a_foot_high_are_one_cause_with_the_amount) {
    Row row = drawn(7);
    for (std::size_t i = 2; i < 9; ++i) row.laid[i].deviation_m.z() += 0.3048;
    const auto found = causes(row);
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(found[0].kind, LaidCauseKind::off_in_height);
    EXPECT_EQ(found[0].points, (std::vector<int>{2, 3, 4, 5, 6, 7, 8}));
    EXPECT_NEAR(found[0].amount_m.z(), 0.3048, 4.0 * found[0].sd_m.z());
    EXPECT_GT(found[0].probability, 0.99);
}

TEST(laid_causes, point_on_anothers_place_is_named) {
    Row row = drawn(8);
    row.laid[3].deviation_m.head<2>() += row.designs[4].plan_m - row.designs[3].plan_m;
    const auto found = causes(row);
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(found[0].kind, LaidCauseKind::on_anothers_place);
    EXPECT_EQ(found[0].other, "P5");
    EXPECT_EQ(found[0].points, (std::vector<int>{3}));
}

TEST(laid_causes, row_from_a_wrong_line_is_one_cause_named_by_its_line) {
    Row row = drawn(9);
    for (std::size_t i = 5; i < 10; ++i) row.laid[i].deviation_m.y() += 0.6096;
    frame::GridLine line;
    line.name = "B";
    line.start_m = Eigen::Vector2d(0.0, 5.0);
    line.end_m = Eigen::Vector2d(20.0, 5.0);
    frame::GridLine other = line;
    other.name = "A";
    other.start_m.y() = other.end_m.y() = 0.0;
    const auto found = causes(row, BuildingGrid({other, line}));
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(found[0].kind, LaidCauseKind::shifted_in_plan);
    EXPECT_EQ(found[0].points.size(), 5U);
    EXPECT_NEAR(found[0].amount_m.y(), 0.6096, 0.006);
    EXPECT_NEAR(found[0].amount_m.x(), 0.0, 0.006);
}

TEST(laid_causes, one_bad_point_is_no_common_cause) {
    Row row = drawn(10);
    row.laid[3].deviation_m.x() += 0.05;
    row.laid[11].deviation_m.z() += 0.1;
    EXPECT_TRUE(causes(row).empty());
}

TEST(laid_causes, two_amounts_in_a_row_are_two_causes) {
    Row row = drawn(11);
    for (std::size_t i = 0; i < 5; ++i) row.laid[i].deviation_m.z() += 0.3048;
    for (std::size_t i = 5; i < 10; ++i) row.laid[i].deviation_m.z() -= 0.1;
    EXPECT_EQ(causes(row).size(), 2U);
}

double normal(double off, double variance) {
    return std::exp(-0.5 * off * off / variance) / std::sqrt(2.0 * std::numbers::pi * variance);
}

/// Laid well or slipped; `axes`: of the same kind, at once.
double alone(double squared_off, double variance, int axes) {
    const auto density = [&](double v) {
        return std::exp(-0.5 * squared_off / v) / std::pow(2.0 * std::numbers::pi * v, 0.5 * axes);
    };
    double sum = (1.0 - kSlipChance) * density(variance);
    for (const double slip : kSlips_m) sum += kSlipChance / 3.0 * density(variance + slip * slip);
    return sum;
}

TEST(laid_causes, shared_amount_is_integrated_over_its_prior) {
    Row row = drawn(13);
    row.laid.resize(3);
    const double off[] = {0.0165, 0.0180, 0.0171};
    for (std::size_t i = 0; i < 3; ++i) row.laid[i].deviation_m = Vector3d(0.0, 0.0, off[i]);
    const auto found = causes(row);
    ASSERT_EQ(found.size(), 1U);
    const double variance = 4e-6 + kLaidWell_m * kLaidWell_m;
    double together = 0.0;
    constexpr double kStep_m = 1e-5;
    for (double amount = -0.2; amount < 0.2; amount += kStep_m) {
        double one = normal(amount, kSharedAmount_m * kSharedAmount_m) * kStep_m;
        for (const double d : off) one *= normal(d - amount, variance);
        together += one;
    }
    double apart = 1.0;
    for (const double d : off) apart *= alone(d * d, variance, 1);
    const double odds = kOffInHeightOdds / 3.0 * together / apart;
    EXPECT_NEAR(found[0].probability, odds / (1.0 + odds), 1e-6);
}

TEST(laid_causes, name_is_weighed_against_a_slip) {
    Row row = drawn(14);
    row.laid.resize(1);
    row.designs = {{"P1", {0.0, 0.0}}, {"Q", {0.025, 0.0}}};
    row.laid[0].design_m.setZero();
    row.laid[0].deviation_m = Vector3d(0.026, 0.0, 0.0);
    const auto found = causes(row);
    ASSERT_EQ(found.size(), 1U);
    EXPECT_EQ(found[0].other, "Q");
    const double variance = 4e-6 + kLaidWell_m * kLaidWell_m;
    const double odds = kOnAnotherOdds * normal(0.001, variance) * normal(0.0, variance) /
                        alone(0.026 * 0.026, variance, 2);
    EXPECT_NEAR(found[0].probability, odds / (1.0 + odds), 1e-9);
    EXPECT_GT(found[0].probability, 0.9);
    EXPECT_LT(found[0].probability, 0.99);
}

TEST(laid_causes, what_is_not_finite_or_not_there_tells_nothing) {
    EXPECT_TRUE(laid_causes({}, {}, {}).empty());
    Row row = drawn(12);
    row.laid[0].deviation_m.x() = std::nan("");
    row.laid[1].covariance(0, 0) = std::nan("");
    for (LaidDeviation& one : row.laid) one.has_height = false;
    for (const LaidCause& cause : causes(row)) EXPECT_TRUE(std::isfinite(cause.probability));
}

}  // namespace
}  // namespace layproof::lay
