// What must stay the same when nothing that matters changes: run over every kind of set-up with
// random scenes from fixed seeds.

#include <gtest/gtest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <vector>

#include "measure/angle.hpp"
#include "station/scenes.hpp"
#include "station/solution.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using layproof::testing::SimulatedSite;
using testing::draw_scene;
using testing::scene_kinds;
using testing::SceneKind;
using testing::turned;

constexpr int kScenes = 15;
/// Two runs of the same least squares: its own step tolerance is 1e-10.
constexpr double kSame_m = 1e-8;
constexpr double kSame_rad = 1e-9;
/// Coordinates of 2,000,000 ft hold 1e-10 m; their effect on a weak station may be larger.
constexpr double kFar_m = 1e-7;
constexpr double kSameCovariance = 1e-6;

Solved solved_of(const StationInput& input) {
    const auto setup = prepare(input);
    EXPECT_TRUE(setup.ok()) << setup.refusal().to_text();
    if (!setup.ok()) return {};
    auto solved = solve_station(*setup);
    EXPECT_TRUE(solved.ok()) << solved.refusal().to_text();
    return solved.ok() ? *solved : Solved{};
}

void expect_same_covariance(const Eigen::Matrix4d& a, const Eigen::Matrix4d& b,
                            double tolerance = kSameCovariance) {
    for (int i = 0; i < 4; ++i)
        for (int j = 0; j < 4; ++j)
            EXPECT_NEAR(a(i, j), b(i, j), tolerance * std::sqrt(b(i, i) * b(j, j))) << i << j;
}

void expect_same_pose(const Pose& a, const Pose& b, double tolerance_m = kSame_m,
                      double tolerance_rad = kSame_rad) {
    EXPECT_NEAR((a.position_m - b.position_m).norm(), 0.0, tolerance_m);
    EXPECT_NEAR(turned(a.orientation_rad, b.orientation_rad), 0.0, tolerance_rad);
}

void expect_same_statistic(const Solved& a, const Solved& b, double tolerance = 1e-6) {
    EXPECT_EQ(a.best.global_test.dof, b.best.global_test.dof);
    EXPECT_NEAR(a.best.global_test.statistic, b.best.global_test.statistic,
                tolerance * std::max(1.0, b.best.global_test.statistic));
    EXPECT_EQ(a.others.size(), b.others.size());
}

class station_properties : public ::testing::TestWithParam<std::size_t> {
protected:
    /// Every scene of this kind, with its solution.
    template <class Check>
    void for_each_scene(std::uint64_t seed, Check check) {
        const SceneKind kind = scene_kinds()[GetParam()];
        Random random(seed * 100 + GetParam());
        for (int i = 0; i < kScenes; ++i) {
            SCOPED_TRACE(kind.name + ", seed " + std::to_string(seed) + ", scene " +
                         std::to_string(i));
            const SimulatedSite site = draw_scene(random, kind);
            check(random, site, solved_of(site.input));
            if (HasFailure()) return;
        }
    }
};

TEST_P(station_properties, shifted_site_shifts_the_station) {
    for_each_scene(1, [](Random& random, const SimulatedSite& site, const Solved& before) {
        const Eigen::Vector3d shift(random.uniform(-500.0, 500.0), random.uniform(-500.0, 500.0),
                                    random.uniform(-50.0, 50.0));
        StationInput input = site.input;
        for (frame::Mark& mark : input.marks) {
            if (mark.east_m) *mark.east_m += shift.x();
            if (mark.north_m) *mark.north_m += shift.y();
            if (mark.height_m) *mark.height_m += shift.z();
        }
        const Solved after = solved_of(input);
        Pose back = after.best.pose;
        back.position_m -= shift;
        if (!back.has_height) back.position_m.z() = 0.0;
        expect_same_pose(back, before.best.pose);
        expect_same_covariance(after.best.pose.covariance, before.best.pose.covariance);
        expect_same_statistic(after, before);
    });
}

