#include "infer/log_weights.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace layproof::infer {
namespace {

constexpr double kNone = -std::numeric_limits<double>::infinity();

TEST(log_weights, sums_are_those_of_the_numbers) {
    const std::vector<double> logs{std::log(2.0), std::log(0.5), std::log(1.5)};
    EXPECT_NEAR(ln_sum_exp(logs), std::log(4.0), 1e-15);
    EXPECT_NEAR(ln_mean_exp(logs), std::log(4.0 / 3.0), 1e-15);
    LogSum sum;
    for (const double log : logs) sum.add(log);
    EXPECT_NEAR(sum.value(), std::log(4.0), 1e-15);
    const std::vector<double> shares = shares_of(logs);
    EXPECT_NEAR(shares[0], 0.5, 1e-15);
    EXPECT_NEAR(shares[1], 0.125, 1e-15);
}

TEST(log_weights, far_apart_and_large_numbers_stay_in_range) {
    const std::vector<double> logs{5000.0, -5000.0, 5000.0 + std::log(3.0)};
    EXPECT_NEAR(ln_sum_exp(logs), 5000.0 + std::log(4.0), 1e-12);
    LogSum sum;
    for (const double log : logs) sum.add(log);
    EXPECT_NEAR(sum.value(), 5000.0 + std::log(4.0), 1e-12);
    EXPECT_NEAR(shares_of(logs)[2], 0.75, 1e-12);
}

TEST(log_weights, nothing_has_no_share) {
    EXPECT_EQ(ln_sum_exp({}), kNone);
    EXPECT_EQ(ln_mean_exp({}), kNone);
    EXPECT_EQ(LogSum().value(), kNone);
    EXPECT_TRUE(shares_of({}).empty());
    const std::vector<double> impossible{kNone, kNone};
    EXPECT_EQ(ln_sum_exp(impossible), kNone);
    EXPECT_EQ(shares_of(impossible), (std::vector<double>{0.0, 0.0}));
    LogSum sum;
    sum.add(kNone);
    sum.add(1.0);
    sum.add(kNone);
    EXPECT_EQ(sum.value(), 1.0);
}

}  // namespace
}  // namespace layproof::infer
