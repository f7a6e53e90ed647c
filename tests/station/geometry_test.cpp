#include "station/geometry.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "frame/ellipse.hpp"
#include "measure/angle.hpp"
#include "station/scenes.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using testing::exact_direction;
using testing::PlanSetup;

const Remark* find(const Geometry& geometry, RemarkKind kind) {
    for (const Remark& remark : geometry.remarks)
        if (remark.kind == kind) return &remark;
    return nullptr;
}

struct Seen {
    Eigen::Vector2d mark;
    bool direction = true;
    bool distance = true;
};

/// Exact sights from the origin.
Prepared look(const std::vector<Seen>& seen) {
    PlanSetup plan;
    plan.raw().instrument = testing::angles_only(1e-5);
    for (std::size_t i = 0; i < seen.size(); ++i) {
        plan.mark("M" + std::to_string(i), seen[i].mark.x(), seen[i].mark.y(), 0.001);
        plan.sight(
            static_cast<int>(i),
            seen[i].direction
                ? std::optional<double>(exact_direction(Eigen::Vector2d::Zero(), seen[i].mark, 0.4))
                : std::nullopt,
            1e-5, seen[i].distance ? std::optional<double>(seen[i].mark.norm()) : std::nullopt,
            0.002);
    }
    return plan.centred();
}

Geometry judged(const Prepared& setup) {
    const auto solved = solve_station(setup);
    EXPECT_TRUE(solved.ok());
    return solved.ok() ? judge_geometry(setup, *solved) : Geometry{};
}

Eigen::Vector2d polar(double azimuth_deg, double distance_m) {
    const double a = azimuth_deg * measure::kRadPerDeg;
    return {distance_m * std::sin(a), distance_m * std::cos(a)};
}