TEST_P(station_properties, two_million_feet_give_the_local_answer) {
    for_each_scene(2, [](Random&, const SimulatedSite& site, const Solved& before) {
        const double far_m = 2'000'000.0 * 1200.0 / 3937.0;
        StationInput input = site.input;
        for (frame::Mark& mark : input.marks) {
            if (mark.east_m) *mark.east_m += far_m;
            if (mark.north_m) *mark.north_m += far_m;
        }
        const Solved after = solved_of(input);
        Pose back = after.best.pose;
        back.position_m -= Eigen::Vector3d(far_m, far_m, 0.0);
        expect_same_pose(back, before.best.pose, kFar_m, 1e-8);
        expect_same_covariance(after.best.pose.covariance, before.best.pose.covariance);
        expect_same_statistic(after, before, 1e-4);
    });
}

TEST_P(station_properties, turned_site_turns_the_station) {
    for_each_scene(3, [](Random& random, const SimulatedSite& site, const Solved& before) {
        const double turn = random.uniform(0.0, measure::kTwoPi);
        Eigen::Matrix2d rotation;  // clockwise
        rotation << std::cos(turn), std::sin(turn), -std::sin(turn), std::cos(turn);
        StationInput input = site.input;
        for (frame::Mark& mark : input.marks) {
            if (!mark.has_plan()) continue;
            const Eigen::Vector2d place = rotation * Eigen::Vector2d(*mark.east_m, *mark.north_m);
            mark.east_m = place.x();
            mark.north_m = place.y();
        }
        const Solved after = solved_of(input);
        Pose expected = before.best.pose;
        expected.position_m.head<2>() = rotation * expected.position_m.head<2>();
        expected.orientation_rad += turn;
        Eigen::Matrix4d whole = Eigen::Matrix4d::Identity();
        whole.topLeftCorner<2, 2>() = rotation;
        expect_same_pose(after.best.pose, expected);
        expect_same_covariance(after.best.pose.covariance,
                               whole * before.best.pose.covariance * whole.transpose());
        expect_same_statistic(after, before);
    });
}

TEST_P(station_properties, turned_circle_turns_the_orientation_back) {
    // Directions booked with another zero cross 0°/360° and ±180° at will.
    for_each_scene(4, [](Random& random, const SimulatedSite& site, const Solved& before) {
        for (const double turn :
             {random.uniform(0.0, measure::kTwoPi), measure::kPi, measure::kPi / 2.0,
              measure::kTwoPi - *site.input.sights[0].direction_rad + 1e-9,
              measure::kPi - *site.input.sights[0].direction_rad - 1e-9}) {
            StationInput input = site.input;
            for (measure::Sight& sight : input.sights)
                if (sight.direction_rad)
                    sight.direction_rad =
                        layproof::testing::modulo_turn(*sight.direction_rad + turn);
            const Solved after = solved_of(input);
            Pose expected = before.best.pose;
            expected.orientation_rad -= turn;
            expect_same_pose(after.best.pose, expected);
            expect_same_covariance(after.best.pose.covariance, before.best.pose.covariance);
            expect_same_statistic(after, before);
        }
    });
}

TEST_P(station_properties, order_of_sights_and_marks_does_not_matter) {
    for_each_scene(5, [](Random& random, const SimulatedSite& site, const Solved& before) {
        StationInput input = site.input;
        // Pairs of faces stay in order among themselves: whole targets change places.
        const auto shuffle = [&](auto& list) {
            for (std::size_t i = list.size(); i > 1; --i)
                std::swap(list[i - 1],
                          list[static_cast<std::size_t>(random.below(static_cast<int>(i)))]);
        };
        shuffle(input.marks);
        std::vector<std::string> order;
        for (const frame::Mark& mark : input.marks) order.push_back(mark.name);
        std::stable_sort(input.sights.begin(), input.sights.end(),
                         [&](const measure::Sight& a, const measure::Sight& b) {
                             const auto place = [&](const std::string& name) {
                                 return std::find(order.begin(), order.end(), name);
                             };
                             return place(a.target) < place(b.target);
                         });
        const Solved after = solved_of(input);
        expect_same_pose(after.best.pose, before.best.pose);
        expect_same_covariance(after.best.pose.covariance, before.best.pose.covariance);
        expect_same_statistic(after, before);
    });
}

