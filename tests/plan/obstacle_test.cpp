#include "plan/obstacle.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "base/random.hpp"

namespace layproof::plan {
namespace {

using Eigen::Vector2d;

double area_of(const std::vector<Prism>& prisms) {
    double out = 0.0;
    for (const Prism& p : prisms)
        for (std::size_t i = 0; i < p.corners.size(); ++i) {
            const Vector2d& a = p.corners[i];
            const Vector2d& b = p.corners[(i + 1) % p.corners.size()];
            out += 0.5 * (a.x() * b.y() - a.y() * b.x());
        }
    return out;
}

TEST(obstacle, outline_convex_of_either_sense_is_one_prism) {
    const std::vector<Vector2d> square{{0, 0}, {0, 2}, {2, 2}, {2, 0}, {0, 0}};
    const auto prisms = prisms_of_outline(square, {}, 7);
    ASSERT_EQ(prisms.size(), 1U);
    EXPECT_EQ(prisms[0].obstacle, 7);
    EXPECT_DOUBLE_EQ(area_of(prisms), 4.0);
}

TEST(obstacle, outline_with_an_inner_corner_keeps_its_area_and_its_hollow) {
    const std::vector<Vector2d> ell{{0, 0}, {6, 0}, {6, 1}, {1, 1}, {1, 5}, {0, 5}};
    const auto prisms = prisms_of_outline(ell, {}, 0);
    EXPECT_NEAR(area_of(prisms), 10.0, 1e-12);
    for (const Prism& p : prisms) EXPECT_GT(plan_distance(p, {3.0, 3.0}), 0.0);
}

TEST(obstacle, outline_crossing_itself_hides_its_hull) {
    const std::vector<Vector2d> bow{{0, 0}, {2, 2}, {2, 0}, {0, 2.5}};
    double nearest = kOpen_m;
    for (const Prism& p : prisms_of_outline(bow, {}, 0))
        nearest = std::min(nearest, plan_distance(p, {1.9, 1.0}));
    EXPECT_EQ(nearest, 0.0);
}

TEST(obstacle, outline_without_area_or_finite_corners_gives_nothing) {
    EXPECT_TRUE(prisms_of_outline({{0, 0}, {1, 1}, {2, 2}}, {}, 0).empty());
    EXPECT_TRUE(prisms_of_outline({{0, 0}, {1, 0}}, {}, 0).empty());
    EXPECT_TRUE(prisms_of_outline({{0, 0}, {1, 0}, {NAN, 1}}, {}, 0).empty());
    EXPECT_TRUE(prisms_of_outline({{0, 0}, {1, 0}, {1, 1}}, {2.0, 2.0}, 0).empty());
    EXPECT_FALSE(round_prism({0, 0}, 0.0, {}, 0));
    EXPECT_FALSE(round_prism({0, 0}, INFINITY, {}, 0));
    EXPECT_FALSE(rectangle({0, 0}, 1.0, -1.0, 0.0, {}, 0));
    EXPECT_TRUE(wall({{0, 0}, {0, 0}}, 0.2, {}, 0).empty());
}

TEST(obstacle, wall_is_a_rectangle_a_piece_that_closes_the_corner) {
    const auto prisms = wall({{0, 0}, {4, 0}, {4, 3}}, 0.2, {0.0, 2.0}, 3);
    ASSERT_EQ(prisms.size(), 2U);
    double nearest = kOpen_m;
    for (const Prism& p : prisms) nearest = std::min(nearest, plan_distance(p, {4.09, -0.09}));
    EXPECT_EQ(nearest, 0.0);
    EXPECT_NEAR(plan_distance(prisms[0], {-0.1, 0.0}), 0.1, 1e-12);
}

TEST(obstacle, rectangle_turned_clockwise_from_north) {
    const auto p =
        rectangle({10, 10}, 0.2, 4.0, std::acos(-1.0) / 2.0, {}, 0);  // depth to the east
    ASSERT_TRUE(p);
    EXPECT_EQ(plan_distance(*p, {11.9, 10.0}), 0.0);
    EXPECT_NEAR(plan_distance(*p, {10.0, 11.0}), 0.9, 1e-12);
}

TEST(obstacle, widened_holds_all_within_the_clearance_and_little_more) {
    Random random(11);
    const double clearance = 0.3;
    for (int round = 0; round < 40; ++round) {
        const auto p =
            rectangle({random.uniform(-1, 1), random.uniform(-1, 1)}, random.uniform(0.1, 2),
                      random.uniform(0.1, 2), random.uniform(0, 6), {0.0, 1.0}, 0);
        ASSERT_TRUE(p);
        const Prism wide = widened(*p, clearance);
        EXPECT_EQ(wide.reach.bottom_m, -0.3);
        EXPECT_EQ(wide.reach.top_m, 1.3);
        for (int k = 0; k < 200; ++k) {
            const Vector2d at(random.uniform(-3, 3), random.uniform(-3, 3));
            const double apart = plan_distance(*p, at);
            if (apart < clearance * (1 - 1e-9)) {
                EXPECT_EQ(plan_distance(wide, at), 0.0);
            }
            if (plan_distance(wide, at) == 0.0) {
                EXPECT_LE(apart, 1.0824 * clearance);  // 1/cos 22.5°
            }
        }
    }
}

TEST(obstacle, inside_of_a_polygon_with_an_inner_corner) {
    const std::vector<Vector2d> ell{{0, 0}, {6, 0}, {6, 1}, {1, 1}, {1, 5}, {0, 5}};
    EXPECT_TRUE(is_inside(ell, {0.5, 4.0}));
    EXPECT_FALSE(is_inside(ell, {3.0, 3.0}));
    EXPECT_FALSE(is_inside({}, {0.0, 0.0}));
}

}  // namespace
}  // namespace layproof::plan
