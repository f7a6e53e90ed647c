#include "infer/change_sets.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <vector>

#include "base/random.hpp"

namespace layproof::infer {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Twenty white observations, four of the directions taken out as unknowns, candidates of one or
/// two columns at random: `moved` of them happened, of the given amount.
struct RandomCandidates {
    MatrixXd gram;
    VectorXd misfit;
    std::vector<Candidate> candidates;

    RandomCandidates(std::uint64_t seed, int count, const std::vector<int>& moved, double amount) {
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
            Candidate one;
            one.first_column = columns;
            one.columns = h % 3 == 2 ? 1 : 2;
            columns += one.columns;
            one.log_odds = std::log(0.05 + 0.01 * h);
            one.sizes = {VectorXd::Constant(one.columns, 0.5),
                         VectorXd::Constant(one.columns, 3.0)};
            if (h % 2 == 0) one.log_shares = {std::log(0.2), std::log(0.8)};
            one.group = h / 2;
            one.kind = h % 3 == 2 ? 1 : 0;
            candidates.push_back(one);
        }
        const MatrixXd b = fill(columns);
        VectorXd y = fill(1);
        for (const int h : moved) {
            const Candidate& one = candidates[static_cast<std::size_t>(h)];
            y += amount * b.middleCols(one.first_column, one.columns).rowwise().sum();
        }
        const MatrixXd m =
            MatrixXd::Identity(kRows, kRows) - a * (a.transpose() * a).ldlt().solve(a.transpose());
        gram = b.transpose() * m * b;
        misfit = b.transpose() * m * y;
    }
};

/// Every set of up to `most` of different groups, with what set_evidence gives.
std::map<std::vector<int>, double> all_sets(const RandomCandidates& job,
                                            const SearchOptions& options) {
    std::map<std::vector<int>, double> out;
    const auto n = job.candidates.size();
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
            fits = fits && ++groups[job.candidates[h].group] == 1;
            ++count[static_cast<std::size_t>(job.candidates[h].kind)];
            log += job.candidates[h].log_odds;
        }
        if (!fits || static_cast<int>(members.size()) > options.most_at_once) continue;
        for (std::size_t k = 0; k < options.rate_weights.size(); ++k)
            log += options.rate_weights[k][count[k]];
        log += set_evidence(job.gram, job.misfit, job.candidates, members);
        total += out[members] = std::exp(log);
    }
    for (auto& [members, weight] : out) weight /= total;
    return out;
}

TEST(change_sets, small_jobs_agree_with_every_set_weighed_by_itself) {
    for (std::uint64_t seed = 1; seed <= 12; ++seed) {
        const RandomCandidates job(seed, 9, {1, 4, 8}, seed % 2 == 0 ? 1.5 : 0.4);
        SearchOptions options;
        options.most_at_once = 4;
        options.all_sets_up_to = 0;
        options.window = 1e9;
        options.kept_below_best = 1e9;
        options.beam = 1000;
        options.rate_weights = {rate_weights({0.1, 0.2, 0.1}, 1.0, 4),
                                rate_weights({0.1, 0.2}, 2.0, 4)};
        const auto expected = all_sets(job, options);
        const auto found = search_sets(job.gram, job.misfit, job.candidates, options).sets;
        EXPECT_EQ(found.size(), expected.size());
        for (const ChangeSet& set : found) {
            ASSERT_TRUE(expected.contains(set.members));
            // Combinations of sizes below e^-12 of the best are left out of a set that grows.
            EXPECT_NEAR(set.probability, expected.at(set.members), 1e-4);
        }
    }
}

TEST(change_sets, window_and_beam_lose_next_to_nothing) {
    for (std::uint64_t seed = 30; seed < 36; ++seed) {
        const RandomCandidates job(seed, 12, {0, 3, 7, 11}, 1.0);
        SearchOptions options;
        options.most_at_once = 5;
        options.all_sets_up_to = 0;
        options.beam = 12;
        const auto expected = all_sets(job, options);
        const auto found = search_sets(job.gram, job.misfit, job.candidates, options).sets;
        double reached = 0.0;
        for (const ChangeSet& set : found) reached += expected.at(set.members);
        EXPECT_GT(reached, 0.98) << seed;
        const auto best =
            std::max_element(expected.begin(), expected.end(),
                             [](const auto& a, const auto& b) { return a.second < b.second; });
        EXPECT_EQ(found.front().members, best->first) << seed;
    }
}

