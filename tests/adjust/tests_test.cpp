#include "adjust/tests.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <vector>

#include "adjust/functions.hpp"
#include "support/reference.hpp"

namespace layproof::adjust {
namespace {

using layproof::testing::Reference;

TEST(quantiles, every_published_and_computed_value_comes_out) {
    const Reference example("quantiles");
    int checked = 0;
    for (const auto& node : *example.table()["expect"].as_array()) {
        const auto& row = *node.as_table();
        const std::string what = row["what"].value<std::string>().value_or("");
        const auto cut = what.find('_');
        ASSERT_NE(cut, std::string::npos);
        const std::string kind = what.substr(0, cut);
        std::string rest = what.substr(cut + 1);
        std::vector<double> p;
        for (std::size_t end = 0; end != std::string::npos; rest = rest.substr(end + 1)) {
            end = rest.find('_');
            p.push_back(std::stod(rest.substr(0, end)));
            if (end == std::string::npos) break;
        }
        double actual = testing::kNan;
        if (kind == "normal") actual = normal_quantile(p[0]);
        if (kind == "chi2") actual = chi_square_quantile(p[0], p[1]);
        if (kind == "t") actual = student_quantile(p[0], p[1]);
        if (kind == "F") actual = fisher_quantile(p[0], p[1], p[2]);
        if (kind == "tau") actual = tau_quantile(2.0 * (1.0 - p[0]), static_cast<int>(p[1]));
        if (kind == "lambda0") actual = noncentrality(p[0], p[1], 1);
        if (kind == "delta0") actual = std::sqrt(noncentrality(p[0], p[1], 1));
        // The collection's Student values, and τ with them, are good to some 3e-9 only: see the
        // closed forms in the next test.
        const bool from_student = kind == "t" || kind == "tau";
        EXPECT_NEAR(actual, row["value"].value<double>().value_or(testing::kNan),
                    std::max(row["tol"].value<double>().value_or(0.0), from_student ? 3e-9 : 0.0))
            << what;
        // The collection's δ0 and λ0 leave the far tail out.
        const double digits = kind == "lambda0" || kind == "delta0" ? 1e-4
                              : from_student                        ? 3e-9
                                                                    : 1e-11;
        if (const auto computed = row["computed"].value<double>()) {
            EXPECT_NEAR(actual, *computed, digits * std::abs(*computed)) << what;
        }
        ++checked;
    }
    EXPECT_GE(checked, 50);
}

TEST(quantiles, student_with_one_and_two_degrees_of_freedom_has_its_closed_form) {
    for (const double p : {0.6, 0.9, 0.975, 0.9995}) {
        const double one = std::tan(std::numbers::pi * (p - 0.5));
        EXPECT_NEAR(student_quantile(p, 1.0), one, 1e-12 * one);
        const double u = 2.0 * p - 1.0;
        const double two = u * std::sqrt(2.0 / (1.0 - u * u));
        EXPECT_NEAR(student_quantile(p, 2.0), two, 1e-12 * two);
        EXPECT_NEAR(student_quantile(1.0 - p, 2.0), -two, 1e-12 * two);
    }
}

// Values computed independently (numerical integration and root finding).
TEST(quantiles, chi_square_limits_of_the_global_test) {
    const double table[][4] = {{1, 3.841, 6.635, 10.828},    {2, 5.991, 9.210, 13.816},
                               {3, 7.815, 11.345, 16.266},   {4, 9.488, 13.277, 18.467},
                               {5, 11.070, 15.086, 20.515},  {6, 12.592, 16.812, 22.458},
                               {10, 18.307, 23.209, 29.588}, {14, 23.685, 29.141, 36.123},
                               {20, 31.410, 37.566, 45.315}, {32, 46.194, 53.486, 62.487}};
    for (const auto& row : table) {
        EXPECT_NEAR(chi_square_quantile(0.95, row[0]), row[1], 5.1e-4);
        EXPECT_NEAR(chi_square_quantile(0.99, row[0]), row[2], 5.1e-4);
        EXPECT_NEAR(chi_square_quantile(0.999, row[0]), row[3], 5.1e-4);
    }
}

// Computed independently, as above.
TEST(noncentrality_of_a_test, one_dimension_gives_tabulated_lambda) {
    const double powers[] = {0.80, 0.90, 0.95, 0.99};
    const double table[][5] = {{0.001, 17.0746, 20.9039, 24.3580, 31.5493},
                               {0.005, 13.3127, 16.7165, 19.8193, 26.3516},
                               {0.01, 11.6790, 14.8794, 17.8142, 24.0313},
                               {0.05, 7.8489, 10.5074, 12.9947, 18.3725}};
    for (const auto& row : table) {
        for (std::size_t i = 0; i < 4; ++i)
            EXPECT_NEAR(noncentrality(row[0], powers[i], 1), row[i + 1], 5.1e-5) << row[0];
    }
    EXPECT_NEAR(std::sqrt(noncentrality(0.001, 0.80, 1)), 4.1321, 5.1e-5);
}

// Computed independently, as above.
TEST(noncentrality_of_a_test, several_dimensions_give_tabulated_lambda) {
    const int dimensions[] = {1, 2, 3, 4, 5, 6, 10, 20};
    const double at_001[] = {17.075, 19.662, 21.545, 23.100, 24.456, 25.674, 29.711, 37.073};
    const double at_05[] = {7.849, 9.635, 10.903, 11.935, 12.828, 13.624, 16.241, 20.961};
    for (std::size_t i = 0; i < 8; ++i) {
        EXPECT_NEAR(noncentrality(0.001, 0.80, dimensions[i]), at_001[i], 5.1e-4);
        EXPECT_NEAR(noncentrality(0.05, 0.80, dimensions[i]), at_05[i], 5.1e-4);
    }
}

// B-method: one λ0 and one power for every dimension, so that α depends on it. Computed
// independently, as above.
TEST(noncentrality_of_a_test, one_lambda_for_all_dimensions_gives_tabulated_significance) {
    const double lambda = noncentrality(0.001, 0.80, 1);
    const double table[][3] = {{1, .00100, 10.828}, {2, .00284, 11.730},  {3, .00550, 12.633},
                               {4, .00893, 13.538}, {5, .01302, 14.444},  {6, .01770, 15.350},
                               {8, .02842, 17.167}, {10, .04043, 18.987}, {15, .07307, 23.554},
                               {20, .1061, 28.141}, {30, .1667, 37.368},  {50, .2604, 55.983},
                               {100, .3955, 103.11}};
    for (const auto& [dimension, significance, critical] : table) {
        EXPECT_NEAR(chi_square_noncentral_probability(critical, dimension, lambda), 0.20, 1e-4)
            << dimension;
        const double digits = significance < 0.1 ? 5.1e-6 : 5.1e-5;
        // The printed k has three decimals (two for 100), whose effect on α is added.
        EXPECT_NEAR(1.0 - chi_square_probability(critical, dimension), significance,
                    digits + (dimension > 50 ? 2e-4 : 3e-5))
            << dimension;
    }
}

// Šidák and Bonferroni for a family significance of 0.05. Computed independently, as above.
TEST(quantiles, many_tests_at_once_give_tabulated_limits) {
    const double table[][3] = {{4, 2.491, 2.498},  {6, 2.631, 2.638},  {8, 2.727, 2.734},
                               {10, 2.800, 2.807}, {12, 2.858, 2.865}, {20, 3.016, 3.023},
                               {30, 3.137, 3.144}, {50, 3.283, 3.291}};
    for (const auto& [count, sidak, bonferroni] : table) {
        const double one = 1.0 - std::pow(0.95, 1.0 / count);
        EXPECT_NEAR(normal_quantile(1.0 - 0.5 * one), sidak, 5.1e-4);
        EXPECT_NEAR(normal_quantile(1.0 - 0.5 * 0.05 / count), bonferroni, 5.1e-4);
    }
}

// Computed independently, as above.
TEST(tau, tabulated_limits) {
    const double table[][4] = {
        {2, 1.4099, 1.4140, 1.4142},  {3, 1.6454, 1.7147, 1.7303},  {4, 1.7567, 1.9175, 1.9823},
        {5, 1.8143, 2.0509, 2.1781},  {6, 1.8481, 2.1421, 2.3292},  {8, 1.8848, 2.2562, 2.5407},
        {10, 1.9039, 2.3236, 2.6786}, {20, 1.9358, 2.4539, 2.9749}, {50, 1.9512, 2.5282, 3.1626}};
    for (const auto& [r, at_05, at_01, at_001] : table) {
        EXPECT_NEAR(tau_quantile(0.05, static_cast<int>(r)), at_05, 5.1e-5);
        EXPECT_NEAR(tau_quantile(0.01, static_cast<int>(r)), at_01, 5.1e-5);
        EXPECT_NEAR(tau_quantile(0.001, static_cast<int>(r)), at_001, 5.1e-5);
    }
    EXPECT_EQ(tau_quantile(0.05, 1), testing::kInfinity);
    EXPECT_EQ(tau_quantile(0.05, 0), testing::kInfinity);
    EXPECT_LE(tau_quantile(1e-300, 7), std::sqrt(7.0));
}

TEST(global_test, too_large_a_sum_fails_and_too_small_a_sum_passes) {
    const GlobalTest test = global_test(8.217, 3, 0.90);
    EXPECT_NEAR(test.upper, 7.815, 5.1e-4);
    EXPECT_NEAR(test.lower, 0.352, 5.1e-4);
    EXPECT_NEAR(test.variance_factor, 2.739, 1e-12);
    EXPECT_FALSE(test.passes);
    EXPECT_TRUE(global_test(0.01, 3).passes);
    const GlobalTest none = global_test(0.0, 0);
    EXPECT_TRUE(none.passes);
    EXPECT_EQ(none.variance_factor, 1.0);
}

TEST(quantiles, ends_and_nonsense_are_never_nan) {
    for (const double p :
         {-1.0, 0.0, 1e-300, 0.5, 1.0 - 1e-16, 1.0, 2.0, testing::kNan, testing::kInfinity}) {
        EXPECT_FALSE(std::isnan(normal_quantile(p)));
        for (const double dof : {-1.0, 0.0, 0.5, 1.0, 1e6, testing::kNan, testing::kInfinity}) {
            EXPECT_FALSE(std::isnan(chi_square_quantile(p, dof)));
            EXPECT_FALSE(std::isnan(student_quantile(p, dof)));
            EXPECT_FALSE(std::isnan(fisher_quantile(p, dof, 3.0)));
            EXPECT_FALSE(std::isnan(chi_square_probability(p, dof)));
            EXPECT_FALSE(std::isnan(chi_square_noncentral_probability(p, dof, p)));
        }
        for (const int n : {-1, 0, 1, 2, 30}) {
            EXPECT_FALSE(std::isnan(tau_quantile(p, n)));
            EXPECT_FALSE(std::isnan(noncentrality(p, 0.8, n)));
            EXPECT_FALSE(std::isnan(noncentrality(0.001, p, n)));
        }
    }
    EXPECT_EQ(normal_quantile(0.0), -testing::kInfinity);
    EXPECT_EQ(normal_quantile(1.0), testing::kInfinity);
}

TEST(quantiles, probability_of_the_quantile_is_the_probability) {
    for (const double p : {1e-12, 1e-3, 0.1, 0.5, 0.9, 0.999}) {
        EXPECT_NEAR(normal_probability(normal_quantile(p)), p, 1e-14);
        for (const double dof : {1.0, 2.5, 30.0, 1000.0})
            EXPECT_NEAR(chi_square_probability(chi_square_quantile(p, dof), dof), p, 1e-12);
    }
}

}  // namespace
}  // namespace layproof::adjust
