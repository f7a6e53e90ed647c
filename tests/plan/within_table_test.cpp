#include "plan/within_table.hpp"

#include <gtest/gtest.h>

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
    EXPECT_LT(worst_below, 2e-3);
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
}

}  // namespace
}  // namespace layproof::plan
