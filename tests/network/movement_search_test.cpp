#include "network/movement_search.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "base/random.hpp"

namespace layproof::network {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Twenty white observations, four of the directions taken out as unknowns, suspects of one or two
/// columns at random: `moved` of them happened, of the given amount.
struct RandomSuspects {
    MatrixXd gram;
    VectorXd misfit;
    std::vector<Suspect> suspects;

    RandomSuspects(std::uint64_t seed, int count, const std::vector<int>& moved, double amount) {
        Random random(seed);
        constexpr int kRows = 20, kUnknowns = 4;
        const auto fill = [&](int columns) {
            MatrixXd out(kRows, columns);
            for (int r = 0; r < kRows; ++r)
                for (int c = 0; c < columns; ++c) out(r, c) = random.normal();
            return out;
        };
        const MatrixXd a = fill(kUnknowns);
        int columns = 0;
        for (int h = 0; h < count; ++h) {
            Suspect one;
            one.first_column = columns;
            one.columns = h % 3 == 2 ? 1 : 2;
            columns += one.columns;
            one.log_odds = std::log(0.05 + 0.01 * h);
            one.sizes = {VectorXd::Constant(one.columns, 0.5),
                         VectorXd::Constant(one.columns, 3.0)};
            if (h % 2 == 0) one.log_shares = {std::log(0.2), std::log(0.8)};
            one.group = h / 2;
            one.kind = h % 3 == 2 ? 1 : 0;
            suspects.push_back(one);
        }
        const MatrixXd b = fill(columns);
        VectorXd y = fill(1);
        for (const int h : moved) {
            const Suspect& one = suspects[static_cast<std::size_t>(h)];
            y += amount * b.middleCols(one.first_column, one.columns).rowwise().sum();
        }
        const MatrixXd m =
            MatrixXd::Identity(kRows, kRows) - a * (a.transpose() * a).ldlt().solve(a.transpose());
        gram = b.transpose() * m * b;
        misfit = b.transpose() * m * y;
    }
};

/// Every set of up to `most` of different groups, with what set_evidence gives.
std::map<std::vector<int>, double> all_sets(const RandomSuspects& job,
                                            const SearchOptions& options) {
    std::map<std::vector<int>, double> out;
    const auto n = job.suspects.size();
    double total = 0.0;
    for (std::size_t code = 0; code < (std::size_t{1} << n); ++code) {
        std::vector<int> members;
        std::map<int, int> groups;
        std::vector<std::size_t> count(2, 0);
        double log = 0.0;
        bool fits = true;
        for (std::size_t h = 0; h < n; ++h) {
            if ((code >> h & 1U) == 0) continue;
            members.push_back(static_cast<int>(h));
            fits = fits && ++groups[job.suspects[h].group] == 1;
            ++count[static_cast<std::size_t>(job.suspects[h].kind)];
            log += job.suspects[h].log_odds;
        }
        if (!fits || static_cast<int>(members.size()) > options.most_at_once) continue;
        for (std::size_t k = 0; k < options.rate_weights.size(); ++k)
            log += options.rate_weights[k][count[k]];
        log += set_evidence(job.gram, job.misfit, job.suspects, members);
        total += out[members] = std::exp(log);
    }
    for (auto& [members, weight] : out) weight /= total;
    return out;
}

TEST(movement_search, small_jobs_agree_with_every_set_weighed_by_itself) {
    for (std::uint64_t seed = 1; seed <= 12; ++seed) {
        const RandomSuspects job(seed, 9, {1, 4, 8}, seed % 2 == 0 ? 1.5 : 0.4);
        SearchOptions options;
        options.most_at_once = 4;
        options.window = 1e9;
        options.kept_below_best = 1e9;
        options.beam = 1000;
        options.rate_weights = {rate_weights({0.1, 0.2, 0.1}, 1.0, 4),
                                rate_weights({0.1, 0.2}, 2.0, 4)};
        const auto expected = all_sets(job, options);
        const auto found = search_sets(job.gram, job.misfit, job.suspects, options);
        EXPECT_EQ(found.size(), expected.size());
        for (const SuspectSet& set : found) {
            ASSERT_TRUE(expected.contains(set.members));
            // Combinations of sizes below e^-12 of the best are left out of a set that grows.
            EXPECT_NEAR(set.probability, expected.at(set.members), 1e-4);
        }
    }
}

TEST(movement_search, window_and_beam_lose_next_to_nothing) {
    for (std::uint64_t seed = 30; seed < 36; ++seed) {
        const RandomSuspects job(seed, 12, {0, 3, 7, 11}, 1.0);
        SearchOptions options;
        options.most_at_once = 5;
        options.beam = 12;
        const auto expected = all_sets(job, options);
        const auto found = search_sets(job.gram, job.misfit, job.suspects, options);
        double reached = 0.0;
        for (const SuspectSet& set : found) reached += expected.at(set.members);
        EXPECT_GT(reached, 0.98) << seed;
        const auto best =
            std::max_element(expected.begin(), expected.end(),
                             [](const auto& a, const auto& b) { return a.second < b.second; });
        EXPECT_EQ(found.front().members, best->first) << seed;
    }
}

TEST(movement_search, few_that_grow_are_mended_by_exchange) {
    int with = 0, without = 0, jobs = 0;
    for (std::uint64_t seed = 100; seed < 130; ++seed) {
        const RandomSuspects job(seed, 11, {0, 5, 9}, 0.8);
        SearchOptions options;
        options.beam = 1;
        options.all_pairs_up_to = 0;  // one after another
        const auto expected = all_sets(job, options);
        const auto best =
            std::max_element(expected.begin(), expected.end(),
                             [](const auto& a, const auto& b) { return a.second < b.second; });
        ++jobs;
        with +=
            search_sets(job.gram, job.misfit, job.suspects, options).front().members == best->first;
        options.most_exchanged = 0;
        without +=
            search_sets(job.gram, job.misfit, job.suspects, options).front().members == best->first;
    }
    EXPECT_EQ(with, jobs);
    EXPECT_LT(without, jobs);
}

// Many subjects of small odds that sum to O: Π(1 + ρo) is exp(ρO), and with ρ ~ Gamma(a, a) the
// weights are those of a negative binomial, Γ(a + k)/Γ(a)/(a + O)^k (textbook).
TEST(movement_search, rate_weights_of_many_rare_subjects_are_negative_binomial) {
    for (const double shape : {0.5, 1.0, 4.0}) {
        const std::vector<double> odds(20000, 1.6 / 20000.0);
        const auto found = rate_weights(odds, shape, 4);
        ASSERT_EQ(found.size(), 5U);
        for (int k = 0; k <= 4; ++k)
            EXPECT_NEAR(found[static_cast<std::size_t>(k)],
                        std::lgamma(shape + k) - std::lgamma(shape) - k * std::log(shape + 1.6),
                        2e-3);
    }
}

TEST(movement_search, a_rate_that_is_known_weighs_nothing) {
    for (const double w : rate_weights({0.1, 0.1, 0.2}, 1e6, 4)) EXPECT_NEAR(w, 0.0, 1e-3);
    for (const double w : rate_weights({0.1}, 0.0, 4)) EXPECT_EQ(w, 0.0);
    EXPECT_EQ(rate_weights({}, 1.0, 0).size(), 1U);
}

TEST(movement_search, nobody_suspected_is_nothing_wrong) {
    const auto found = search_sets(MatrixXd(0, 0), VectorXd(0), {});
    ASSERT_EQ(found.size(), 1U);
    EXPECT_TRUE(found.front().members.empty());
    EXPECT_EQ(found.front().probability, 1.0);
}

}  // namespace
}  // namespace layproof::network
