#include "station/aids.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "station/solution.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

struct Site {
    StationInput input;
    Prepared setup;
    Pose pose;
    std::vector<LayTarget> targets;
};

measure::Sight sight_to(const frame::Mark& mark, const Eigen::Vector3d& from, double rod_m) {
    const double e = *mark.east_m - from.x();
    const double n = *mark.north_m - from.y();
    const double d = std::hypot(e, n);
    const double v = *mark.height_m + rod_m - from.z() - 0.87 * d * d / (2.0 * 6371000.0);
    measure::Sight out;
    out.station = "S";
    out.target = mark.name;
    out.direction_rad = measure::wrap_0_2pi(std::atan2(e, n));
    out.zenith_rad = std::atan2(d, v);
    out.slope_distance_m = std::hypot(d, v);
    out.target_height_m = rod_m;
    return out;
}

/// `sighted` of six marks around the origin, points to the north-east.
Site site(int sighted, double tolerance_m, double rod_m = 1.5) {
    Site out;
    const double places[6][2] = {{40, 10}, {35, 45}, {-10, 50}, {-45, -20}, {5, -48}, {50, -30}};
    for (int i = 0; i < 6; ++i) {
        frame::Mark mark;
        mark.name = "M" + std::to_string(i + 1);
        mark.east_m = places[i][0];
        mark.north_m = places[i][1];
        mark.height_m = 0.1 * i;
        out.input.marks.push_back(mark);
    }
    const Eigen::Vector3d from(0.0, 0.0, 1.6);
    out.input.setup.station = "S";
    for (int i = 0; i < sighted; ++i)
        out.input.sights.push_back(
            sight_to(out.input.marks[static_cast<std::size_t>(i)], from, rod_m));
    out.setup = *prepare(out.input);
    out.pose = solve_station(out.setup)->best.pose;
    for (int i = 0; i < 40; ++i)
        out.targets.push_back(
            {"P" + std::to_string(i), 2.0 * i - 30.0, 20.0 + (i % 7), 0.0, tolerance_m, 0.010});
    return out;
}

Aids help(const Site& s, double rod_m = 1.5) {
    return what_helps({s.setup, s.pose, s.input.marks, s.targets, rod_m, 0.95});
}

const Aid* find(const Aids& aids, AidKind kind) {
    const auto at = std::find_if(aids.best.begin(), aids.best.end(),
                                 [&](const Aid& a) { return a.kind == kind; });
    return at == aids.best.end() ? nullptr : &*at;
}

TEST(aids, without_targets_nothing_is_said) {
    Site s = site(3, 0.006);
    s.targets.clear();
    EXPECT_TRUE(help(s).best.empty());
}

TEST(aids, now_is_the_forecast_itself) {
    const Site s = site(3, 0.006);
    const Forecast f =
        forecast(s.pose, s.targets, s.setup.instrument, 1.5, {belief_of(s.pose)}, 0.95);
    const Aids aids = help(s);
    EXPECT_EQ(aids.now.proven, f.proven);
    EXPECT_DOUBLE_EQ(aids.now.lowest, f.lowest);
}

TEST(aids, every_kind_helps_and_the_order_is_by_points_proven) {
    const Aids aids = help(site(3, 0.006));
    for (const AidKind kind : {AidKind::short_rod, AidKind::bipod, AidKind::another_round,
                               AidKind::sight_mark, AidKind::place_mark}) {
        const Aid* aid = find(aids, kind);
        ASSERT_NE(aid, nullptr) << to_word(kind);
        EXPECT_GE(aid->lowest, aids.now.lowest) << to_word(kind);
        EXPECT_GE(aid->proven, aids.now.proven) << to_word(kind);
    }
    for (std::size_t i = 1; i < aids.best.size(); ++i)
        EXPECT_GE(aids.best[i - 1].proven, aids.best[i].proven);
}

TEST(aids, rod_that_is_short_already_is_not_advised) {
    EXPECT_EQ(find(help(site(3, 0.006), 0.1), AidKind::short_rod), nullptr);
}

TEST(aids, no_mark_is_left_to_sight_when_all_are) {
    EXPECT_EQ(find(help(site(6, 0.004)), AidKind::sight_mark), nullptr);
}

// The mark advised must be the one that really gives the best station once it is sighted.
TEST(aids, sighting_the_advised_mark_is_the_best_choice_when_done) {
    const Site before = site(3, 0.005);
    const Aids aids = help(before);
    const Aid* advised = find(aids, AidKind::sight_mark);
    ASSERT_NE(advised, nullptr);
    std::string best;
    double most = -1.0;
    double of_advised = -1.0;
    for (int m = 3; m < 6; ++m) {
        StationInput input = before.input;
        const frame::Mark& mark = input.marks[static_cast<std::size_t>(m)];
        input.sights.push_back(sight_to(mark, {0.0, 0.0, 1.6}, 1.5));
        const Prepared setup = *prepare(input);
        const Pose pose = solve_station(setup)->best.pose;
        const Forecast f =
            forecast(pose, before.targets, setup.instrument, 1.5, {belief_of(pose)}, 0.95);
        double average = 0.0;
        for (const PointForecast& p : f.points)
            average += p.probability / static_cast<double>(f.points.size());
        if (average > most) {
            most = average;
            best = mark.name;
        }
        if (mark.name == advised->mark) of_advised = average;
    }
    EXPECT_EQ(advised->mark, best);
    // Paper against a full solution; the marks' heights and the nonlinearity are the difference.
    EXPECT_NEAR(advised->average, of_advised, 1e-3);
}

TEST(aids, another_round_is_the_station_solved_from_doubled_sights) {
    const Site before = site(3, 0.005);
    StationInput twice = before.input;
    for (const measure::Sight& s : before.input.sights) twice.sights.push_back(s);
    const Prepared setup = *prepare(twice);
    const Pose pose = solve_station(setup)->best.pose;
    const Forecast f =
        forecast(pose, before.targets, setup.instrument, 1.5, {belief_of(pose)}, 0.95);
    const Aids aids = help(before);
    const Aid* aid = find(aids, AidKind::another_round);
    ASSERT_NE(aid, nullptr);
    EXPECT_NEAR(aid->lowest, f.lowest, 1e-6);
}

TEST(aids, occupied_setup_is_not_told_to_sight_the_mark_it_stands_on) {
    Site s = site(2, 0.005);
    s.input.setup.kind = SetupKind::occupied;
    s.input.setup.mark = "M6";
    s.input.setup.instrument_height_m = 1.1;
    s.input.sights.clear();
    const Eigen::Vector3d from(50.0, -30.0, 0.5 + 1.1);
    for (int i = 0; i < 2; ++i)
        s.input.sights.push_back(sight_to(s.input.marks[static_cast<std::size_t>(i)], from, 1.5));
    s.setup = *prepare(s.input);
    s.pose = solve_station(s.setup)->best.pose;
    const Aids aids = help(s);
    const Aid* aid = find(aids, AidKind::sight_mark);
    ASSERT_NE(aid, nullptr);
    EXPECT_NE(aid->mark, "M6");
}

}  // namespace
}  // namespace layproof::station