TEST(geometry, healthy_setups_get_no_remark) {
    // All round, three marks or more, one full set of parts.
    Random random(81);
    int healthy = 0;
    for (int draw = 0; draw < 300; ++draw) {
        layproof::testing::SiteOptions options;
        options.marks = 4 + random.below(4);
        const auto site = layproof::testing::simulate_site(random, options);
        const auto setup = prepare(site.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        const Geometry geometry = judge_geometry(*setup, *solved);
        EXPECT_EQ(geometry.mark_count, options.marks);
        healthy += geometry.remarks.empty() ? 1 : 0;
        for (const Remark& remark : geometry.remarks) {
            // A station outside its marks is one-sided and one close to a mark looks steeply down,
            // by right.
            if (remark.kind == RemarkKind::steep_sight) continue;
            EXPECT_EQ(remark.kind, RemarkKind::one_sided) << to_word(remark.kind);
            EXPECT_LT(remark.angle_rad, measure::kPi);
        }
    }
    EXPECT_GT(healthy, 250);
}

TEST(geometry, two_marks_say_so) {
    const Geometry g = judged(look({{polar(10.0, 40.0)}, {polar(130.0, 30.0)}}));
    const Remark* remark = find(g, RemarkKind::two_marks_only);
    ASSERT_NE(remark, nullptr);
    EXPECT_EQ(remark->subjects, (std::vector<std::string>{"M0", "M1"}));
    EXPECT_EQ(find(g, RemarkKind::no_check), nullptr);
}

TEST(geometry, marks_in_a_line_give_the_line) {
    const Geometry g =
        judged(look({{{-40.0, 30.0}}, {{0.0, 30.0}}, {{25.0, 30.5}}, {{60.0, 30.0}}}));
    const Remark* remark = find(g, RemarkKind::marks_in_line);
    ASSERT_NE(remark, nullptr);
    EXPECT_NEAR(remark->angle_rad, measure::kPi / 2.0, 0.02);
    EXPECT_EQ(find(judged(look({{{-40.0, 30.0}}, {{0.0, 45.0}}, {{60.0, 30.0}}})),
                   RemarkKind::marks_in_line),
              nullptr);
}

TEST(geometry, narrow_fan_gives_its_width) {
    const Geometry g =
        judged(look({{polar(350.0, 40.0)}, {polar(2.0, 60.0)}, {polar(14.0, 30.0)}}));
    const Remark* remark = find(g, RemarkKind::narrow_fan);
    ASSERT_NE(remark, nullptr);
    EXPECT_NEAR(remark->angle_rad / measure::kRadPerDeg, 24.0, 1e-6);
    EXPECT_EQ(find(g, RemarkKind::one_sided), nullptr);
    const Geometry south =
        judged(look({{polar(170.0, 40.0)}, {polar(182.0, 60.0)}, {polar(194.0, 30.0)}}));
    const Remark* away_from_north = find(south, RemarkKind::narrow_fan);
    ASSERT_NE(away_from_north, nullptr);
    EXPECT_NEAR(away_from_north->angle_rad / measure::kRadPerDeg, 24.0, 1e-6);
}

TEST(geometry, one_side_gives_the_width_and_all_round_does_not) {
    const Geometry g =
        judged(look({{polar(350.0, 40.0)}, {polar(60.0, 60.0)}, {polar(110.0, 30.0)}}));
    const Remark* remark = find(g, RemarkKind::one_sided);
    ASSERT_NE(remark, nullptr);
    EXPECT_NEAR(remark->angle_rad / measure::kRadPerDeg, 120.0, 1e-6);
    const Geometry round =
        judged(look({{polar(350.0, 40.0)}, {polar(100.0, 60.0)}, {polar(230.0, 30.0)}}));
    ASSERT_EQ(round.remarks.size(), 1U);
    EXPECT_EQ(round.remarks.front().kind, RemarkKind::no_height);
}

TEST(geometry, nothing_left_over_is_said) {
    const Geometry g = judged(look({{polar(10.0, 40.0), true, false},
                                    {polar(130.0, 30.0), true, false},
                                    {polar(250.0, 35.0), true, false}}));
    EXPECT_NE(find(g, RemarkKind::no_check), nullptr);
    EXPECT_EQ(find(g, RemarkKind::danger_circle), nullptr);
}

TEST(geometry, danger_circle_gives_the_distance_from_it) {
    // Circle of radius 50 about (0, 50); the origin lies on it, 2 m inside after the shift.
    const Eigen::Vector2d centre(0.0, 48.0);
    const auto on = [&](double azimuth_deg) {
        return Eigen::Vector2d(centre + polar(azimuth_deg, 50.0));
    };
    const Geometry g =
        judged(look({{on(-60.0), true, false}, {on(10.0), true, false}, {on(75.0), true, false}}));
    const Remark* remark = find(g, RemarkKind::danger_circle);
    ASSERT_NE(remark, nullptr);
    EXPECT_NEAR(remark->amount_m, -2.0, 0.01);
    // Distances take the danger away.
    EXPECT_EQ(find(judged(look({{on(-60.0)}, {on(10.0)}, {on(75.0)}})), RemarkKind::danger_circle),
              nullptr);
}

TEST(geometry, several_places_are_said) {
    const Geometry g = judged(look({{polar(10.0, 40.0)}, {polar(130.0, 30.0), false, true}}));
    EXPECT_NE(find(g, RemarkKind::several_solutions), nullptr);
    EXPECT_NE(find(g, RemarkKind::no_check), nullptr);
}

TEST(geometry, steep_sight_and_missing_height_are_said) {
    Random random(82);
    layproof::testing::SiteOptions options;
    options.marks = 4;
    auto site = layproof::testing::simulate_site(random, options);
    site.input.sights[2].zenith_rad = 0.6;
    site.input.sights[2].slope_distance_m = 20.0;
    auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    auto solved = solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    const Geometry steep = judge_geometry(*setup, *solved);
    const Remark* remark = find(steep, RemarkKind::steep_sight);
    ASSERT_NE(remark, nullptr);
    EXPECT_EQ(remark->subjects, std::vector<std::string>{"M3"});

    for (frame::Mark& mark : site.input.marks) mark.height_m.reset();
    site.input.sights.pop_back();
    setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    solved = solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    EXPECT_NE(find(judge_geometry(*setup, *solved), RemarkKind::no_height), nullptr);
}

TEST(geometry, weak_direction_is_that_of_the_covariance) {
    const Prepared setup = look({{polar(350.0, 40.0)}, {polar(2.0, 60.0)}, {polar(14.0, 30.0)}});
    const auto solved = solve_station(setup);
    ASSERT_TRUE(solved.ok());
    const Geometry g = judge_geometry(setup, *solved);
    const auto ellipse = frame::error_ellipse(solved->best.pose.covariance.topLeftCorner<2, 2>());
    EXPECT_EQ(g.weak.major_m, ellipse.semi_major_m);
    EXPECT_EQ(g.weak.azimuth_rad, ellipse.azimuth_rad);
    // All marks north: the station is weakest from east to west.
    EXPECT_NEAR(g.weak.azimuth_rad / measure::kRadPerDeg, 90.0, 15.0);
}

TEST(geometry, words_are_all_different) {
    std::vector<std::string_view> words;
    for (const RemarkKind kind :
         {RemarkKind::two_marks_only, RemarkKind::danger_circle, RemarkKind::marks_in_line,
          RemarkKind::narrow_fan, RemarkKind::one_sided, RemarkKind::no_check,
          RemarkKind::several_solutions, RemarkKind::steep_sight, RemarkKind::no_height})
        words.push_back(to_word(kind));
    std::sort(words.begin(), words.end());
    EXPECT_EQ(std::unique(words.begin(), words.end()), words.end());
    EXPECT_EQ(std::count(words.begin(), words.end(), "unknown"), 0);
}

}  // namespace
}  // namespace layproof::station