TEST(change_sets, few_that_grow_are_mended_by_exchange) {
    int with = 0, without = 0, jobs = 0;
    for (std::uint64_t seed = 100; seed < 130; ++seed) {
        const RandomCandidates job(seed, 11, {0, 5, 9}, 0.8);
        SearchOptions options;
        options.beam = 1;
        options.all_sets_up_to = 0;
        options.all_pairs_up_to = 0;  // one after another
        const auto expected = all_sets(job, options);
        const auto best =
            std::max_element(expected.begin(), expected.end(),
                             [](const auto& a, const auto& b) { return a.second < b.second; });
        ++jobs;
        with += search_sets(job.gram, job.misfit, job.candidates, options).sets.front().members ==
                best->first;
        options.most_exchanged = 0;
        without +=
            search_sets(job.gram, job.misfit, job.candidates, options).sets.front().members ==
            best->first;
    }
    EXPECT_EQ(with, jobs);
    EXPECT_LT(without, jobs);
}

// Many subjects of small odds that sum to O: Π(1 + ρo) is exp(ρO), and with ρ ~ Gamma(a, a) the
// weights are those of a negative binomial, Γ(a + k)/Γ(a)/(a + O)^k (textbook).
TEST(change_sets, rate_weights_of_many_rare_subjects_are_negative_binomial) {
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

TEST(change_sets, a_rate_that_is_known_weighs_nothing) {
    for (const double w : rate_weights({0.1, 0.1, 0.2}, 1e6, 4)) EXPECT_NEAR(w, 0.0, 1e-3);
    for (const double w : rate_weights({0.1}, 0.0, 4)) EXPECT_EQ(w, 0.0);
    EXPECT_EQ(rate_weights({}, 1.0, 0).size(), 1U);
}

TEST(change_sets, no_candidates_leave_the_empty_set) {
    const auto found = search_sets(MatrixXd(0, 0), VectorXd(0), {}).sets;
    ASSERT_EQ(found.size(), 1U);
    EXPECT_TRUE(found.front().members.empty());
    EXPECT_EQ(found.front().probability, 1.0);
}

// Against the plain formula: dense, with the prior as a covariance.
TEST(change_sets, evidence_is_that_of_the_normal_model) {
    Random random(9);
    const int n = 12;
    MatrixXd a(n, 4), b(n, 3);
    VectorXd y(n);
    for (int r = 0; r < n; ++r) {
        y[r] = random.normal();
        for (int c = 0; c < 4; ++c) a(r, c) = random.normal();
        for (int c = 0; c < 3; ++c) b(r, c) = random.normal();
    }
    const MatrixXd m = MatrixXd::Identity(n, n) - a * (a.transpose() * a).inverse() * a.transpose();
    const MatrixXd gram = b.transpose() * m * b;
    const VectorXd misfit = b.transpose() * m * y;
    Candidate plan{0, 2, std::log(0.1), {Eigen::Vector2d(0.5, 0.5), Eigen::Vector2d(3.0, 3.0)}, -1};
    Candidate other{2, 1, std::log(0.05), {VectorXd::Constant(1, 1.5)}, -1};
    // The flat δ as a very wide prior; its own part cancels in the ratio.
    const auto ln_normal_of = [&](const MatrixXd& covariance) {
        const Eigen::LLT<MatrixXd> llt(covariance);
        const MatrixXd l = llt.matrixL();
        double log_det = 0.0;
        for (int i = 0; i < n; ++i) log_det += std::log(l(i, i));
        return -0.5 * y.dot(llt.solve(y)) - log_det;
    };
    const MatrixXd base = MatrixXd::Identity(n, n) + 1e8 * a * a.transpose();
    double sum = 0.0;
    for (const double s : {0.5, 3.0}) {
        Eigen::Vector3d square(s * s, s * s, 1.5 * 1.5);
        sum += 0.5 * std::exp(ln_normal_of(base + b * square.asDiagonal() * b.transpose()) -
                              ln_normal_of(base));
    }
    EXPECT_NEAR(set_evidence(gram, misfit, {plan, other}, {0, 1}), std::log(sum), 1e-5);
}

TEST(change_sets, two_that_moved_alike_are_found_as_a_set) {
    // Three of seven moved by the same amount: each alone leaves the others unexplained.
    const int n = 7;
    MatrixXd a = MatrixXd::Ones(n, 1);
    VectorXd y = VectorXd::Zero(n);
    for (const int i : {0, 1, 2}) y[i] = 9.0;
    const MatrixXd m = MatrixXd::Identity(n, n) - a * a.transpose() / n;
    std::vector<Candidate> candidates;
    for (int i = 0; i < n; ++i)
        candidates.push_back({i, 1, std::log(0.05), {VectorXd::Constant(1, 10.0)}, i});
    const auto sets = search_sets(m, m * y, candidates).sets;
    EXPECT_EQ(sets.front().members, (std::vector<int>{0, 1, 2}));
    EXPECT_GT(sets.front().probability, 0.95);
}

TEST(change_sets, of_a_group_one_alone_holds) {
    const MatrixXd gram = MatrixXd::Identity(2, 2);
    const VectorXd misfit = Eigen::Vector2d(6.0, 6.0);
    std::vector<Candidate> candidates{{0, 1, 0.0, {VectorXd::Constant(1, 5.0)}, 1},
                                      {1, 1, 0.0, {VectorXd::Constant(1, 5.0)}, 1}};
    for (const ChangeSet& set : search_sets(gram, misfit, candidates).sets)
        EXPECT_LE(set.members.size(), 1U);
}

std::map<std::vector<int>, double> by_members(const SearchResult& found) {
    std::map<std::vector<int>, double> out;
    for (const ChangeSet& set : found.sets) out[set.members] = set.probability;
    return out;
}

TEST(change_sets, where_sets_are_few_every_one_is_weighed) {
    for (std::uint64_t seed = 1; seed <= 12; ++seed) {
        const RandomCandidates job(seed, 8, {1, 6}, 0.7);
        SearchOptions options;
        options.window = 0.0;
        options.beam = 1;
        options.kept_below_best = 1e9;
        const auto expected = all_sets(job, options);
        const auto found = by_members(search_sets(job.gram, job.misfit, job.candidates, options));
        ASSERT_LE(static_cast<int>(expected.size()), options.all_sets_up_to);
        ASSERT_EQ(found.size(), expected.size());
        for (const auto& [members, probability] : expected)
            EXPECT_NEAR(found.at(members), probability, 1e-4);
    }
}

TEST(change_sets, order_of_the_candidates_does_not_matter) {
    for (std::uint64_t seed = 50; seed < 60; ++seed) {
        const RandomCandidates job(seed, 14, {2, 7, 11}, 1.0);
        RandomCandidates turned = job;
        std::reverse(turned.candidates.begin(), turned.candidates.end());
        const auto found = by_members(search_sets(job.gram, job.misfit, job.candidates));
        for (const auto& [turned_members, probability] :
             by_members(search_sets(job.gram, job.misfit, turned.candidates))) {
            std::vector<int> members;
            for (const int m : turned_members) members.insert(members.begin(), 13 - m);
            if (probability < 1e-4) continue;
            ASSERT_TRUE(found.contains(members));
            EXPECT_NEAR(found.at(members), probability, 1e-9);
        }
    }
}

TEST(change_sets, units_of_the_columns_do_not_matter) {
    const RandomCandidates job(3, 10, {1, 4}, 1.0);
    RandomCandidates scaled = job;
    Random random(4);
    VectorXd by(job.misfit.size());
    for (double& b : by) b = std::exp(random.uniform(-12.0, 12.0));
    scaled.gram = by.asDiagonal() * job.gram * by.asDiagonal();
    scaled.misfit = by.cwiseProduct(job.misfit);
    for (Candidate& one : scaled.candidates)
        for (VectorXd& sd : one.sizes)
            sd = sd.cwiseQuotient(by.segment(one.first_column, one.columns));
    const auto a = search_sets(job.gram, job.misfit, job.candidates).sets;
    const auto b = search_sets(scaled.gram, scaled.misfit, scaled.candidates).sets;
    ASSERT_EQ(a.size(), b.size());
    for (std::size_t i = 0; i < 5; ++i) {
        EXPECT_EQ(a[i].members, b[i].members);
        EXPECT_NEAR(a[i].log_evidence, b[i].log_evidence, 1e-8);
        const SetAmounts one = set_amounts(job.gram, job.misfit, job.candidates, a[i].members);
        const SetAmounts two =
            set_amounts(scaled.gram, scaled.misfit, scaled.candidates, a[i].members);
        Eigen::Index row = 0;
        for (const int m : a[i].members) {
            const Candidate& c = job.candidates[static_cast<std::size_t>(m)];
            for (int k = 0; k < c.columns; ++k, ++row)
                EXPECT_NEAR(two.mean[row] * by[c.first_column + k], one.mean[row], 1e-8);
        }
    }
}

TEST(change_sets, amounts_are_those_of_the_mixture_of_sizes) {
    const RandomCandidates job(8, 4, {0, 1}, 1.0);
    const SetAmounts found = set_amounts(job.gram, job.misfit, job.candidates, {1, 2});
    // Over both sizes of both: Σ share · N(C g, C), with precisions written as inverses.
    double total = 0.0;
    VectorXd mean = VectorXd::Zero(3);
    MatrixXd square = MatrixXd::Zero(3, 3);
    const Candidate& one = job.candidates[1];
    const Candidate& two = job.candidates[2];
    std::vector<int> at{one.first_column, one.first_column + 1, two.first_column};
    const MatrixXd gram = job.gram(at, at);
    const VectorXd g = job.misfit(at);
    for (std::size_t i = 0; i < 2; ++i)
        for (std::size_t k = 0; k < 2; ++k) {
            VectorXd sd(3);
            sd << one.sizes[i], two.sizes[k];
            const MatrixXd prior = MatrixXd(sd.cwiseAbs2().asDiagonal());
            const MatrixXd covariance = MatrixXd(prior.inverse() + gram).inverse();
            const double determinant =
                MatrixXd(MatrixXd::Identity(3, 3) + prior * gram).determinant();
            const double share_of_two = k == 0 ? 0.2 : 0.8;
            const double weight =
                share_of_two * std::exp(0.5 * g.dot(covariance * g)) / std::sqrt(determinant);
            const VectorXd m = covariance * g;
            total += weight;
            mean += weight * m;
            square += weight * (covariance + m * m.transpose());
        }
    mean /= total;
    EXPECT_LT((found.mean - mean).norm(), 1e-10);
    EXPECT_LT((found.covariance - (square / total - mean * mean.transpose())).norm(), 1e-10);
}

TEST(change_sets, candidates_without_spread_or_data_change_nothing) {
    RandomCandidates job(5, 6, {}, 0.0);
    for (Candidate& one : job.candidates)
        for (VectorXd& sd : one.sizes) sd.setZero();
    for (const ChangeSet& set : search_sets(job.gram, job.misfit, job.candidates).sets)
        EXPECT_NEAR(set.log_evidence, 0.0, 1e-14);
    const RandomCandidates blind(5, 6, {}, 0.0);
    const MatrixXd nothing = MatrixXd::Zero(blind.gram.rows(), blind.gram.cols());
    for (const ChangeSet& set :
         search_sets(nothing, VectorXd::Zero(blind.misfit.size()), blind.candidates).sets)
        EXPECT_NEAR(set.log_evidence, 0.0, 1e-12);
}

TEST(change_sets, nothing_is_not_a_number) {
    for (const double scale : {1e-150, 1e-30, 1.0, 1e30, 1e140}) {
        RandomCandidates job(21, 7, {1}, 1.0);
        job.gram *= scale;
        job.misfit *= std::sqrt(scale);
        const SearchResult found = search_sets(job.gram, job.misfit, job.candidates);
        double sum = 0.0;
        for (const ChangeSet& set : found.sets) sum += set.probability;
        EXPECT_NEAR(sum, 1.0, 1e-6);
        EXPECT_TRUE(std::isfinite(found.more_at_once));
    }
}

/// Changes that share no data: the sums over sets of a size are elementary symmetric polynomials.
TEST(change_sets, more_than_are_allowed_at_once_are_told) {
    Random random(77);
    for (int run = 0; run < 20; ++run) {
        const int n = 8;
        const MatrixXd gram = MatrixXd::Identity(n, n);
        VectorXd misfit(n);
        std::vector<Candidate> candidates;
        std::vector<double> sums(static_cast<std::size_t>(n) + 1, 0.0);
        sums[0] = 1.0;
        for (int i = 0; i < n; ++i) {
            misfit[i] = random.uniform(0.0, 4.0);
            candidates.push_back({i, 1, std::log(0.05), {VectorXd::Constant(1, 3.0)}});
            const double ratio = 0.05 * std::exp(set_evidence(gram, misfit, candidates, {i}));
            for (std::size_t k = sums.size() - 1; k > 0; --k) sums[k] += ratio * sums[k - 1];
        }
        SearchOptions options;
        options.most_at_once = 3;
        double told = 0.0, more = 0.0;
        for (std::size_t k = 0; k < sums.size(); ++k) (k <= 3 ? told : more) += sums[k];
        const double found = search_sets(gram, misfit, candidates, options).more_at_once;
        EXPECT_GE(found, more / (told + more));
        EXPECT_LE(found, 0.05 + 6.0 * more / (told + more));
        options.most_at_once = n;
        EXPECT_EQ(search_sets(gram, misfit, candidates, options).more_at_once, 0.0);
    }
}

}  // namespace
}  // namespace layproof::infer
