#include "network/chain.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "network/site_jobs.hpp"
#include "network/site_network.hpp"
#include "support/reference.hpp"

namespace layproof::network {
namespace {

using Eigen::Vector2d;

measure::ReducedSight polar_sight(const Vector2d& from, double turn, const Vector2d& to) {
    measure::ReducedSight out;
    out.has_direction = out.has_distance = out.distance_is_horizontal = true;
    const Vector2d v = to - from;
    out.direction_rad = measure::wrap_0_2pi(std::atan2(v.x(), v.y()) - turn);
    out.distance_m = v.norm();
    return out;
}

struct ChainSite {
    std::vector<Vector2d> places;
    std::vector<Vector2d> stations;
    std::vector<double> turns;
    ChainInput input;

    void point(const std::string& name, const Vector2d& place, bool is_given) {
        places.push_back(place);
        ChainPoint p;
        p.name = name;
        if (is_given) p.plan_m = place;
        input.points.push_back(p);
    }
    void setup(const std::string& name, const Vector2d& place, double turn,
               const std::vector<int>& targets) {
        const int number = static_cast<int>(stations.size());
        stations.push_back(place);
        turns.push_back(turn);
        input.setups.push_back({name, -1, std::nullopt});
        for (const int t : targets)
            input.sights.push_back(
                {number, t, polar_sight(place, turn, places[static_cast<std::size_t>(t)])});
    }
};

constexpr double kExact_m = 1e-9;

TEST(chain, set_ups_on_new_points_are_placed_one_after_another) {
    ChainSite site;
    site.point("A", {1000.0, 500.0}, true);
    site.point("B", {1040.0, 510.0}, true);
    site.point("P", {1060.0, 560.0}, false);
    site.point("Q", {1020.0, 600.0}, false);
    site.point("R", {1100.0, 620.0}, false);
    site.setup("S2", {1050.0, 600.0}, 4.0, {2, 3, 4});  // booked before what it hangs on
    site.setup("S1", {1020.0, 540.0}, 1.0, {0, 1, 2, 3});
    const Chained found = chain(site.input);
    EXPECT_TRUE(found.loose.empty());
    for (std::size_t p = 0; p < site.places.size(); ++p) {
        ASSERT_TRUE(found.point_plan[p].has_value());
        EXPECT_NEAR((*found.point_plan[p] - site.places[p]).norm(), 0.0, kExact_m);
    }
    for (std::size_t s = 0; s < 2; ++s) {
        EXPECT_NEAR((found.setup_plan[s]->plan_m - site.stations[s]).norm(), 0.0, kExact_m);
        EXPECT_NEAR(measure::wrap_pi(found.setup_plan[s]->orientation_rad - site.turns[s]), 0.0,
                    1e-11);
    }
}

/// Neither set-up sights two known points; together they do.
TEST(chain, local_frames_are_laid_on_two_shared_points) {
    ChainSite site;
    site.point("A", {0.0, 0.0}, true);
    site.point("B", {100.0, 20.0}, true);
    site.point("P", {40.0, 30.0}, false);
    site.point("Q", {60.0, -30.0}, false);
    site.setup("S1", {20.0, 10.0}, 2.0, {0, 2, 3});
    site.setup("S2", {80.0, 0.0}, 5.0, {1, 2, 3});
    const Chained found = chain(site.input);
    EXPECT_TRUE(found.loose.empty());
    for (std::size_t s = 0; s < 2; ++s) {
        ASSERT_TRUE(found.setup_plan[s].has_value());
        EXPECT_NEAR((found.setup_plan[s]->plan_m - site.stations[s]).norm(), 0.0, kExact_m);
    }
}

TEST(chain, loose_parts_are_told_by_name) {
    ChainSite site;
    site.point("A", {0.0, 0.0}, true);
    site.point("B", {100.0, 20.0}, true);
    site.point("C", {50.0, 90.0}, true);
    site.point("P3", {340.0, 30.0}, false);
    site.point("P4", {360.0, -30.0}, false);
    site.point("P5", {20.0, 90.0}, false);
    site.setup("S1", {20.0, 10.0}, 2.0, {0, 1, 2});
    site.setup("S7", {350.0, 10.0}, 5.0, {3, 4});
    site.setup("S8", {30.0, 60.0}, 5.0, {2, 5});
    const Chained found = chain(site.input);
    EXPECT_TRUE(found.setup_plan[0].has_value());
    EXPECT_FALSE(found.setup_plan[1].has_value());
    EXPECT_FALSE(found.point_plan[3].has_value());
    ASSERT_EQ(found.loose.size(), 2U);
    EXPECT_EQ(found.loose[0].says(), "S7 and P3, P4 hang on nothing.");
    EXPECT_EQ(found.loose[1].says(), "S8 and P5 hang on C alone and can turn about it.");
}

TEST(chain, without_known_points_the_job_has_a_frame_of_its_own) {
    ChainSite site;
    site.point("P", {40.0, 30.0}, false);
    site.point("Q", {60.0, -30.0}, false);
    site.point("R", {-20.0, 10.0}, false);
    site.setup("S1", {20.0, 10.0}, 2.0, {0, 1, 2});
    site.setup("S2", {30.0, -10.0}, 1.0, {0, 1});
    const Chained found = chain(site.input);
    EXPECT_TRUE(found.own_frame);
    EXPECT_TRUE(found.loose.empty());
    EXPECT_NEAR((*found.point_plan[0] - *found.point_plan[1]).norm(),
                (site.places[0] - site.places[1]).norm(), kExact_m);
    EXPECT_NEAR((found.setup_plan[0]->plan_m - found.setup_plan[1]->plan_m).norm(),
                (site.stations[0] - site.stations[1]).norm(), kExact_m);
}

TEST(chain, a_wrong_mark_does_not_pull_the_station) {
    ChainSite site;
    site.point("A", {0.0, 0.0}, true);
    site.point("B", {100.0, 20.0}, true);
    site.point("C", {50.0, 90.0}, true);
    site.point("D", {10.0, 70.0}, true);
    site.setup("S1", {40.0, 30.0}, 2.0, {0, 1, 2, 3});
    site.input.points[1].plan_m = Vector2d(103.0, 16.0);
    const Chained found = chain(site.input);
    EXPECT_NEAR((found.setup_plan[0]->plan_m - site.stations[0]).norm(), 0.0, kExact_m);
}

TEST(chain, directions_alone_are_intersected) {
    ChainSite site;
    site.point("A", {0.0, 0.0}, true);
    site.point("B", {100.0, 20.0}, true);
    site.point("P", {60.0, 80.0}, false);
    site.setup("S1", {20.0, 10.0}, 2.0, {0, 1, 2});
    site.setup("S2", {80.0, 0.0}, 5.0, {0, 1, 2});
    for (ChainSight& sight : site.input.sights)
        if (sight.point == 2) sight.reduced.has_distance = false;
    const Chained found = chain(site.input);
    ASSERT_TRUE(found.point_plan[2].has_value());
    EXPECT_NEAR((*found.point_plan[2] - site.places[2]).norm(), 0.0, kExact_m);
}

TEST(chain, heights_spread_over_sights_levels_and_instrument_heights) {
    testing::SiteJobOptions options;
    options.noise = 0.0;
    options.points_each = 2;
    testing::SiteJob job = testing::draw_site_job(7, options);
    // One height alone is known; the last point hangs on a level.
    for (std::size_t m = 1; m < job.input.marks.size(); ++m) job.input.marks[m].height_m.reset();
    job.input.levels.push_back({"P1", "T1", 1.25, 0.001, {}});
    const auto found = adjust_network(job.input);
    ASSERT_TRUE(found);
    for (std::size_t p = 0; p < job.true_points.size(); ++p) {
        const int at = found->point_named("P" + std::to_string(p + 1));
        ASSERT_GE(at, 0);
        EXPECT_NEAR(
            (found->points[static_cast<std::size_t>(at)].place_m - job.true_points[p]).norm(), 0.0,
            1e-6);
    }
    const int t = found->point_named("T1");
    ASSERT_GE(t, 0);
    EXPECT_NEAR(found->points[static_cast<std::size_t>(t)].place_m.z(),
                job.true_points[0].z() + 1.25, 1e-6);
    EXPECT_FALSE(found->points[static_cast<std::size_t>(t)].has_plan);
}

// Published: nine marks at two epochs, one moved by 0.25 m; every pair's rigid motion, the best has
// the smallest sum of absolute differences.
TEST(chain, best_pair_agrees_with_the_published_comparison) {
    const testing::Reference reference("control-check-two-epochs");
    std::vector<Vector2d> first, second;
    std::vector<std::string> names;
    for (const auto& row : *reference.table().at_path("input.marks.rows").as_array()) {
        const auto& cells = *row.as_array();
        names.push_back(*cells[0].value<std::string>());
        first.emplace_back(*cells[1].value<double>(), *cells[2].value<double>());
        second.emplace_back(*cells[4].value<double>(), *cells[5].value<double>());
    }
    ASSERT_EQ(names.size(), 9U);
    const auto check = [&](const std::string& pair, const PairFit& fit) {
        reference.check(pair + ".X0", fit.origin_m.x());
        reference.check(pair + ".Y0", fit.origin_m.y());
        // Published counter-clockwise.
        reference.check(pair + ".alpha",
                        -measure::wrap_pi(fit.rotation_rad) / measure::kRadPerArcsec);
    };
    const auto best = best_pair_fit(first, second);
    ASSERT_TRUE(best.has_value());
    EXPECT_EQ(names[static_cast<std::size_t>(best->first)], "K1");
    EXPECT_EQ(names[static_cast<std::size_t>(best->second)], "K6");
    check("K1-K6", *best);
    reference.check("K1-K6.sum_abs", best->sum_abs_m);
    for (std::size_t a = 0; a < 8; ++a)
        for (std::size_t b = a + 1; b < 8; ++b) {
            const auto one = best_pair_fit({first[a], first[b]}, {second[a], second[b]});
            ASSERT_TRUE(one.has_value());
            check(names[a] + "-" + names[b], *one);
        }
}

TEST(chain, fewer_than_two_places_fit_nothing) {
    EXPECT_FALSE(best_pair_fit({}, {}).has_value());
    EXPECT_FALSE(best_pair_fit({Vector2d(1, 2)}, {Vector2d(3, 4)}).has_value());
    EXPECT_FALSE(best_pair_fit({Vector2d(1, 2), Vector2d(1, 2)}, {Vector2d(3, 4), Vector2d(5, 4)})
                     .has_value());
}

}  // namespace
}  // namespace layproof::network
