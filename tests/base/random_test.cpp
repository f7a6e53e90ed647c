#include "base/random.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>

namespace layproof {
namespace {

// First words for seed 1. No published source: they were computed by a separate implementation in
// another language from the paper's definition, so they hold the generator to its definition.
TEST(random, seed_one_gives_the_pinned_words) {
    constexpr std::array<std::uint64_t, 4> kExpected{0xB3F2AF6D0FC710C5ULL, 0x853B559647364CEAULL,
                                                     0x92F89756082A4514ULL, 0x642E1C7BC266A3A7ULL};
    Random random(1);
    for (const std::uint64_t expected : kExpected) EXPECT_EQ(random.bits(), expected);
}

TEST(random, same_seed_gives_the_same_sequence) {
    Random a(42);
    Random b(42);
    for (int i = 0; i < 1000; ++i) EXPECT_EQ(a.normal(), b.normal());
}

TEST(random, neighbouring_seeds_give_different_sequences) {
    Random a(7);
    Random b(8);
    int equal = 0;
    for (int i = 0; i < 1000; ++i) equal += a.bits() == b.bits() ? 1 : 0;
    EXPECT_EQ(equal, 0);
}

TEST(random, seed_zero_is_not_a_dead_state) {
    Random random(0);
    std::uint64_t any = 0;
    for (int i = 0; i < 8; ++i) any |= random.bits();
    EXPECT_NE(any, 0U);
}

TEST(random, uniform_stays_in_its_range_and_fills_it) {
    constexpr int kRuns = 100'000;
    Random random(3);
    std::array<int, 10> bins{};
    for (int i = 0; i < kRuns; ++i) {
        const double x = random.uniform();
        ASSERT_GE(x, 0.0);
        ASSERT_LT(x, 1.0);
        ++bins[static_cast<std::size_t>(x * 10.0)];
    }
    // Binomial with p = 0.1: 4 standard errors of a bin count.
    const double tolerance = 4.0 * std::sqrt(kRuns * 0.1 * 0.9);
    for (const int count : bins) EXPECT_NEAR(count, kRuns * 0.1, tolerance);
}

TEST(random, uniform_between_limits_stays_between_them) {
    Random random(4);
    double low = std::numeric_limits<double>::infinity();
    double high = -low;
    for (int i = 0; i < 10'000; ++i) {
        const double x = random.uniform(-3.0, 5.0);
        low = std::min(low, x);
        high = std::max(high, x);
    }
    EXPECT_GE(low, -3.0);
    EXPECT_LT(low, -2.9);
    EXPECT_LT(high, 5.0);
    EXPECT_GT(high, 4.9);
}

TEST(random, below_gives_every_value_and_no_other) {
    Random random(5);
    std::array<int, 6> seen{};
    for (int i = 0; i < 6000; ++i) {
        const int x = random.below(6);
        ASSERT_GE(x, 0);
        ASSERT_LT(x, 6);
        ++seen[static_cast<std::size_t>(x)];
    }
    const double tolerance = 4.0 * std::sqrt(6000.0 * (1.0 / 6.0) * (5.0 / 6.0));
    for (const int count : seen) EXPECT_NEAR(count, 1000.0, tolerance);
}

// Moments of the standard normal: standard errors of mean, variance and fourth moment over n runs
// are 1/sqrt(n), sqrt(2/n) and sqrt(96/n).
TEST(random, normal_has_the_moments_of_the_standard_normal) {
    constexpr int kRuns = 200'000;
    Random random(6);
    double sum = 0.0;
    double sum2 = 0.0;
    double sum4 = 0.0;
    for (int i = 0; i < kRuns; ++i) {
        const double x = random.normal();
        sum += x;
        sum2 += x * x;
        sum4 += x * x * x * x;
    }
    EXPECT_NEAR(sum / kRuns, 0.0, 4.0 / std::sqrt(kRuns));
    EXPECT_NEAR(sum2 / kRuns, 1.0, 4.0 * std::sqrt(2.0 / kRuns));
    EXPECT_NEAR(sum4 / kRuns, 3.0, 4.0 * std::sqrt(96.0 / kRuns));
}

TEST(random, successive_normals_are_uncorrelated) {
    constexpr int kRuns = 200'000;
    Random random(9);
    double last = random.normal();
    double product = 0.0;
    for (int i = 0; i < kRuns; ++i) {
        const double next = random.normal();
        product += last * next;
        last = next;
    }
    EXPECT_NEAR(product / kRuns, 0.0, 4.0 / std::sqrt(kRuns));
}

}  // namespace
}  // namespace layproof
