#include "plan/choice.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

#include "base/random.hpp"
#include "support/invented_cover.hpp"

namespace layproof::plan {
namespace {

using test_support::Bits;
using test_support::invented_cover;

std::size_t fewest_by_trying_all(const CoverProblem& problem) {
    const std::size_t n = problem.places();
    std::size_t best = n + 1;
    for (std::size_t set = 0; set < (std::size_t{1} << n); ++set) {
        const auto count = static_cast<std::size_t>(std::popcount(set));
        if (count >= best) continue;
        std::vector<std::size_t> places;
        for (std::size_t p = 0; p < n; ++p)
            if ((set >> p & 1U) != 0) places.push_back(p);
        if (proven_by(problem, places) >= problem.needed) best = count;
    }
    return best;
}

TEST(choice, small_cases_equal_trying_all) {
    Random random(31);
    for (int round = 0; round < 120; ++round) {
        const std::size_t places = 4 + static_cast<std::size_t>(random.below(10));
        const std::size_t points = 10 + static_cast<std::size_t>(random.below(120));
        const Bits bits = invented_cover(random, places, points, random.uniform(12, 45), 0.3);
        CoverProblem problem{(points + 63) / 64, bits, 0};
        std::vector<std::size_t> all(places);
        std::iota(all.begin(), all.end(), 0U);
        problem.needed = static_cast<std::size_t>(
            std::floor(random.uniform(0.5, 1.0) * static_cast<double>(proven_by(problem, all))));
        const Choice choice = choose_places(problem);
        EXPECT_EQ(choice.places.size(), fewest_by_trying_all(problem)) << round;
        EXPECT_TRUE(choice.is_best()) << round;
        EXPECT_GE(choice.proven, problem.needed);
        EXPECT_EQ(choice.proven, proven_by(problem, choice.places));
    }
}

// Greedy choice against ours on 200 invented floors: never more places, and the bound holds.
TEST(choice, never_worse_than_greedy_on_two_hundred_floors) {
    Random random(77);
    std::size_t greedy = 0;
    std::size_t ours = 0;
    std::size_t bound = 0;
    int better = 0;
    int certified = 0;
    for (int floor = 0; floor < 200; ++floor) {
        const Bits bits = invented_cover(random, 120, 150, random.uniform(10, 25), 0.35);
        CoverProblem problem{3, bits, 0};
        std::vector<std::size_t> all(120);
        std::iota(all.begin(), all.end(), 0U);
        problem.needed =
            static_cast<std::size_t>(0.95 * static_cast<double>(proven_by(problem, all)));
        const Choice choice =
            choose_places(problem, {.exchange_steps = 2000, .bound_steps = 200, .branch_work = 0});
        EXPECT_LE(choice.places.size(), choice.greedy);
        EXPECT_GE(choice.proven, problem.needed);
        EXPECT_LE(choice.at_least, choice.places.size());
        greedy += choice.greedy;
        ours += choice.places.size();
        bound += choice.at_least;
        better += choice.places.size() < choice.greedy;
        certified += choice.places.size() <= choice.at_least + 1;
    }
    RecordProperty("greedy", static_cast<int>(greedy));
    RecordProperty("ours", static_cast<int>(ours));
    RecordProperty("bound", static_cast<int>(bound));
    RecordProperty("better", better);
    RecordProperty("certified", certified);
    EXPECT_LT(ours, greedy);
    EXPECT_GT(better, 50);
    EXPECT_GT(certified, 120);
}

TEST(choice, nothing_needed_or_nothing_there_gives_no_place) {
    const Bits none(4, 0);
    EXPECT_TRUE(choose_places({1, none, 5}).places.empty());
    EXPECT_FALSE(choose_places({1, none, 5}).is_reachable);
    EXPECT_TRUE(choose_places({0, {}, 5}).places.empty());
    const Bits some{1, 2, 4};
    EXPECT_TRUE(choose_places({1, some, 0}).places.empty());
}

TEST(choice, more_needed_than_can_be_proven_gives_all_that_can) {
    const Bits some{0b0011, 0b0110, 0b0100};
    const Choice choice = choose_places({1, some, 9});
    EXPECT_FALSE(choice.is_reachable);
    EXPECT_EQ(choice.needed, 3U);
    EXPECT_EQ(choice.proven, 3U);
    EXPECT_EQ(choice.places.size(), 2U);
    EXPECT_TRUE(choice.is_best());
}

TEST(choice, same_answer_again) {
    Random random(5);
    const Bits bits = invented_cover(random, 200, 200, 20, 0.3);
    const CoverProblem problem{4, bits, 180};
    EXPECT_EQ(choose_places(problem).places, choose_places(problem).places);
}

TEST(choice, replacement_adds_most_of_what_is_allowed) {
    const Bits bits{0b000111, 0b111000, 0b110000, 0b001000};
    const CoverProblem problem{1, bits, 6};
    const std::vector<std::size_t> others{0};
    EXPECT_EQ(best_addition(problem, others, {true, false, true, true}), 2);
    EXPECT_EQ(best_addition(problem, others, {true, false, false, false}), -1);
}

}  // namespace
}  // namespace layproof::plan
