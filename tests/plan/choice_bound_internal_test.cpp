#include "plan/choice_bound_internal.hpp"

#include <gtest/gtest.h>

#include <bit>
#include <numeric>

#include "plan/choice_branch_internal.hpp"
#include "support/invented_cover.hpp"

namespace layproof::plan::internal {
namespace {

using test_support::Bits;
using test_support::invented_cover;

/// The most points that so many places prove, `chosen` among them, by trying all.
std::size_t most_by_trying_all(const CoverProblem& problem, std::size_t places,
                               std::size_t chosen) {
    std::size_t most = 0;
    for (std::size_t set = 0; set < (std::size_t{1} << problem.places()); ++set) {
        if (static_cast<std::size_t>(std::popcount(set)) > places || (set & chosen) != chosen)
            continue;
        std::vector<std::size_t> some;
        for (std::size_t p = 0; p < problem.places(); ++p)
            if ((set >> p & 1U) != 0) some.push_back(p);
        most = std::max(most, plan::proven_by(problem, some));
    }
    return most;
}

struct SmallCover {
    Bits bits;
    CoverProblem problem;
    Reduced reduced;
    std::vector<std::uint32_t> all;

    explicit SmallCover(Random& random)
        : bits(invented_cover(random, 12, 100, random.uniform(15, 40), 0.3)),
          problem{2, bits, 0},
          reduced(reduce(problem)),
          all(reduced.size()) {
        std::iota(all.begin(), all.end(), 0U);
    }
};

// The claim that so many places are too few is never false, right up to what they can prove.
TEST(choice_bound, never_calls_too_few_what_is_enough) {
    Random random(8);
    int proven = 0;
    for (int round = 0; round < 60; ++round) {
        const SmallCover s(random);
        for (std::size_t k = 1; k <= 4; ++k) {
            const std::size_t most = most_by_trying_all(s.problem, k, 0);
            for (std::size_t needed = most > 3 ? most - 3 : 1; needed <= most + 6; ++needed) {
                Part part = part_of(s.reduced, {}, s.all, k, needed,
                                    std::vector<float>(s.reduced.point_count(), 0.5F));
                std::int64_t work = 0;
                const bool is_claimed = is_too_few(part, {300, 0.85}, work);
                if (needed <= most) {
                    EXPECT_FALSE(is_claimed) << round << " " << k << " " << needed;
                    EXPECT_GE(part.most, static_cast<double>(most) - 1e-6);
                }
                proven += is_claimed;
            }
        }
    }
    EXPECT_GT(proven, 500);
}

TEST(choice_bound, holds_with_a_place_chosen_before) {
    Random random(9);
    for (int round = 0; round < 60; ++round) {
        const SmallCover s(random);
        const std::size_t most =
            most_by_trying_all(s.problem, 3, std::size_t{1} << s.reduced.original[0]);
        const std::vector<std::uint32_t> picks{0};
        const std::vector<std::uint32_t> others(s.all.begin() + 1, s.all.end());
        Part part = part_of(s.reduced, picks, others, 3, most,
                            std::vector<float>(s.reduced.point_count(), 0.5F));
        std::int64_t work = 0;
        EXPECT_FALSE(is_too_few(part, {300, 0.85}, work)) << round;
    }
}

TEST(choice_branch, says_of_every_number_whether_it_is_enough) {
    Random random(10);
    for (int round = 0; round < 60; ++round) {
        const SmallCover s(random);
        for (std::size_t k = 1; k <= 4; ++k) {
            const std::size_t most = most_by_trying_all(s.problem, k, 0);
            for (const std::size_t needed : {most, most + 1}) {
                Part root = part_of(s.reduced, {}, s.all, k, needed,
                                    std::vector<float>(s.reduced.point_count(), 0.5F));
                std::int64_t bound_work = 0;
                if (is_too_few(root, {20, 0.6}, bound_work)) {
                    EXPECT_EQ(needed, most + 1);
                    continue;
                }
                std::int64_t work = 100'000'000;
                const auto outcome = try_all(s.reduced, root, k, needed, nullptr, work);
                ASSERT_EQ(outcome.kind,
                          needed == most ? BranchOutcome::Kind::found : BranchOutcome::Kind::none);
                if (needed == most) {
                    EXPECT_GE(proven_by(s.reduced, outcome.found), needed);
                    EXPECT_LE(outcome.found.size(), k);
                }
            }
        }
    }
}

TEST(choice_branch, gives_up_when_the_allowance_is_used) {
    Random random(11);
    const Bits bits = invented_cover(random, 200, 200, 18, 0.4);
    const CoverProblem problem{4, bits, 0};
    const Reduced reduced = reduce(problem);
    std::vector<std::uint32_t> all(reduced.size());
    std::iota(all.begin(), all.end(), 0U);
    const std::vector<float> v(reduced.point_count(), 0.5F);
    Part root = part_of(reduced, {}, all, 6, 150, v);
    std::int64_t work = 0;
    root.most = 200.0;
    EXPECT_EQ(try_all(reduced, root, 6, 150, nullptr, work).kind, BranchOutcome::Kind::gave_up);
}

}  // namespace
}  // namespace layproof::plan::internal