TEST_P(station_properties, swapped_faces_give_the_same_station) {
    for_each_scene(6, [](Random&, const SimulatedSite& site, const Solved& before) {
        // The same readings booked from the other side of the circle. Without a zenith angle the
        // booked face decides.
        StationInput input = site.input;
        for (measure::Sight& sight : input.sights) {
            if (sight.direction_rad)
                sight.direction_rad =
                    layproof::testing::modulo_turn(*sight.direction_rad + measure::kPi);
            if (sight.zenith_rad) sight.zenith_rad = measure::kTwoPi - *sight.zenith_rad;
            sight.face = sight.face == measure::Face::one ? measure::Face::two : measure::Face::one;
        }
        const Solved after = solved_of(input);
        expect_same_pose(after.best.pose, before.best.pose);
        expect_same_covariance(after.best.pose.covariance, before.best.pose.covariance);
        expect_same_statistic(after, before);
    });
}

TEST_P(station_properties, larger_unit_gives_the_same_site_in_that_unit) {
    // Everything that is a length made k times as large: the answer is k times as large, angles and
    // statistic stay. (Curvature and ppm depend on true lengths and are switched off.)
    const double k = 3937.0 / 1200.0;
    for_each_scene(7, [&](Random&, const SimulatedSite& site, const Solved&) {
        StationInput small = site.input;
        small.instrument.refraction_k = 1.0;
        small.instrument.refraction_k_sd = 0.0;
        small.instrument.distance_ppm = 0.0;
        StationInput large = small;
        for (frame::Mark& mark : large.marks) {
            if (mark.east_m) *mark.east_m *= k;
            if (mark.north_m) *mark.north_m *= k;
            if (mark.height_m) *mark.height_m *= k;
            mark.sd_east_m *= k;
            mark.sd_north_m *= k;
            mark.sd_height_m *= k;
        }
        for (measure::Sight& sight : large.sights) {
            if (sight.slope_distance_m) *sight.slope_distance_m *= k;
            if (sight.horizontal_distance_m) *sight.horizontal_distance_m *= k;
            sight.target_height_m *= k;
        }
        if (large.setup.instrument_height_m) *large.setup.instrument_height_m *= k;
        measure::Instrument& i = large.instrument;
        i.distance_sd_m *= k;
        i.centring_m *= k;
        i.height_tape_m *= k;
        i.instrument_centring_m *= k;
        const Solved a = solved_of(small);
        const Solved b = solved_of(large);
        Pose back = b.best.pose;
        back.position_m /= k;
        expect_same_pose(back, a.best.pose);
        Eigen::Vector4d scale(1.0 / k, 1.0 / k, 1.0 / k, 1.0);
        expect_same_covariance(scale.asDiagonal() * b.best.pose.covariance * scale.asDiagonal(),
                               a.best.pose.covariance);
        EXPECT_NEAR(b.best.global_test.statistic, a.best.global_test.statistic,
                    1e-6 * std::max(1.0, a.best.global_test.statistic));
    });
}

TEST_P(station_properties, everything_booked_twice_halves_the_variance_of_the_sights) {
    // The sights' own part halves, the marks' part stays: with held marks the whole covariance
    // does.
    for_each_scene(8, [](Random&, const SimulatedSite& site, const Solved&) {
        StationInput once = site.input;
        for (frame::Mark& mark : once.marks)
            mark.sd_east_m = mark.sd_north_m = mark.sd_height_m = 0;
        if (once.setup.kind != SetupKind::free) return;  // standing over the mark is measured once
        StationInput twice = once;
        twice.sights.insert(twice.sights.end(), once.sights.begin(), once.sights.end());
        const Solved a = solved_of(once);
        const Solved b = solved_of(twice);
        expect_same_pose(b.best.pose, a.best.pose, 1e-6, 1e-7);
        expect_same_covariance(2.0 * b.best.pose.covariance, a.best.pose.covariance, 1e-5);
        EXPECT_NEAR(b.best.global_test.statistic, 2.0 * a.best.global_test.statistic,
                    1e-4 * std::max(1.0, a.best.global_test.statistic));
    });
}

