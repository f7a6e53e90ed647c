#include "cause/next_sight.hpp"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <cmath>

#include "cause/planted.hpp"
#include "support/scene.hpp"

namespace layproof::cause {
namespace {

using testing::around;
using testing::book;
using testing::Plant;
using testing::shipped_table;
using testing::Site;
using testing::small;

struct Case {
    station::Prepared setup;
    station::Solution solution;
    Diagnosis diagnosis;
};

Case solved(const station::StationInput& input, const CauseTable& table) {
    auto prepared = station::prepare(input);
    EXPECT_TRUE(prepared.ok());
    auto result = station::solve_station(*prepared);
    EXPECT_TRUE(result.ok());
    Case out{*prepared, result->best, {}};
    out.diagnosis = diagnose(out.setup, out.solution, table);
    return out;
}

const NextSight* find(const std::vector<NextSight>& list, Way way, const std::string& target) {
    for (const NextSight& next : list)
        if (next.way == way && next.target == target) return &next;
    return nullptr;
}

CauseTable nothing_but_nothing() {
    CauseTable table;
    table.of(Cause::nothing_wrong).frequency = 1.0;
    return table;
}

// With one explanation the gain is what a sight tells about the pose, ½ log2 of the ratio of the
// determinants of the pose's covariance without and with it; the second one comes from solving the
// set-up with the sight added.
TEST(next_sight, gain_with_one_explanation_is_the_solver_s_own_information) {
    for (const Site& site : {around(), small()}) {
        const station::StationInput input = book(site, {});
        const Case before = solved(input, nothing_but_nothing());
        const auto ranked = rank_next_sights(before.setup, before.diagnosis);
        for (std::size_t m = 0; m < site.marks.size(); ++m) {
            const std::string name = "H" + std::to_string(m + 1);
            station::StationInput more = input;
            more.sights.push_back(input.sights[m]);
            const Case after = solved(more, nothing_but_nothing());
            const double bits = 0.5 * std::log2(before.solution.pose.covariance.determinant() /
                                                after.solution.pose.covariance.determinant());
            const NextSight* next = find(ranked, Way::again, name);
            ASSERT_NE(next, nullptr) << name;
            // The two are linearised at poses and places that differ by the misfits.
            EXPECT_NEAR(next->gain_bits, bits, 0.01 * bits + 1e-6) << name;
        }
    }
}

TEST(next_sight, better_plumbed_rods_tell_more_about_the_pose) {
    const Case c = solved(book(around(), {}), nothing_but_nothing());
    const auto ranked = rank_next_sights(c.setup, c.diagnosis);
    for (const char* name : {"H1", "H2", "H3"}) {
        const double again = find(ranked, Way::again, name)->gain_bits;
        EXPECT_GT(find(ranked, Way::bipod, name)->gain_bits, again) << name;
        EXPECT_GT(find(ranked, Way::short_rod, name)->gain_bits, again) << name;
        EXPECT_GT(find(ranked, Way::rod_turned, name)->gain_bits, again) << name;
    }
}

TEST(next_sight, moved_mark_or_leaning_rod_is_split_by_sighting_that_mark_anew) {
    Site site = around();
    site.rounds = 1;
    Plant plant;
    plant.cause = Cause::mark_moved;
    plant.mark = 3;
    plant.amount = {0.014, -0.009, 0.0};
    const Case c = solved(book(site, {plant}), shipped_table());
    const Entry& top = c.diagnosis.entries.front();
    ASSERT_GE(top.members.size(), 2U);
    const auto ranked = rank_next_sights(c.setup, c.diagnosis, {}, &top);
    ASSERT_FALSE(ranked.empty());
    EXPECT_EQ(ranked.front().target, "H4");
    EXPECT_NE(ranked.front().way, Way::tape);
    EXPECT_GT(ranked.front().gain_bits, 0.3);
    // Any other mark hardly helps to split these two.
    EXPECT_LT(find(ranked, Way::again, "H2")->gain_bits, 0.5 * ranked.front().gain_bits);
}

TEST(next_sight, third_mark_tells_whether_two_names_are_swapped) {
    Site site = small();
    site.marks.resize(2);
    station::StationInput input = book(site, {});
    for (frame::Mark& mark : input.marks) mark.height_m.reset();
    const Case c = solved(input, shipped_table());
    station::UsedMark third;
    third.name = "H3";
    third.has_plan = true;
    third.given_m = {1.0, -9.0, 0.0};
    third.sd_m.setConstant(0.0015);
    const auto diagnosis = diagnose(c.setup, c.solution, shipped_table(), {third});
    const auto ranked = rank_next_sights(c.setup, diagnosis, {third});
    ASSERT_FALSE(ranked.empty());
    EXPECT_EQ(ranked.front().way, Way::new_mark);
    EXPECT_EQ(ranked.front().target, "H3");
}

TEST(next_sight, tape_between_marks_tells_of_the_mark_that_moved) {
    Site site = small();
    Plant plant;
    plant.cause = Cause::mark_moved;
    plant.mark = 0;
    plant.amount = {0.02, 0.0, 0.0};
    const Case c = solved(book(site, {plant}), shipped_table());
    const auto ranked = rank_next_sights(c.setup, c.diagnosis);
    const NextSight* tape = find(ranked, Way::tape, "H1");
    ASSERT_NE(tape, nullptr);
    EXPECT_FALSE(tape->second.empty());
    EXPECT_GT(tape->gain_bits, 0.0);
}

TEST(next_sight, gains_are_finite_sorted_and_not_negative_over_random_scenes) {
    for (std::uint64_t seed = 1; seed <= 60; ++seed) {
        const auto scene =
            layproof::testing::draw_scene(seed, shipped_table(), layproof::testing::main_causes());
        const Case c = solved(scene.input, shipped_table());
        const auto ranked = rank_next_sights(c.setup, c.diagnosis);
        ASSERT_FALSE(ranked.empty()) << seed;
        for (std::size_t i = 0; i < ranked.size(); ++i) {
            ASSERT_TRUE(std::isfinite(ranked[i].gain_bits)) << seed;
            ASSERT_GE(ranked[i].gain_bits, 0.0) << seed;
            // A plainer way within 2 % may stand before a better one.
            if (i == 0) continue;
            ASSERT_LE(ranked[i].gain_bits, ranked[0].gain_bits / 0.97) << seed;
        }
    }
}

TEST(next_sight, nothing_to_work_with_gives_no_sights) {
    const Case c = solved(book(small(), {}), shipped_table());
    Diagnosis empty;
    EXPECT_TRUE(rank_next_sights(c.setup, empty).empty());
}

}  // namespace
}  // namespace layproof::cause
