#include "vet/match.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "base/random.hpp"
#include "measure/length.hpp"

namespace layproof::vet {
namespace {

using Eigen::Vector2d;

const std::vector<Vector2d> kMarks{{500000.0, 200000.0},
                                   {500041.2, 200003.1},
                                   {500038.5, 200032.7},
                                   {500007.4, 200055.9},
                                   {499985.0, 200021.3}};

Vector2d moved(const Vector2d& p, double turn, double scale, bool mirror, const Vector2d& shift) {
    Vector2d q = p - kMarks[0];
    if (mirror) q.x() = -q.x();
    return shift + scale * Vector2d(std::cos(turn) * q.x() + std::sin(turn) * q.y(),
                                    std::cos(turn) * q.y() - std::sin(turn) * q.x());
}

std::map<int, int> as_map(const Assignment& a) {
    return {a.pairs.begin(), a.pairs.end()};
}

TEST(match, shuffled_and_turned_points_among_others_are_found) {
    Random random(7);
    std::vector<Vector2d> other;
    for (const int m : {3, 0, 4, 1, 2})
        other.push_back(moved(kMarks[static_cast<std::size_t>(m)], 2.1, 1.0, false, {10.0, -5.0}) +
                        0.003 * Vector2d(random.normal(), random.normal()));
    for (int i = 0; i < 30; ++i)
        other.emplace_back(random.uniform(-80.0, 80.0), random.uniform(-80.0, 80.0));
    const ListMatch match = match_places(kMarks, other);
    ASSERT_EQ(match.state, MatchState::matched);
    EXPECT_EQ(as_map(match.best), (std::map<int, int>{{0, 1}, {1, 3}, {2, 4}, {3, 0}, {4, 2}}));
    EXPECT_FALSE(match.best.mirrored);
    EXPECT_NEAR(match.best.scale, 1.0, 1e-3);
    EXPECT_NEAR(std::remainder(match.best.turn_rad + 2.1, 2.0 * 3.14159265358979), 0.0, 1e-3);
    EXPECT_LT(match.best.rms_m, 0.01);
}

TEST(match, mirrored_list_in_feet_is_found_with_its_scale) {
    std::vector<Vector2d> other;
    for (const Vector2d& p : kMarks)
        other.push_back(moved(p, 0.4, 1.0 / measure::kMetresPerFoot, true, {0.0, 0.0}));
    const ListMatch match = match_places(kMarks, other);
    ASSERT_EQ(match.state, MatchState::matched);
    EXPECT_TRUE(match.best.mirrored);
    EXPECT_NEAR(match.best.scale, measure::kMetresPerFoot, 1e-6);
    EXPECT_EQ(match.best.pairs.size(), kMarks.size());
}

TEST(match, some_marks_missing_and_one_moved_matches_the_rest) {
    std::vector<Vector2d> other;
    for (const int m : {0, 1, 2, 4})
        other.push_back(moved(kMarks[static_cast<std::size_t>(m)], -1.0, 1.0, false, {3.0, 3.0}));
    other[2] += Vector2d(0.5, 0.0);
    const ListMatch match = match_places(kMarks, other);
    ASSERT_EQ(match.state, MatchState::matched);
    EXPECT_EQ(as_map(match.best), (std::map<int, int>{{0, 0}, {1, 1}, {4, 3}}));
}

TEST(match, square_fits_several_ways_and_says_so) {
    const std::vector<Vector2d> square{{0, 0}, {30, 0}, {30, 30}, {0, 30}};
    const ListMatch match = match_places(square, square);
    EXPECT_EQ(match.state, MatchState::ambiguous);
    EXPECT_FALSE(match.rivals.empty());
}

TEST(match, nothing_in_common_or_too_few_is_none) {
    const std::vector<Vector2d> other{{0, 0}, {7, 1}, {3, 9}};
    EXPECT_EQ(match_places(kMarks, other).state, MatchState::none);
    EXPECT_EQ(match_places(kMarks, {}).state, MatchState::none);
    EXPECT_EQ(match_places({}, {}).state, MatchState::none);
    EXPECT_EQ(match_places(kMarks, {{1.0, 1.0}}).state, MatchState::none);
}

}  // namespace
}  // namespace layproof::vet
