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
    ASSERT_FALSE(d.suspects.empty());
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

TEST(network_causes, what_is_laid_after_the_last_check_may_lie_after_an_unseen_disturbance) {
    testing::SiteJobOptions options;
    options.points_each = 1;
    SiteNetwork network;
    const NetworkDiagnosis d = diagnosed(testing::draw_site_job(44, options), network);
    const int point = network.point_named("P1");
    ASSERT_GE(point, 0);
    double still = 0.0;
    double disturbed = 0.0;
    for (const PlaceBelief& belief : d.beliefs(point))
        if (belief.explanation < 0) (belief.is_after_bump ? disturbed : still) += belief.weight;
    const double odds = d.unseen_bump_odds(0);
    EXPECT_GE(odds, kBumpPerGap);
    EXPECT_NEAR(disturbed / still, odds, 1e-12);
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

}  // namespace
}  // namespace layproof::network
