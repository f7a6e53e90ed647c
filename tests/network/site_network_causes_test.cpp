#include "network/site_network_causes.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>

#include "cause/shipped.hpp"
#include "network/site_jobs.hpp"

namespace layproof::network {
namespace {

using Eigen::Vector3d;

NetworkDiagnosis diagnosed(const testing::SiteJob& job, SiteNetwork& network) {
    auto found = adjust_network(job.input);
    EXPECT_TRUE(found);
    network = std::move(found).value();
    return diagnose_network(network, testing::shipped_table());
}

double probability_of(const NetworkDiagnosis& d, const SiteNetwork& network, cause::Cause cause,
                      const std::string& point) {
    double out = 0.0;
    for (std::size_t h = 0; h < d.suspects.size(); ++h)
        if (d.suspects[h].cause == cause && d.suspects[h].point >= 0 &&
            network.points[static_cast<std::size_t>(d.suspects[h].point)].name == point)
            out += d.probability[h];
    return out;
}

TEST(network_causes, clean_job_has_no_probable_cause) {
    SiteNetwork network;
    const NetworkDiagnosis d = diagnosed(testing::draw_site_job(40, {}), network);
    ASSERT_TRUE(d.is_usable);
    for (std::size_t h = 0; h < d.suspects.size(); ++h) EXPECT_LT(d.probability[h], 0.5);
    double sum = 0.0;
    for (const NetworkExplanation& e : d.explanations) sum += e.probability;
    EXPECT_LE(sum, 1.0 + 1e-9);
}

TEST(network_causes, mark_that_moved_between_days_is_named_with_time_and_amount) {
    testing::SiteJobOptions options;
    options.setups = 8;
    options.moves = {{2, 4, Vector3d(0.015, -0.020, 0.0)}};
    SiteNetwork network;
    const testing::SiteJob job = testing::draw_site_job(41, options);
    const NetworkDiagnosis d = diagnosed(job, network);
    ASSERT_TRUE(d.is_usable);
    EXPECT_GT(probability_of(d, network, cause::Cause::mark_moved, "H3"), 0.95);
    const NetworkExplanation& best = d.explanations.front();
    ASSERT_EQ(best.members.size(), 1U);
    const NetworkSuspect& who = d.suspects[static_cast<std::size_t>(best.members[0])];
    ASSERT_GE(who.after_sight, 0);
    EXPECT_LT(network.sights[static_cast<std::size_t>(who.after_sight)].setup, 4);
    EXPECT_GE(network.sights[static_cast<std::size_t>(who.before_sight)].setup, 4);
    const Eigen::Vector2d off = best.amount - Eigen::Vector2d(0.015, -0.020);
    EXPECT_LT(off.dot(best.amount_covariance.ldlt().solve(off)), 16.0);
}

/// A column on the linear form against the job solved anew with the amount in the readings.
TEST(network_causes, places_under_an_explanation_agree_with_a_new_adjustment) {
    testing::SiteJobOptions options;
    options.points_each = 1;
    options.setups = 5;
    testing::SiteJob job = testing::draw_site_job(42, options);
    // All distances of one set-up too long: explained, its points go back to where they were.
    auto clean = adjust_network(job.input);
    ASSERT_TRUE(clean);
    for (measure::Sight& sight : job.input.setups[1].sights) *sight.slope_distance_m += 0.030;
    SiteNetwork network;
    const NetworkDiagnosis d = diagnosed(job, network);
    double prism = 0.0;
    for (std::size_t h = 0; h < d.suspects.size(); ++h)
        if (d.suspects[h].cause == cause::Cause::prism_constant_wrong && d.suspects[h].setup == 1)
            prism = d.probability[h];
    EXPECT_GT(prism, 0.9);
    const int point = network.point_named("P2");
    ASSERT_GE(point, 0);
    Vector3d mean = Vector3d::Zero();
    for (const PlaceBelief& belief : d.beliefs(point)) mean += belief.weight * belief.shift_m;
    const Vector3d put_right = network.points[static_cast<std::size_t>(point)].place_m + mean;
    const Vector3d& truth =
        clean->points[static_cast<std::size_t>(clean->point_named("P2"))].place_m;
    EXPECT_GT((network.points[static_cast<std::size_t>(point)].place_m - truth).norm(), 0.015);
    EXPECT_LT((put_right - truth).norm(), 0.004);
}

TEST(network_causes, a_leaning_rod_is_told_from_a_mark_that_moved) {
    testing::SiteJobOptions options;
    options.setups = 8;
    testing::SiteJob job = testing::draw_site_job(43, options);
    // One sight in the middle: before and after it the mark is where it was.
    measure::Sight& sight = job.input.setups[4].sights[1];
    *sight.slope_distance_m += 0.030;
    *sight.direction_rad += 0.020 / *sight.slope_distance_m;
    SiteNetwork network;
    const NetworkDiagnosis d = diagnosed(job, network);
    double rod = 0.0;
    for (std::size_t h = 0; h < d.suspects.size(); ++h)
        if (d.suspects[h].cause == cause::Cause::rod_not_plumb && d.suspects[h].setup == 4 &&
            network.points[static_cast<std::size_t>(d.suspects[h].point)].name == sight.target)
            rod += d.probability[h];
    EXPECT_GT(rod, 0.7);
    EXPECT_LT(probability_of(d, network, cause::Cause::mark_moved, sight.target), 0.3);
}

// Against the plain formula: dense, with the prior as a covariance.
TEST(movement_search, evidence_is_that_of_the_normal_model) {
    Random random(9);
    const int n = 12;
    Eigen::MatrixXd a(n, 4), b(n, 3);
    Eigen::VectorXd y(n);
    for (int r = 0; r < n; ++r) {
        y[r] = random.normal();
        for (int c = 0; c < 4; ++c) a(r, c) = random.normal();
        for (int c = 0; c < 3; ++c) b(r, c) = random.normal();
    }
    const Eigen::MatrixXd m =
        Eigen::MatrixXd::Identity(n, n) - a * (a.transpose() * a).inverse() * a.transpose();
    const Eigen::MatrixXd gram = b.transpose() * m * b;
    const Eigen::VectorXd misfit = b.transpose() * m * y;
    Suspect plan{0, 2, std::log(0.1), {Eigen::Vector2d(0.5, 0.5), Eigen::Vector2d(3.0, 3.0)}, -1};
    Suspect other{2, 1, std::log(0.05), {Eigen::VectorXd::Constant(1, 1.5)}, -1};
    // The flat δ as a very wide prior; its own part cancels in the ratio.
    const auto ln_normal_of = [&](const Eigen::MatrixXd& covariance) {
        const Eigen::LLT<Eigen::MatrixXd> llt(covariance);
        const Eigen::MatrixXd l = llt.matrixL();
        double log_det = 0.0;
        for (int i = 0; i < n; ++i) log_det += std::log(l(i, i));
        return -0.5 * y.dot(llt.solve(y)) - log_det;
    };
    const Eigen::MatrixXd base = Eigen::MatrixXd::Identity(n, n) + 1e8 * a * a.transpose();
    double sum = 0.0;
    for (const double s : {0.5, 3.0}) {
        Eigen::Vector3d square(s * s, s * s, 1.5 * 1.5);
        sum += 0.5 * std::exp(ln_normal_of(base + b * square.asDiagonal() * b.transpose()) -
                              ln_normal_of(base));
    }
    EXPECT_NEAR(set_evidence(gram, misfit, {plan, other}, {0, 1}), std::log(sum), 1e-5);
}

TEST(movement_search, two_that_moved_alike_are_found_as_a_set) {
    // Three of seven moved by the same amount: each alone leaves the others unexplained.
    const int n = 7;
    Eigen::MatrixXd a = Eigen::MatrixXd::Ones(n, 1);
    Eigen::VectorXd y = Eigen::VectorXd::Zero(n);
    for (const int i : {0, 1, 2}) y[i] = 9.0;
    const Eigen::MatrixXd m = Eigen::MatrixXd::Identity(n, n) - a * a.transpose() / n;
    std::vector<Suspect> suspects;
    for (int i = 0; i < n; ++i)
        suspects.push_back({i, 1, std::log(0.05), {Eigen::VectorXd::Constant(1, 10.0)}, i});
    const auto sets = search_sets(m, m * y, suspects);
    EXPECT_EQ(sets.front().members, (std::vector<int>{0, 1, 2}));
    EXPECT_GT(sets.front().probability, 0.95);
}

TEST(movement_search, of_a_group_one_alone_holds) {
    const Eigen::MatrixXd gram = Eigen::MatrixXd::Identity(2, 2);
    const Eigen::VectorXd misfit = Eigen::Vector2d(6.0, 6.0);
    std::vector<Suspect> suspects{{0, 1, 0.0, {Eigen::VectorXd::Constant(1, 5.0)}, 1},
                                  {1, 1, 0.0, {Eigen::VectorXd::Constant(1, 5.0)}, 1}};
    for (const SuspectSet& set : search_sets(gram, misfit, suspects))
        EXPECT_LE(set.members.size(), 1U);
}

}  // namespace
}  // namespace layproof::network
