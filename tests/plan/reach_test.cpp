#include "plan/reach.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numeric>

#include "support/invented_floor.hpp"
#include "support/scene.hpp"

namespace layproof::plan {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

Crew reach_crew() {
    Crew crew;
    crew.causes = testing::main_table();
    crew.mark_rod_m = crew.lay_rod_m = 0.1;
    crew.instrument.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
    return crew;
}

ControlMark mark_at(const std::string& name, double east, double north, double height = 0.0) {
    ControlMark mark;
    mark.name = name;
    mark.at_m << east, north, height;
    mark.sd_m.setConstant(frame::kDefaultMarkSd_m);
    return mark;
}

std::vector<ControlMark> four_marks() {
    return {mark_at("A", -10.0, -10.0), mark_at("B", 10.0, -10.0), mark_at("C", 10.0, 10.0),
            mark_at("D", -10.0, 10.0)};
}

station::LayTarget lay_target(double east, double north) {
    station::LayTarget out;
    out.name = "P";
    out.east_m = east;
    out.north_m = north;
    out.height_m = 0.0;
    out.tolerance_plan_m = 0.00635;
    out.tolerance_height_m = 0.0127;
    return out;
}

std::vector<Vector2d> square_around(double east, double north, double half) {
    return {{east - half, north - half},
            {east + half, north - half},
            {east + half, north + half},
            {east - half, north + half}};
}

TEST(reach, a_lattice_covers_its_rectangle_evenly) {
    const ReachMap map = make_map({1.0, 2.0}, {11.2, 7.0}, 0.5, 130);
    EXPECT_EQ(map.columns, 21);
    EXPECT_EQ(map.rows, 11);
    EXPECT_EQ(map.size(), 231U);
    EXPECT_EQ(map.words, 3);  // 130 points in words of 64
    EXPECT_EQ(map.counted.size(), 3U * 231U);
    EXPECT_NEAR((map.at(0) - Vector2d(1.1, 2.0)).norm(), 0.0, 1e-12);
    EXPECT_NEAR((map.at(230) - Vector2d(11.1, 7.0)).norm(), 0.0, 1e-12);
    EXPECT_NEAR((map.at(21) - map.at(0) - Vector2d(0.0, 0.5)).norm(), 0.0, 1e-12);
    for (std::size_t i = 0; i < map.size(); ++i) EXPECT_LT(map.expected[i], 0.0F);
}

TEST(reach, a_lattice_grows_its_step_rather_than_its_number_of_places) {
    const ReachMap map = make_map({0.0, 0.0}, {100.0, 100.0}, 0.5, 10, 2000);
    EXPECT_LE(map.size(), 2000U);
    EXPECT_GT(map.size(), 1000U);
    EXPECT_GT(map.step_m, 0.5);
    EXPECT_EQ(make_map({3.0, 3.0}, {3.0, 3.0}, 0.5, 1).size(), 1U);
}

TEST(reach, a_lattice_of_what_is_not_finite_has_no_place) {
    EXPECT_EQ(make_map({NAN, 0.0}, {1.0, 1.0}, 0.5, 1).size(), 0U);
    EXPECT_EQ(make_map({0.0, 0.0}, {INFINITY, 1.0}, 0.5, 1).size(), 0U);
    EXPECT_EQ(make_map({0.0, 0.0}, {1.0, 1.0}, NAN, 1).size(), 0U);
    EXPECT_EQ(make_map({0.0, 0.0}, {1.0, 1.0}, 0.0, 1).size(), 0U);
}

TEST(reach, one_stands_where_nothing_stands) {
    const Reach full{0.0, 3.0};
    const Site site(four_marks(), {lay_target(3.0, 3.0)},
                    {*rectangle({0.0, 0.0}, 1.0, 1.0, 0.0, full, 0),
                     // Hangs over the head of whoever stands there.
                     *rectangle({6.0, 0.0}, 1.0, 1.0, 0.0, {2.5, 4.0}, 1)},
                    {square_around(-6.0, -6.0, 1.0)}, reach_crew(), 0.0, 0.05);
    Surveyor surveyor(site);
    PlaceAnswer answer;
    const auto standing = [&](double east, double north) {
        surveyor.ask({east, north}, answer);
        return answer.standing;
    };
    EXPECT_EQ(standing(0.1, 0.2), Standing::inside_obstacle);
    EXPECT_EQ(standing(1.0, 0.0), Standing::no_room);  // 0.5 m of the 0.6 m asked for
    EXPECT_EQ(standing(1.2, 0.0), Standing::free);
    EXPECT_EQ(standing(-5.5, -6.5), Standing::no_go);
    EXPECT_TRUE(answer.marks.empty());
    EXPECT_TRUE(answer.seen.empty());
    EXPECT_EQ(answer.expected, 0.0);
    EXPECT_EQ(standing(6.0, 0.0), Standing::free);
    EXPECT_EQ(to_word(Standing::no_room), "no-room");
    EXPECT_DOUBLE_EQ(site.axes_height_m(), 1.6);
}

TEST(reach, an_obstacle_over_a_mark_is_named) {
    const Site site(four_marks(), {},
                    {*rectangle({-10.0, -10.0}, 0.5, 0.5, 0.0, {0.0, 1.0}, 7),
                     *rectangle({10.0, -10.0}, 0.5, 0.5, 0.0, {2.0, 3.0}, 8)},
                    {}, reach_crew(), 0.0, 0.05);
    EXPECT_EQ(site.obstacle_over(site.marks()[0]), 7);
    EXPECT_EQ(site.obstacle_over(site.marks()[1]), -1);  // over the prism by far
    EXPECT_EQ(site.obstacle_over(site.marks()[2]), -1);
}

TEST(reach, marks_count_within_reach_and_when_they_may_be_used) {
    Crew crew = reach_crew();
    crew.farthest_mark_m = 20.0;
    auto marks = four_marks();
    marks.push_back(mark_at("far", 0.0, 25.0));
    marks.push_back(mark_at("near", 0.0, 1.0));         // within the nearest 2 m
    marks.push_back(mark_at("high", 0.0, -4.0, 12.0));  // 69° up
    const Site site(marks, {}, {}, {}, crew, 0.0, 0.05);
    Surveyor surveyor(site);
    PlaceAnswer answer;
    surveyor.ask({0.0, 0.0}, answer);
    EXPECT_EQ(answer.marks, (std::vector<int>{0, 1, 2, 3}));
    EXPECT_TRUE(answer.is_solvable);
    std::vector<char> may_use(marks.size(), 1);
    may_use[1] = 0;
    surveyor.ask({0.0, 0.0}, answer, may_use);
    EXPECT_EQ(answer.marks, (std::vector<int>{0, 2, 3}));
}

TEST(reach, of_many_marks_the_nearest_are_used) {
    std::vector<ControlMark> marks;
    for (int i = 0; i < kMostControl + 4; ++i) {
        const double turn = 0.7 * i;
        const double away = 5.0 + i % 3 + 0.9 * (i % 16);
        marks.push_back(
            mark_at("M" + std::to_string(i), away * std::sin(turn), away * std::cos(turn)));
    }
    const Site site(marks, {}, {}, {}, reach_crew(), 0.0, 0.05);
    Surveyor surveyor(site);
    PlaceAnswer answer;
    surveyor.ask({0.0, 0.0}, answer);
    ASSERT_EQ(answer.marks.size(), static_cast<std::size_t>(kMostControl));
    double farthest = 0.0;
    for (const int m : answer.marks)
        farthest = std::max(farthest, marks[static_cast<std::size_t>(m)].at_m.head<2>().norm());
    int nearer = 0;
    for (const auto& mark : marks) nearer += mark.at_m.head<2>().norm() <= farthest;
    EXPECT_EQ(nearer, kMostControl);
    EXPECT_TRUE(std::is_sorted(answer.marks.begin(), answer.marks.end()));
}

TEST(reach, what_is_seen_is_what_single_sights_see) {
    const auto floor = test_support::invented_floor({.points = 300}, 3);
    const Site site(control_marks(floor.marks), floor.points, floor.prisms, {}, reach_crew(), 0.0,
                    0.05);
    Surveyor surveyor(site);
    PlaceAnswer answer;
    int places = 0;
    for (double north = 5.0; north < 90.0; north += 9.7) {
        surveyor.ask({29.3, north}, answer);
        if (answer.standing != Standing::free) continue;
        ++places;
        const Vector3d eye(29.3, north, 1.6);
        std::vector<int> seen;
        for (std::size_t p = 0; p < floor.points.size(); ++p) {
            const Vector3d to(floor.points[p].east_m, floor.points[p].north_m, 0.1);
            const double away = (to - eye).head<2>().norm();
            if (away >= 2.0 && away <= 100.0 && site.scene().is_free(eye, to))
                seen.push_back(static_cast<int>(p));
        }
        EXPECT_EQ(answer.seen, seen) << north;
        EXPECT_NEAR(answer.expected,
                    std::accumulate(answer.chance.begin(), answer.chance.end(), 0.0), 1e-9);
    }
    EXPECT_GT(places, 4);
}

TEST(reach, one_mark_proves_nothing_and_says_so) {
    const Site site({mark_at("A", 5.0, 5.0)}, {lay_target(3.0, 3.0)}, {}, {}, reach_crew(), 0.0,
                    0.05);
    Surveyor surveyor(site);
    EXPECT_LT(surveyor.best_chance()[0], 0.0F);
    PlaceAnswer answer;
    surveyor.ask({0.0, 0.0}, answer);
    EXPECT_FALSE(answer.is_solvable);
    EXPECT_EQ(answer.seen, std::vector<int>{0});
    EXPECT_EQ(answer.chance, std::vector<double>{0.0});
    EXPECT_EQ(surveyor.best_chance()[0], 0.0F);  // seen, never proven
    surveyor.ask_closely({0.0, 0.0}, {0}, {}, answer);
    EXPECT_FALSE(answer.is_solvable);
    EXPECT_EQ(answer.chance, std::vector<double>{0.0});
}

TEST(reach, a_set_up_is_looked_at_closely_with_the_marks_given) {
    const Site site(four_marks(), {lay_target(3.0, 3.0), lay_target(-4.0, 6.0)}, {}, {},
                    reach_crew(), 0.0, 0.05);
    Surveyor surveyor(site);
    PlaceAnswer answer;
    surveyor.ask_closely({0.0, 0.0}, {0, 2, 3}, {.most = 600}, answer);
    EXPECT_EQ(answer.marks, (std::vector<int>{0, 2, 3}));
    ASSERT_EQ(answer.chance.size(), 2U);
    const double with_three = answer.expected;
    EXPECT_NEAR(with_three, answer.chance[0] + answer.chance[1], 1e-12);
    surveyor.ask_closely({0.0, 0.0}, {0, 1, 2, 3}, {.most = 600}, answer);
    EXPECT_GT(answer.expected, with_three);
    EXPECT_GT(answer.nothing_wrong, 0.5);
    EXPECT_LT(answer.nothing_wrong, 1.0);
}

// The answers do not depend on how the lattice is shared out.
TEST(reach, a_map_filled_in_parts_is_the_map_filled_at_once) {
    const auto floor = test_support::invented_floor(
        {.east_m = 20.0, .north_m = 24.0, .columns = 12, .walls = 20, .points = 120, .marks = 6},
        5);
    const Site site(control_marks(floor.marks), floor.points, floor.prisms, {}, reach_crew(), 0.0,
                    0.05);
    ReachMap whole = make_map({0.0, 0.0}, {20.0, 24.0}, 1.0, floor.points.size());
    ReachMap parts = whole;
    Surveyor all(site);
    fill(whole, 0, whole.size(), all, 0.8);
    Surveyor first(site);
    Surveyor second(site);
    const std::size_t third = whole.size() / 3;
    fill(parts, 2 * third, whole.size(), first, 0.8);
    fill(parts, 0, third, second, 0.8);
    fill(parts, third, 2 * third, first, 0.8);
    EXPECT_EQ(whole.expected, parts.expected);
    EXPECT_EQ(whole.counted, parts.counted);
    EXPECT_EQ(whole.marks, parts.marks);
    EXPECT_EQ(whole.in_sight, parts.in_sight);
    EXPECT_EQ(whole.standing, parts.standing);

    // Bits and figures are those of asking each place by itself.
    PlaceAnswer answer;
    std::size_t counted = 0;
    std::vector<float> best(floor.points.size(), -1.0F);
    for (std::size_t place = 0; place < whole.size(); ++place) {
        second.ask(whole.at(place), answer);
        EXPECT_EQ(whole.standing[place], answer.standing);
        if (answer.standing != Standing::free) {
            EXPECT_LT(whole.expected[place], 0.0F);
            continue;
        }
        EXPECT_EQ(whole.in_sight[place], answer.seen.size());
        EXPECT_EQ(whole.marks[place], answer.marks.size());
        std::size_t here = 0;
        for (std::size_t i = 0; i < answer.seen.size(); ++i) {
            const auto p = static_cast<std::size_t>(answer.seen[i]);
            const bool bit =
                ((whole.counted[place * static_cast<std::size_t>(whole.words) + p / 64] >>
                  (p % 64)) &
                 1U) != 0;
            EXPECT_EQ(bit, answer.chance[i] >= 0.8);
            here += bit;
            best[p] = std::max(best[p], static_cast<float>(answer.chance[i]));
        }
        counted += here;
    }
    std::size_t bits = 0;
    for (const auto word : whole.counted) bits += static_cast<std::size_t>(std::popcount(word));
    EXPECT_EQ(bits, counted);
    EXPECT_GT(bits, 0U);
    EXPECT_EQ(all.best_chance(), best);
}

}  // namespace
}  // namespace layproof::plan