TEST_P(station_properties, one_mark_less_never_makes_the_station_better_known) {
    for_each_scene(9, [](Random& random, const SimulatedSite& site, const Solved& before) {
        std::vector<std::string> names;
        for (const measure::Sight& sight : site.input.sights)
            if (std::find(names.begin(), names.end(), sight.target) == names.end())
                names.push_back(sight.target);
        const std::string gone =
            names[static_cast<std::size_t>(random.below(static_cast<int>(names.size())))];
        StationInput input = site.input;
        std::erase_if(input.sights, [&](const auto& sight) { return sight.target == gone; });
        const auto setup = prepare(input);
        if (!setup.ok()) {
            EXPECT_TRUE(setup.refusal().code == ErrorCode::too_few_marks ||
                        setup.refusal().code == ErrorCode::no_sights);
            return;
        }
        const auto after = solve_station(*setup);
        if (!after.ok()) {
            EXPECT_EQ(after.refusal().code, ErrorCode::not_solvable);
            return;
        }
        if (!after->best.pose.has_height && before.best.pose.has_height) return;
        if (!after->others.empty()) return;  // it may be the other place that fits best
        for (int i = 0; i < 4; ++i) {
            // Weights follow the readings, so "never" holds within a thousandth.
            EXPECT_GE(after->best.pose.covariance(i, i), before.best.pose.covariance(i, i) * 0.999);
        }
        EXPECT_LE(after->best.global_test.statistic,
                  before.best.global_test.statistic * 1.001 + 1e-6);
        // Still the same station, within what both claim to know.
        const Eigen::Vector3d moved = after->best.pose.position_m - before.best.pose.position_m;
        for (int i = 0; i < 3; ++i)
            EXPECT_LT(std::abs(moved[i]),
                      6.0 * std::sqrt(after->best.pose.covariance(i, i)) + 1e-9);
    });
}

TEST_P(station_properties, truth_is_found_within_its_own_uncertainty) {
    for_each_scene(10, [](Random&, const SimulatedSite& site, const Solved& solved) {
        if (!solved.others.empty()) return;
        const Pose& pose = solved.best.pose;
        Eigen::Vector4d error;
        error.head<3>() = pose.position_m - site.pose.axes_m;
        if (!pose.has_height) error[2] = 0.0;
        error[3] = turned(pose.orientation_rad, site.pose.orientation_rad);
        for (int i = 0; i < 4; ++i)
            EXPECT_LE(std::abs(error[i]), 5.5 * std::sqrt(pose.covariance(i, i)) + 1e-12) << i;
    });
}

TEST_P(station_properties, exact_sights_are_solved_exactly) {
    SceneKind kind = scene_kinds()[GetParam()];
    kind.options.noise = false;
    Random random(1100 + GetParam());
    for (int i = 0; i < kScenes; ++i) {
        const SimulatedSite site = draw_scene(random, kind);
        const Solved solved = solved_of(site.input);
        Pose truth;
        truth.position_m = site.pose.axes_m;
        if (!solved.best.pose.has_height) truth.position_m.z() = 0.0;
        truth.orientation_rad = site.pose.orientation_rad;
        // Without a height the plan distance leaves the curvature's second order out: below 1e-7.
        expect_same_pose(solved.best.pose, truth, 1e-6, 1e-7);
        EXPECT_NEAR(solved.best.global_test.statistic, 0.0, 1e-5);
    }
}

INSTANTIATE_TEST_SUITE_P(scenes, station_properties,
                         ::testing::Range(std::size_t{0}, scene_kinds().size()));

}  // namespace
}  // namespace layproof::station
