#include "plan/within_table.hpp"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <cmath>

#include "base/random.hpp"
#include "frame/conformity.hpp"

namespace layproof::plan {
namespace {

TEST(within_table, circle_agrees_with_the_exact_probability) {
    const WithinTable table;
    Random random(5);
    double worst = 0.0;
    double worst_below = 0.0;
    for (int i = 0; i < 4000; ++i) {
        const double a = std::exp(random.uniform(-16.0, -8.0));
        const double b = std::exp(random.uniform(-16.0, -8.0));
        const double c = random.uniform(-1.0, 1.0) * std::sqrt(a * b);
        Eigen::Matrix2d covariance;
        covariance << a, c, c, b;
        const double radius = std::exp(random.uniform(-7.5, -4.0));
        const double exact = frame::probability_within_circle({0.0, 0.0}, covariance, radius);
        double& error = exact >= 0.5 ? worst : worst_below;
        error = std::max(error, std::abs(table.circle(a, b, c, radius) - exact));
    }
    EXPECT_LT(worst, 1e-4);
    EXPECT_LT(worst_below, 1e-2);
}

TEST(within_table, three_readings_agree_with_the_exact_probability_of_a_shifted_circle) {
    const WithinTable table;
    Random random(6);
    double worst = 0.0;
    double as_spread = 0.0;
    for (int i = 0; i < 4000; ++i) {
        const double a = std::exp(random.uniform(-13.0, -11.0));
        const double b = std::exp(random.uniform(-13.0, -11.0));
        const double c = random.uniform(-0.9, 0.9) * std::sqrt(a * b);
        Eigen::Matrix2d covariance;
        covariance << a, c, c, b;
        const double radius = std::exp(random.uniform(-6.5, -4.5));
        Eigen::Vector2d by(random.normal(), random.normal());
        by *= std::sqrt(random.uniform() / by.dot(covariance.llt().solve(by)));
        const double exact = frame::probability_within_circle(by, covariance, radius);
        if (exact < 0.5) continue;
        double told = 0.0;
        for (std::size_t k = 0; k < 3; ++k) {
            const double share = static_cast<double>(WithinTable::kShift[k]);
            told += static_cast<double>(WithinTable::kShare[k]) *
                    table.circle(a + share * by.x() * by.x(), b + share * by.y() * by.y(),
                                 c + share * by.x() * by.y(), radius);
        }
        worst = std::max(worst, std::abs(told - exact));
        as_spread =
            std::max(as_spread, std::abs(table.circle(a + by.x() * by.x(), b + by.y() * by.y(),
                                                      c + by.x() * by.y(), radius) -
                                         exact));
    }
    EXPECT_LT(worst, 1e-3);
    EXPECT_GT(as_spread, 0.02);  // what one reading would give
}

TEST(within_table, height_agrees_with_the_exact_probability) {
    for (const double sd : {0.001, 0.004, 0.02})
        EXPECT_NEAR(WithinTable::height(sd * sd, 0.006), frame::probability_within(0, sd, 0.006),
                    1e-14);
}

TEST(within_table, no_spread_is_within_and_what_is_not_finite_is_not) {
    const WithinTable table;
    EXPECT_EQ(table.circle(0, 0, 0, 0.001), 1.0);
    EXPECT_EQ(table.circle(1e-6, 1e-6, 0, 1.0), 1.0);
    EXPECT_EQ(table.circle(1e-6, 1e-6, 0, NAN), 0.0);
    EXPECT_EQ(WithinTable::height(0.0, 0.001), 1.0);
    EXPECT_EQ(table.circle(NAN, 1e-6, 0, 0.001), 0.0);
}

}  // namespace
}  // namespace layproof::plan
