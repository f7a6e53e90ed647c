#include "frame/conformity.hpp"

#include <gtest/gtest.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "base/random.hpp"
#include "support/reference.hpp"

namespace layproof::frame {
namespace {

using Eigen::Matrix2d;
using Eigen::Matrix3d;
using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

Matrix2d covariance(double sd_a, double sd_b, double turn) {
    const Vector2d a(std::cos(turn), std::sin(turn));
    const Vector2d b(-std::sin(turn), std::cos(turn));
    return sd_a * sd_a * a * a.transpose() + sd_b * sd_b * b * b.transpose();
}

/// The same probability by another road: chords across the circle in many strips, each by erf along
/// one axis given the other. x = R sin t takes the root singularity of the chord's ends away.
double by_strips(const Vector2d& mean, const Matrix2d& c, double radius, int strips) {
    const double sd_x = std::sqrt(c(0, 0));
    const double slope = c(0, 1) / c(0, 0);
    const double sd_y = std::sqrt(std::max(0.0, c(1, 1) - slope * c(0, 1)));
    double total = 0.0;
    for (int i = 0; i < strips; ++i) {
        const double t = std::numbers::pi * ((i + 0.5) / strips - 0.5);
        const double x = radius * std::sin(t);
        const double half = radius * std::cos(t);
        const double z = (x - mean.x()) / sd_x;
        total += std::exp(-0.5 * z * z) / sd_x * half *
                 probability_within(mean.y() + slope * (x - mean.x()), sd_y, half);
    }
    return total * std::numbers::pi / strips / std::sqrt(2.0 * std::numbers::pi);
}

// Two-sided ± limits. Values: own numerical integration, four printed decimals.
TEST(Within, deviation_against_a_quarter_inch_agrees) {
    const double t = 6.35;
    const double half = 5e-5;
    EXPECT_NEAR(probability_within(2.0, 1.5, t), 0.9981, half);
    EXPECT_NEAR(probability_within(4.0, 1.5, t), 0.9414, half);
    EXPECT_NEAR(probability_within(5.0, 1.5, t), 0.8159, half);
    EXPECT_NEAR(probability_within(6.0, 1.5, t), 0.5922, half);
    EXPECT_NEAR(probability_within(6.35, 1.5, t), 0.5000, half);
    EXPECT_NEAR(probability_within(2.237, 2.5, t), 0.9497, half);
    EXPECT_NEAR(probability_within(1.35, 2.5, t), 0.9762, half);
    EXPECT_NEAR(probability_within(1.415, 3.0, t), 0.9452, half);
    EXPECT_NEAR(probability_within(0.35, 3.0, t), 0.9645, half);
}

TEST(Within, published_specific_risks_agree) {
    // One item between 9 and 11: 1 − P(within) is the sum of both tails.
    const testing::Reference reference("conformity-global-risk");
    const double sd = reference.number("specific.sd");
    const auto outside = [&](double mean) {
        return 1.0 - probability_within(mean - 10.0, sd, 1.0);
    };
    EXPECT_NEAR(outside(10.0),
                reference.expected("specific_10.below").value +
                    reference.expected("specific_10.above").value,
                1.2e-5);
    EXPECT_NEAR(outside(10.5),
                reference.expected("specific_10.5.below").value +
                    reference.expected("specific_10.5.above").value,
                1.2e-5);
    reference.check("specific_12.0.above", outside(12.0));
}

TEST(Within, one_sided_limit_is_half_of_a_wide_two_sided_one) {
    // Upper limit only: the lower limit is put out of reach by moving the middle far down.
    const testing::Reference reference("conformity-zener");
    const double upper = reference.number("case.upper_limit_V");
    const double middle = upper - 1000.0;
    const double p = probability_within(reference.number("case.measured_V") - middle,
                                        reference.number("case.standard_uncertainty_V"), 1000.0);
    reference.check("probability_conforming", p);
    reference.check("probability_full", p);
}

TEST(Within, degenerate_input_gives_a_step_and_never_nan) {
    EXPECT_EQ(probability_within(1.0, 0.0, 1.0), 1.0);
    EXPECT_EQ(probability_within(-1.0, 0.0, 1.0), 1.0);
    EXPECT_EQ(probability_within(1.0000001, 0.0, 1.0), 0.0);
    EXPECT_EQ(probability_within(0.0, 1.0, 0.0), 0.0);
    EXPECT_EQ(probability_within(0.0, 0.0, 0.0), 1.0);
    EXPECT_EQ(probability_within(0.0, 1.0, -1.0), 0.0);
    EXPECT_EQ(probability_within(5.0, 1.0, kInf), 1.0);
    EXPECT_EQ(probability_within(kNan, 1.0, 1.0), 0.0);
    EXPECT_EQ(probability_within(0.0, kNan, 1.0), 0.0);
    EXPECT_EQ(probability_within(0.0, kInf, 1.0), 0.0);
    EXPECT_EQ(probability_within(0.0, 1.0, kNan), 0.0);
    EXPECT_EQ(probability_within(kInf, 1.0, kInf), 0.0);
    EXPECT_EQ(probability_within(1e300, 1e-300, 1.0), 0.0);
    EXPECT_EQ(probability_within(0.0, 1e-300, 1.0), 1.0);
}

// Noncentral chi-square values, own computation, four printed decimals.
TEST(WithinCircle, equal_axes_against_a_quarter_inch_agree) {
    const double r = 6.35;
    const double half = 5e-5;
    const auto p = [&](double y, double u) {
        return probability_within_circle({0.6 * y, -0.8 * y}, u * u * Matrix2d::Identity(), r);
    };
    EXPECT_NEAR(p(0.0, 1.5), 0.9999, half);
    EXPECT_NEAR(p(2.0, 1.5), 0.9965, half);
    EXPECT_NEAR(p(3.0, 1.5), 0.9804, half);
    EXPECT_NEAR(p(4.0, 1.5), 0.9218, half);
    EXPECT_NEAR(p(5.0, 1.5), 0.7781, half);
    EXPECT_NEAR(p(0.0, 2.5), 0.9603, half);
    EXPECT_NEAR(p(2.0, 2.5), 0.9156, half);
    EXPECT_NEAR(p(3.0, 2.5), 0.8515, half);
    EXPECT_NEAR(p(4.0, 2.5), 0.7527, half);
    EXPECT_NEAR(p(5.0, 2.5), 0.6220, half);
}

TEST(WithinCircle, centred_equal_axes_have_a_closed_form) {
    for (double sd = 1e-3; sd < 1e3; sd *= 1.7) {
        const double p = probability_within_circle({0, 0}, sd * sd * Matrix2d::Identity(), 1.0);
        EXPECT_NEAR(p, -std::expm1(-0.5 / (sd * sd)), 1e-11) << sd;
    }
}

TEST(WithinCircle, random_cases_agree_with_strips) {
    Random random(17);
    double worst = 0.0;
    for (int i = 0; i < 800; ++i) {
        const double major = std::pow(10.0, random.uniform(-1.7, 1.0));
        const double minor = major * std::pow(10.0, random.uniform(-1.3, 0.0));
        const Matrix2d c = covariance(major, minor, random.uniform(0.0, 3.2));
        const double off = random.uniform(0.0, 1.0 + 3.0 * std::min(major, 1.0));
        const double to = random.uniform(0.0, 6.3);
        const Vector2d mean(off * std::cos(to), off * std::sin(to));
        worst = std::max(worst, std::abs(probability_within_circle(mean, c, 1.0) -
                                         by_strips(mean, c, 1.0, 2000)));
    }
    EXPECT_LT(worst, 1e-9);
}

/// Axes about the size below which pieces of the circle take the place of even angles.
TEST(WithinCircle, both_sums_agree_with_strips_where_one_hands_over_to_the_other) {
    Random random(19);
    for (const double minor : {0.0685, 0.0689, 0.0690, 0.0695, 0.0710}) {
        for (int i = 0; i < 40; ++i) {
            // Strips across the minor axis, which lies along x.
            const Matrix2d c = covariance(minor, random.uniform(minor, 0.4), 0.0);
            const double off = 1.0 + random.uniform(-4.0, 4.0) * minor;
            const double to = random.uniform(0.0, 6.3);
            const Vector2d mean(off * std::cos(to), off * std::sin(to));
            EXPECT_NEAR(probability_within_circle(mean, c, 1.0), by_strips(mean, c, 1.0, 4000),
                        2e-10)
                << minor << ' ' << off << ' ' << to;
        }
    }
}

TEST(WithinCircle, thin_and_small_ellipses_agree_with_strips) {
    Random random(18);
    double worst = 0.0;
    for (int i = 0; i < 40; ++i) {
        const double major = std::pow(10.0, random.uniform(-3.5, 1.0));
        const double minor = major * std::pow(10.0, random.uniform(-3.0, 0.0));
        // Strips across the minor axis, which lies along x here; near the edge and off it.
        Matrix2d c = Matrix2d::Zero();
        c(0, 0) = std::max(minor * minor, 1e-8);
        c(1, 1) = major * major;
        const double off = 1.0 + random.uniform(-2.0, 2.0) * std::min(0.5, major);
        const double to = random.uniform(0.0, 6.3);
        const Vector2d mean(off * std::cos(to), off * std::sin(to));
        worst = std::max(worst, std::abs(probability_within_circle(mean, c, 1.0) -
                                         by_strips(mean, c, 1.0, 400000)));
    }
    EXPECT_LT(worst, 1e-9);
}

TEST(WithinCircle, one_axis_without_spread_is_a_chord) {
    for (const double m2 : {0.0, 0.3, -0.9}) {
        Matrix2d c = Matrix2d::Zero();
        c(0, 0) = 0.25;
        const double half = std::sqrt(1.0 - m2 * m2);
        EXPECT_NEAR(probability_within_circle({0.4, m2}, c, 1.0),
                    probability_within(0.4, 0.5, half), 3e-8);
    }
    Matrix2d c = Matrix2d::Zero();
    c(0, 0) = 0.25;
    EXPECT_NEAR(probability_within_circle({0.0, 1.01}, c, 1.0), 0.0, 1e-12);
}

TEST(WithinCircle, random_numbers_fall_inside_as_often_as_said) {
    Random random(23);
    const int draws = 200000;
    for (int run = 0; run < 6; ++run) {
        const double a = random.uniform(0.5, 4.0);
        const double b = random.uniform(0.1, 4.0);
        const double turn = random.uniform(0.0, 3.0);
        const Vector2d mean(random.uniform(-5, 5), random.uniform(-5, 5));
        int inside = 0;
        for (int i = 0; i < draws; ++i) {
            const double u = a * random.normal();
            const double v = b * random.normal();
            const Vector2d d = mean + Vector2d(u * std::cos(turn) - v * std::sin(turn),
                                               u * std::sin(turn) + v * std::cos(turn));
            if (d.norm() <= 6.35) ++inside;
        }
        const double p = probability_within_circle(mean, covariance(a, b, turn), 6.35);
        EXPECT_NEAR(static_cast<double>(inside) / draws, p,
                    4.0 * std::sqrt(p * (1.0 - p) / draws) + 1e-5);
    }
}

TEST(WithinCircle, turning_the_site_and_changing_the_unit_change_nothing) {
    Random random(29);
    for (int i = 0; i < 300; ++i) {
        const double a = random.uniform(0.1, 3.0);
        const double b = random.uniform(0.1, 3.0);
        const double turn = random.uniform(0.0, 6.0);
        const Vector2d mean(random.uniform(-2, 2), random.uniform(-2, 2));
        const double p = probability_within_circle(mean, covariance(a, b, 0.3), 2.0);
        const Eigen::Rotation2Dd r(turn);
        EXPECT_NEAR(probability_within_circle(r * mean, covariance(a, b, 0.3 + turn), 2.0), p,
                    2e-10);
        const double k = 0.3048e-3;
        EXPECT_NEAR(probability_within_circle(k * mean, k * k * covariance(a, b, 0.3), k * 2.0), p,
                    2e-10);
    }
}

TEST(WithinCircle, extreme_sizes_are_finite_and_ordered) {
    for (const double sd : {0.0, 1e-160, 1e-30, 1e-12, 1e-9, 1e-8, 1e-7, 2e-7, 1e-5, 1e-2, 1.0, 1e5,
                            1e12, 1e20, 1e100, 1e150, 1e154}) {
        for (const double thin : {0.0, 1e-9, 1e-3, 1.0}) {
            double before = 1.0;
            for (const double off : {0.0, 0.5, 0.99, 0.999999, 1.0, 1.000001, 1.01, 2.0, 1e9}) {
                const double p =
                    probability_within_circle({off, 0.0}, covariance(sd, sd * thin, 1.1), 1.0);
                ASSERT_TRUE(p >= 0.0 && p <= 1.0) << sd << ' ' << thin << ' ' << off;
                EXPECT_LE(p, before + 1e-7) << sd << ' ' << thin << ' ' << off;
                before = p;
            }
        }
    }
}

TEST(WithinCircle, small_ellipse_sees_a_straight_edge_on_both_sides_of_the_switch) {
    for (const double sd : {0.99e-7, 1.01e-7}) {
        for (const double z : {-2.0, 0.0, 1.5}) {
            const double p =
                probability_within_circle({0.0, 1.0 + z * sd}, covariance(sd, sd, 0.0), 1.0);
            EXPECT_NEAR(p, 0.5 * std::erfc(z / std::numbers::sqrt2), 3e-8) << sd << ' ' << z;
        }
    }
}

TEST(WithinCircle, zero_covariance_is_a_step) {
    EXPECT_EQ(probability_within_circle({0.6, 0.8}, Matrix2d::Zero(), 1.0), 1.0);
    EXPECT_EQ(probability_within_circle({0.6, 0.81}, Matrix2d::Zero(), 1.0), 0.0);
    EXPECT_EQ(probability_within_circle({0.0, 0.0}, Matrix2d::Zero(), 0.0), 1.0);
}

TEST(WithinCircle, input_that_is_not_finite_proves_nothing) {
    const Matrix2d one = Matrix2d::Identity();
    EXPECT_EQ(probability_within_circle({kNan, 0}, one, 1.0), 0.0);
    EXPECT_EQ(probability_within_circle({0, kInf}, one, 1.0), 0.0);
    EXPECT_EQ(probability_within_circle({0, 0}, kNan * one, 1.0), 0.0);
    EXPECT_EQ(probability_within_circle({0, 0}, kInf * one, 1.0), 0.0);
    EXPECT_EQ(probability_within_circle({0, 0}, one, kNan), 0.0);
    EXPECT_EQ(probability_within_circle({0, 0}, one, -1.0), 0.0);
    EXPECT_EQ(probability_within_circle({0, 0}, one, kInf), 1.0);
    EXPECT_EQ(probability_within_circle({0, 0}, -1e-20 * one, 1.0), 1.0);
}

Matrix3d covariance_3d(const Matrix2d& plan, double sd_h, double rho_e, double rho_n) {
    Matrix3d c = Matrix3d::Zero();
    c.topLeftCorner<2, 2>() = plan;
    c(2, 2) = sd_h * sd_h;
    c(0, 2) = c(2, 0) = rho_e * sd_h * std::sqrt(plan(0, 0));
    c(1, 2) = c(2, 1) = rho_n * sd_h * std::sqrt(plan(1, 1));
    return c;
}

TEST(WithinCircleAndHeight, independent_parts_multiply) {
    const Matrix2d plan = covariance(1.5, 0.8, 0.4);
    const double p =
        probability_within_circle_and_height({2, 1, 3}, covariance_3d(plan, 2, 0, 0), 4.0, 5.0);
    EXPECT_NEAR(p, probability_within_circle({2, 1}, plan, 4.0) * probability_within(3, 2, 5.0),
                1e-14);
}

TEST(WithinCircleAndHeight, vanishing_correlation_meets_the_product) {
    const Matrix2d plan = covariance(1.5, 0.8, 0.4);
    const double p = probability_within_circle_and_height(
        {2, 1, 3}, covariance_3d(plan, 2, 1e-6, -1e-6), 4.0, 5.0);
    const double product =
        probability_within_circle({2, 1}, plan, 4.0) * probability_within(3, 2, 5.0);
    EXPECT_NEAR(p, product, 2e-6);
}

TEST(WithinCircleAndHeight, random_numbers_fall_inside_as_often_as_said) {
    Random random(31);
    const int draws = 200000;
    for (int run = 0; run < 6; ++run) {
        Matrix3d l = Matrix3d::Zero();
        for (int r = 0; r < 3; ++r) {
            for (int c = 0; c < r; ++c) l(r, c) = random.uniform(-1.5, 1.5);
            l(r, r) = random.uniform(0.2, 2.0);
        }
        const Vector3d mean(random.uniform(-2, 2), random.uniform(-2, 2), random.uniform(-2, 2));
        int inside = 0;
        for (int i = 0; i < draws; ++i) {
            const Vector3d d =
                mean + l * Vector3d(random.normal(), random.normal(), random.normal());
            if (d.head<2>().norm() <= 4.0 && std::abs(d.z()) <= 2.5) ++inside;
        }
        const double p = probability_within_circle_and_height(mean, l * l.transpose(), 4.0, 2.5);
        EXPECT_NEAR(static_cast<double>(inside) / draws, p,
                    4.0 * std::sqrt(p * (1.0 - p) / draws) + 1e-5);
    }
}

TEST(WithinCircleAndHeight, correlated_cases_agree_with_fine_strips_of_height) {
    Random random(37);
    for (int run = 0; run < 40; ++run) {
        const Matrix2d plan = covariance(random.uniform(0.3, 3.0), random.uniform(0.3, 3.0), 0.0);
        const double rho = run < 30 ? random.uniform(-0.7, 0.7) : 0.7;
        const double sd_h = random.uniform(0.3, 3.0);
        const Matrix3d c = covariance_3d(plan, sd_h, rho, run < 30 ? 0.5 : 0.7);
        const Vector3d mean(random.uniform(-3, 3), random.uniform(-3, 3), random.uniform(-3, 3));
        // Simpson's rule over thousands of strips of height.
        const Vector2d lean = c.block<2, 1>(0, 2) / sd_h;
        const Matrix2d given = plan - lean * lean.transpose();
        const double from = std::max(-2.5, mean.z() - 8.0 * sd_h);
        const double to = std::min(2.5, mean.z() + 8.0 * sd_h);
        const int strips = 2000;
        double sum = 0.0;
        for (int i = 0; i <= strips; ++i) {
            const double weight = i == 0 || i == strips ? 1.0 : (i % 2 == 1 ? 4.0 : 2.0);
            const double z = (from + (to - from) * i / strips - mean.z()) / sd_h;
            sum += weight * std::exp(-0.5 * z * z) *
                   probability_within_circle(mean.head<2>() + z * lean, given, 3.0);
        }
        sum *= (to - from) / strips / 3.0 / sd_h / std::sqrt(2.0 * std::numbers::pi);
        EXPECT_NEAR(probability_within_circle_and_height(mean, c, 3.0, 2.5), sum, 1e-8);
    }
}

TEST(WithinCircleAndHeight, degenerate_and_unbound_limits_are_steps) {
    const Matrix3d one = Matrix3d::Identity();
    EXPECT_EQ(probability_within_circle_and_height({0, 0, 0}, Matrix3d::Zero(), 1, 1), 1.0);
    EXPECT_EQ(probability_within_circle_and_height({0, 0, 2}, Matrix3d::Zero(), 1, 1), 0.0);
    EXPECT_EQ(probability_within_circle_and_height({0, 2, 0}, Matrix3d::Zero(), 1, 1), 0.0);
    EXPECT_NEAR(probability_within_circle_and_height({1, 0, 0}, one, 2.0, kInf),
                probability_within_circle({1, 0}, Matrix2d::Identity(), 2.0), 1e-15);
    EXPECT_NEAR(probability_within_circle_and_height({1, 0, 0.5}, one, kInf, 2.0),
                probability_within(0.5, 1.0, 2.0), 1e-15);
    EXPECT_EQ(probability_within_circle_and_height({0, 0, kNan}, one, 1, 1), 0.0);
    EXPECT_EQ(probability_within_circle_and_height({0, 0, 0}, kNan * one, 1, 1), 0.0);
    EXPECT_EQ(probability_within_circle_and_height({0, 0, 0}, one, 1, kNan), 0.0);
    // Fully correlated: height and east are one number.
    Matrix3d same = Matrix3d::Zero();
    same(0, 0) = same(2, 2) = same(0, 2) = same(2, 0) = 1.0;
    EXPECT_NEAR(probability_within_circle_and_height({0, 0, 0}, same, 1.5, 1.0),
                probability_within(0, 1, 1.0), 1e-6);
    EXPECT_NEAR(probability_within_circle_and_height({0, 0, 0}, same, 1.0, 1.5),
                probability_within(0, 1, 1.0), 2e-3);
}

}  // namespace
}  // namespace layproof::frame
