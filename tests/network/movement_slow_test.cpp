#include <gtest/gtest.h>

#include <cmath>

#include "cause/shipped.hpp"
#include "network/movement_study.hpp"

namespace layproof::testing {
namespace {

// The 1,000 jobs of docs/studies/movement.md are the seeds 0 to 999; these are some of them.
TEST(movement_study_slow, right_set_is_named_nearly_as_often_as_possible) {
    constexpr int kJobs = 150;
    int right = 0, possible = 0;
    for (int seed = 0; seed < kJobs; ++seed) {
        const MovementJob job = draw_movement_job(static_cast<std::uint64_t>(seed));
        const auto named = named_by_product(job.network, shipped_table()).first;
        right += named == job.moved ? 1 : 0;
        possible += job.best == job.moved ? 1 : 0;
    }
    const double n = kJobs;
    // 3 points, and four standard errors of the difference between two answers to the same jobs,
    // which differ in about one of twelve.
    const double error = 4.0 * std::sqrt(1.0 / 12.0 / n);
    EXPECT_GE(right / n, possible / n - 0.03 - error);
}

// Claims are judged where their frequencies are those of the table.
TEST(movement_study_slow, claimed_probabilities_are_reached) {
    constexpr int kJobs = 300;
    int right = 0;
    double claimed = 0.0;
    for (int seed = 0; seed < kJobs; ++seed) {
        const MovementJob job = draw_table_job(static_cast<std::uint64_t>(seed), shipped_table());
        const auto [named, probability] = likeliest_set(job.network, shipped_table());
        right += named == job.moved ? 1 : 0;
        claimed += probability;
    }
    const double n = kJobs;
    EXPECT_NEAR(claimed / n, right / n, 0.02 + 4.0 * std::sqrt(0.25 / n));
}

}  // namespace
}  // namespace layproof::testing
