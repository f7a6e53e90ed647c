// Pairs against each of them weighed at once, and against the search over sets.

#include "infer/pairs.hpp"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <map>
#include <set>
#include <utility>
#include <vector>

#include "base/random.hpp"
#include "infer/change_sets.hpp"

namespace layproof::infer {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Candidates of three columns each, every one with two sizes.
struct Problem {
    static constexpr int kCandidates = 7;
    MatrixXd gram;
    VectorXd misfit;
    std::vector<Single<3>> singles;
    std::vector<double> log_weights, log_evidences;

    explicit Problem(std::uint64_t seed) {
        Random random(seed);
        const int rows = 25;
        MatrixXd b(rows, 3 * kCandidates);
        VectorXd y(rows);
        for (int r = 0; r < rows; ++r) {
            y[r] = random.normal();
            for (int c = 0; c < b.cols(); ++c) b(r, c) = random.normal();
        }
        y += b.col(1) - 1.5 * b.col(10);
        gram = b.transpose() * b;
        misfit = b.transpose() * y;
        for (int c = 0; c < kCandidates; ++c)
            for (const double size : {0.3, 2.0}) {
                Single<3> one{c, Amounts<3>::Constant(size), {}};
                one.fit = fit_amounts(data(c), one.sd);
                singles.push_back(one);
                log_evidences.push_back(one.fit.log_bayes);
                log_weights.push_back(one.fit.log_bayes + std::log(0.01 * (1 + c)));
            }
    }

    ColumnData<3> data(int c) const {
        return {misfit.segment<3>(3 * c), gram.block<3, 3>(3 * c, 3 * c)};
    }
    AmountMatrix<3> between(int b, int a) const { return gram.block<3, 3>(3 * b, 3 * a); }
};

struct Pair {
    double log_bayes = 0.0;
    Amounts<3> second_mean;
};

std::map<std::pair<std::size_t, std::size_t>, Pair> pairs_of(
    const Problem& p, const std::vector<std::size_t>& seeds) {
    std::map<std::pair<std::size_t, std::size_t>, Pair> out;
    for_pairs<3>(
        p.singles, seeds, [&](int c) { return p.data(c); },
        [&](int b, int a) { return p.between(b, a); }, [](int, int) { return true; },
        [&](std::size_t a, std::size_t b, const AmountMean<3>& second, const AmountMatrix<3>&) {
            const auto key = std::pair<std::size_t, std::size_t>(std::minmax(a, b));
            EXPECT_FALSE(out.contains(key)) << "twice";
            out[key] = {p.singles[a].fit.log_bayes + second.log_bayes, second.mean};
        });
    return out;
}

TEST(pairs, are_both_members_at_once) {
    const Problem p(1);
    std::vector<std::size_t> all(p.singles.size());
    for (std::size_t i = 0; i < all.size(); ++i) all[i] = i;
    const auto found = pairs_of(p, all);
    EXPECT_EQ(found.size(), 14U * 12U / 2U);
    for (const auto& [key, pair] : found) {
        const auto& a = p.singles[key.first];
        const auto& b = p.singles[key.second];
        const AmountFit<6> both = fit_amounts(
            joined(p.data(a.candidate), p.data(b.candidate), p.between(b.candidate, a.candidate)),
            joined<3>(a.sd, b.sd));
        EXPECT_NEAR(pair.log_bayes, both.log_bayes, 1e-9);
        EXPECT_LT((pair.second_mean - both.mean.tail<3>()).norm(), 1e-9);
    }
}

TEST(pairs, hold_a_seed_and_come_once) {
    const Problem p(2);
    const auto seeds = choose_seeds(p.log_weights, p.log_evidences, 3, 2);
    const auto found = pairs_of(p, seeds);
    std::size_t expected = 0;
    for (std::size_t i = 0; i < p.singles.size(); ++i)
        for (std::size_t k = i + 1; k < p.singles.size(); ++k) {
            const auto is_seed = [&](std::size_t x) {
                return std::find(seeds.begin(), seeds.end(), x) != seeds.end();
            };
            if (p.singles[i].candidate != p.singles[k].candidate && (is_seed(i) || is_seed(k)))
                ++expected;
        }
    EXPECT_EQ(found.size(), expected);
}

TEST(pairs, are_those_of_the_search_over_sets) {
    const Problem p(3);
    std::vector<Candidate> candidates;
    for (const Single<3>& one : p.singles)
        candidates.push_back(
            {3 * one.candidate, 3, std::log(0.02), {VectorXd(one.sd)}, one.candidate});
    std::vector<std::size_t> all(p.singles.size());
    for (std::size_t i = 0; i < all.size(); ++i) all[i] = i;
    const auto found = pairs_of(p, all);
    SearchOptions options;
    options.most_at_once = kMostAtOnceInPairs;
    options.kept_below_best = 1e9;
    std::size_t checked = 0;
    for (const ChangeSet& set : search_sets(p.gram, p.misfit, candidates, options).sets) {
        if (set.members.size() != 2) continue;
        const auto key = std::pair(static_cast<std::size_t>(set.members[0]),
                                   static_cast<std::size_t>(set.members[1]));
        EXPECT_NEAR(found.at(key).log_bayes, set.log_evidence, 1e-9);
        ++checked;
    }
    EXPECT_EQ(checked, found.size());
}

TEST(pairs, that_cannot_both_hold_are_left_out) {
    const Problem p(4);
    std::set<std::pair<int, int>> seen;
    const std::vector<std::size_t> seeds{0, 1, 2, 3};
    for_pairs<3>(
        std::span<const Single<3>>(p.singles), seeds, [&](int c) { return p.data(c); },
        [&](int b, int a) { return p.between(b, a); },
        [](int a, int b) { return (a + b) % 2 == 1; },
        [&](std::size_t a, std::size_t b, const AmountMean<3>&, const AmountMatrix<3>&) {
            seen.insert(std::minmax(p.singles[a].candidate, p.singles[b].candidate));
        });
    for (const auto& [a, b] : seen) EXPECT_EQ((a + b) % 2, 1);
    EXPECT_EQ(seen.size(), 6U);  // 0 with 1, 3, 5 and 1 with 2, 4, 6
}

TEST(pairs, seeds_are_the_first_of_each_and_none_twice) {
    const std::vector<double> weights{1.0, 5.0, 3.0, 3.0, 0.0};
    const std::vector<double> evidences{9.0, 8.0, 0.0, 0.0, 1.0};
    EXPECT_EQ(choose_seeds(weights, evidences, 2, 2), (std::vector<std::size_t>{1, 2, 0}));
    EXPECT_EQ(choose_seeds(weights, evidences, 99, 99).size(), 5U);
    EXPECT_TRUE(choose_seeds({}, {}, 3, 3).empty());
}

}  // namespace
}  // namespace layproof::infer
