// What moved, put together over its gaps and explanations.

#include "prove/moves.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <map>
#include <string>

#include "cause/shipped.hpp"
#include "network/site_jobs.hpp"

namespace layproof::prove {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

struct Diagnosed {
    layproof::testing::SiteJob job;
    network::SiteNetwork network;
    network::NetworkDiagnosis diagnosis;

    Diagnosed(std::uint64_t seed, const layproof::testing::SiteJobOptions& options)
        : job(layproof::testing::draw_site_job(seed, options)) {
        auto found = network::adjust_network(job.input);
        EXPECT_TRUE(found);
        network = std::move(found).value();
        diagnosis = network::diagnose_network(network, layproof::testing::shipped_table());
        EXPECT_TRUE(diagnosis.is_usable);
    }
};

layproof::testing::SiteJobOptions moved_before_the_fifth() {
    layproof::testing::SiteJobOptions options;
    options.setups = 8;
    options.points_each = 2;
    options.moves = {{2, 4, Vector3d(0.015, -0.020, 0.0)}};
    return options;
}

TEST(moves, mark_that_moved_is_told_once_with_its_amount) {
    const Diagnosed d(41, moved_before_the_fifth());
    const auto moves = moves_of(d.network, d.diagnosis);
    ASSERT_FALSE(moves.empty());
    const Move& move = moves.front();
    EXPECT_EQ(d.network.points[at(move.point)].name, "H3");
    EXPECT_FALSE(move.is_height);
    EXPECT_GT(move.probability, 0.95);
    ASSERT_EQ(move.amount.size(), 2);
    const Vector2d off = move.amount - Vector2d(0.015, -0.020);
    // 3.5 standard deviations of two figures.
    EXPECT_LT(off.dot(move.covariance.ldlt().solve(off)), 12.25);
    for (std::size_t i = 1; i < moves.size(); ++i) {
        EXPECT_FALSE(moves[i].point == move.point && !moves[i].is_height);
        EXPECT_LE(moves[i].probability, moves[i - 1].probability);
    }
}

TEST(moves, set_ups_before_the_move_and_their_points_are_not_told) {
    const Diagnosed d(41, moved_before_the_fifth());
    const Move move = moves_of(d.network, d.diagnosis).front();
    // Every set-up from the fifth on that sighted H3 used it where it no longer was.
    std::vector<int> expected;
    for (int s = 4; s < 8; ++s) {
        const auto& sighted = d.job.sighted[at(s)];
        if (std::find(sighted.begin(), sighted.end(), 2) != sighted.end()) expected.push_back(s);
    }
    ASSERT_FALSE(expected.empty());
    EXPECT_EQ(move.setups, expected);
    std::vector<std::string> points;
    for (const int point : move.points) points.push_back(d.network.points[at(point)].name);
    std::vector<std::string> laid;
    for (const int s : expected)
        for (int p = 1; p <= 2; ++p) laid.push_back("P" + std::to_string(2 * s + p));
    EXPECT_EQ(points, laid);
}

/// Moments by going through the explanations anew, as samples with weights.
TEST(moves, amount_is_the_mixture_over_the_explanations) {
    const Diagnosed d(43, moved_before_the_fifth());
    const auto& x = d.diagnosis;
    const auto moves = moves_of(d.network, x);
    ASSERT_FALSE(moves.empty());
    for (const Move& move : moves) {
        const auto is_it = [&](int suspect) {
            const network::NetworkSuspect& s = x.suspects[at(suspect)];
            return s.point == move.point &&
                   s.cause == (move.is_height ? cause::Cause::mark_height_changed
                                              : cause::Cause::mark_moved);
        };
        double probability = 0.0;
        for (std::size_t h = 0; h < x.suspects.size(); ++h)
            if (is_it(static_cast<int>(h))) probability += x.probability[h];
        EXPECT_NEAR(move.probability, std::min(probability, 1.0), 1e-12);
        const bool before_all = x.suspects[at(move.suspect)].after_sight < 0;
        std::vector<double> weights;
        std::vector<Eigen::VectorXd> means;
        std::vector<Eigen::MatrixXd> covariances;
        double total = 0.0;
        for (const auto& e : x.explanations)
            for (const int member : e.members) {
                if (e.amount.size() == 0 || !is_it(member) ||
                    (x.suspects[at(member)].after_sight < 0) != before_all)
                    continue;
                const int offset = x.amount_offset(e, member);
                const int size = move.is_height ? 1 : 2;
                weights.push_back(e.probability);
                means.emplace_back(e.amount.segment(offset, size));
                covariances.emplace_back(e.amount_covariance.block(offset, offset, size, size));
                total += e.probability;
            }
        Eigen::VectorXd mean = Eigen::VectorXd::Zero(move.amount.size());
        for (std::size_t i = 0; i < means.size(); ++i) mean += weights[i] / total * means[i];
        // Within the explanations, and between them.
        Eigen::MatrixXd spread = Eigen::MatrixXd::Zero(mean.size(), mean.size());
        for (std::size_t i = 0; i < means.size(); ++i)
            spread += weights[i] / total *
                      (covariances[i] + (means[i] - mean) * (means[i] - mean).transpose());
        EXPECT_LT((move.amount - mean).norm(), 1e-10);
        EXPECT_LT((move.covariance - spread).norm(), 1e-10);
    }
}

TEST(moves, clean_job_lists_nothing_that_is_likely) {
    const Diagnosed d(40, {});
    for (const Move& move : moves_of(d.network, d.diagnosis)) EXPECT_LT(move.probability, 0.5);
}

TEST(causes, gaps_of_one_mark_are_one_cause_and_the_likeliest_comes_first) {
    const Diagnosed d(41, moved_before_the_fifth());
    const auto causes = causes_of(d.diagnosis);
    ASSERT_FALSE(causes.empty());
    EXPECT_LE(causes.size(), kMostCauses);
    const auto& first = d.diagnosis.suspects[at(causes.front().suspect)];
    EXPECT_EQ(first.cause, cause::Cause::mark_moved);
    EXPECT_EQ(d.network.points[at(first.point)].name, "H3");
    std::map<std::pair<cause::Cause, int>, int> told;
    for (std::size_t i = 0; i < causes.size(); ++i) {
        const auto& s = d.diagnosis.suspects[at(causes[i].suspect)];
        if (s.cause == cause::Cause::mark_moved) {
            const int times = ++told[{s.cause, s.point}];
            EXPECT_EQ(times, 1);
        }
        EXPECT_GE(causes[i].probability, kListedFrom);
        EXPECT_LE(causes[i].probability, 1.0);
        if (i > 0) {
            EXPECT_LE(causes[i].probability, causes[i - 1].probability);
        }
        EXPECT_EQ(causes[i].amount.size(), d.diagnosis.columns_of(causes[i].suspect));
    }
}

}  // namespace
}  // namespace layproof::prove
