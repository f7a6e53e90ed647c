#include "plan/sight_lines.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "base/random.hpp"

namespace layproof::plan {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

std::vector<Prism> box(double x0, double y0, double x1, double y1, Reach reach = {}) {
    return prisms_of_outline({{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}, reach, 0);
}

TEST(sight_line, wall_hides_what_is_behind_and_not_beside) {
    const SightScene scene(box(5, -1, 5.2, 1), 0.0);
    EXPECT_FALSE(scene.is_free({0, 0, 1.6}, {10, 0, 1.6}));
    EXPECT_TRUE(scene.is_free({0, 0, 1.6}, {4.9, 0, 1.6}));
    EXPECT_TRUE(scene.is_free({0, 0, 1.6}, {10, 2.3, 1.6}));
    EXPECT_FALSE(SightScene(box(5, -1, 5.2, 1), 0.2).is_free({0, 0, 1.6}, {10, 2.3, 1.6}));
}

TEST(sight_line, low_form_is_looked_over_and_hides_a_short_rod) {
    const SightScene scene(box(5, -1, 5.2, 1, {0.0, 1.0}), 0.0);
    // Halfway a line from 1.6 m to 0.1 m is 0.85 m high: the form of 1 m hides it.
    EXPECT_FALSE(scene.is_free({0, 0, 1.6}, {10, 0, 0.1}));
    EXPECT_TRUE(scene.is_free({0, 0, 1.6}, {10, 0, 1.5}));
    // From 1.6 to 0.5 it is still 1.05 m high in the middle, and 1.028 m at the far side.
    EXPECT_TRUE(scene.is_free({0, 0, 1.6}, {10, 0, 0.5}));
    EXPECT_FALSE(
        SightScene(box(5, -1, 5.2, 1, {0.0, 1.0}), 0.05).is_free({0, 0, 1.6}, {10, 0, 0.5}));
}

TEST(sight_line, beam_overhead_is_looked_under) {
    const SightScene scene(box(5, -1, 5.2, 1, {2.5, 3.0}), 0.0);
    EXPECT_TRUE(scene.is_free({0, 0, 1.6}, {10, 0, 1.5}));
    EXPECT_FALSE(scene.is_free({0, 0, 1.6}, {10, 0, 4.0}));
}

TEST(sight_line, round_column_hides_within_its_tangents) {
    const auto column = round_prism({10, 0}, 0.5, {}, 0);
    const SightScene scene({*column}, 0.0);
    const double tangent = 0.5 / std::sqrt(100.0 - 0.25);  // slope of the tangent
    EXPECT_FALSE(scene.is_free({0, 0, 1}, {20, 20 * tangent - 0.001, 1}));
    EXPECT_TRUE(scene.is_free({0, 0, 1}, {20, 20 * tangent + 0.001, 1}));
}

TEST(sight_line, target_by_a_wall_is_seen_in_spite_of_the_clearance) {
    const SightScene scene(box(5, -1, 5.2, 1), 0.1);
    EXPECT_TRUE(scene.is_free({0, 0, 1.6}, {4.99, 0, 1.6}));
    EXPECT_FALSE(scene.is_free({0, 0, 1.6}, {5.21, 0, 1.6}));
    EXPECT_FALSE(scene.is_free({0, 0, 1.6}, {5.1, 0, 1.6})) << "inside the wall";
}

TEST(sight_line, instrument_in_an_obstacle_sees_nothing_but_above_it_does) {
    const SightScene scene(box(-1, -1, 1, 1, {0.0, 1.0}), 0.05);
    EXPECT_FALSE(scene.is_free({0, 0, 0.9}, {5, 0, 0.9}));
    EXPECT_TRUE(scene.is_free({0, 0, 2.5}, {5, 0, 2.5}));
    Lookout lookout(scene);
    const std::vector<Vector3d> targets{{5, 0, 0.9}, {5, 0, 2.5}};
    const SightTargets ready(scene, targets);
    std::vector<std::uint8_t> seen;
    lookout.stand({0, 0, 0.9}, 0.9, 2.5);
    lookout.look(ready, 0, 100, seen);
    EXPECT_EQ(seen, (std::vector<std::uint8_t>{0, 0}));
    EXPECT_TRUE(lookout.sees_nothing());
    lookout.stand({0, 0, 2.5}, 0.9, 2.5);
    lookout.look(ready, 0, 100, seen);
    EXPECT_EQ(seen[1], 1);
}

TEST(sight_line, not_finite_is_hidden_and_no_obstacle_hides_nothing) {
    const SightScene scene({}, 0.05);
    EXPECT_FALSE(scene.is_free({0, 0, 0}, {NAN, 0, 0}));
    Lookout lookout(scene);
    const std::vector<Vector3d> targets{{1, 2, 3}, {NAN, 0, 0}, {0, 0, 0}, {200, 0, 0}};
    const SightTargets ready(scene, targets);
    std::vector<std::uint8_t> seen;
    lookout.stand({0, 0, 0}, 0, 3);
    lookout.look(ready, 0.5, 100, seen);
    EXPECT_EQ(seen, (std::vector<std::uint8_t>{1, 0, 0, 0}));
    lookout.stand({NAN, 0, 0}, 0, 3);
    lookout.look(ready, 0.5, 100, seen);
    EXPECT_EQ(seen[0], 0);
}

// look() against is_free(): the same answer for every sight of invented floors, with obstacles of
// all kinds and heights, targets in and beside them, and coordinates of 2,000,000 ft.
TEST(sight_line, all_from_one_place_answers_as_one_at_a_time) {
    Random random(2024);
    int different = 0;
    int free = 0;
    int asked = 0;
    for (int round = 0; round < 60; ++round) {
        const Vector2d origin = round % 3 == 0 ? Vector2d(609600.0, 609600.0) : Vector2d(0.0, 0.0);
        std::vector<Prism> prisms;
        const int count = 1 + random.below(60);
        for (int i = 0; i < count; ++i) {
            const Vector2d at = origin + Vector2d(random.uniform(0, 40), random.uniform(0, 40));
            Reach reach;
            if (random.uniform() < 0.5) reach = {random.uniform(-1, 1.5), random.uniform(1.5, 4)};
            if (random.uniform() < 0.3) {
                prisms.push_back(*round_prism(at, random.uniform(0.1, 1), reach, i));
            } else {
                prisms.push_back(*rectangle(at, random.uniform(0.05, 0.6), random.uniform(0.2, 6),
                                            random.uniform(0, 6.3), reach, i));
            }
        }
        const SightScene scene(prisms, round % 2 == 0 ? 0.05 : 0.0);
        std::vector<Vector3d> targets;
        for (int i = 0; i < 300; ++i)
            targets.emplace_back(origin.x() + random.uniform(0, 40),
                                 origin.y() + random.uniform(0, 40), random.uniform(0, 2.5));
        const SightTargets ready(scene, targets);
        Lookout lookout(scene);
        std::vector<std::uint8_t> seen;
        for (int k = 0; k < 8; ++k) {
            const Vector3d eye(origin.x() + random.uniform(-5, 45),
                               origin.y() + random.uniform(-5, 45), random.uniform(1, 2));
            lookout.stand(eye, 0.0, 2.5);
            lookout.look(ready, 0.0, 30.0, seen);
            for (std::size_t i = 0; i < targets.size(); ++i) {
                const double apart = (targets[i] - eye).head<2>().norm();
                const bool expected = apart <= 30.0 && scene.is_free(eye, targets[i]);
                different += expected != (seen[i] != 0);
                free += expected;
                ++asked;
            }
        }
    }
    EXPECT_EQ(different, 0);
    EXPECT_GT(free, asked / 50);
    EXPECT_LT(free, asked / 2);
}

TEST(sight_line, room_for_a_tripod_is_asked_of_obstacles_in_its_heights_only) {
    auto prisms = box(5, -1, 6, 1, {0.0, 3.0});
    auto beam = box(8, -1, 9, 1, {2.5, 3.0});
    prisms.push_back(beam.front());
    const SightScene scene(prisms, 0.05);
    EXPECT_FALSE(scene.has_room({4.7, 0}, 0.5, 0.0, 1.8));
    EXPECT_TRUE(scene.has_room({4.4, 0}, 0.5, 0.0, 1.8));
    EXPECT_TRUE(scene.has_room({8.5, 0}, 0.5, 0.0, 1.8));
}

}  // namespace
}  // namespace layproof::plan
