#include "station/misfit_model.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "measure/angle.hpp"
#include "station/scenes.hpp"
#include "station/solution.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

// The model is linear at the solved pose while the solution is exact: what differs is of second
// order in misfit over distance. Misfits here are some standard deviations of 3 mm at distances of
// 10 m and more, so shares of 1e-3 of a variance; weights follow the measured distance instead of
// the adjusted one, a further 1e-3 or so.
constexpr double kSecondOrder = 6e-3;

class misfit_scenes : public ::testing::TestWithParam<std::size_t> {};

TEST_P(misfit_scenes, statistic_and_covariance_agree_with_the_solution) {
    const auto kind = testing::scene_kinds()[GetParam()];
    Random random(5200 + GetParam());
    for (int draw = 0; draw < 40; ++draw) {
        const auto site = testing::draw_scene(random, kind);
        const auto setup = prepare(site.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        const Solution& s = solved->best;
        const MisfitModel model = misfit_model(*setup, s.pose);
        ASSERT_TRUE(model.usable) << kind.name;
        EXPECT_EQ(model.redundancy, s.global_test.dof) << kind.name;
        EXPECT_NEAR(model.statistic, s.global_test.statistic,
                    kSecondOrder * std::max(1.0, s.global_test.statistic))
            << kind.name << " draw " << draw;
        constexpr int kPublic[4] = {0, 1, 3, 2};
        for (int i = 0; i < model.pose_size; ++i) {
            const double sd = std::sqrt(s.pose.covariance(kPublic[i], kPublic[i]));
            EXPECT_NEAR(std::sqrt(model.pose_covariance(i, i)), sd, kSecondOrder * sd)
                << kind.name << " " << i;
            // At the solution the model wants to move on by a small share of its own uncertainty.
            EXPECT_NEAR(model.pose_shift[i], 0.0, 0.02 * sd) << kind.name << " " << i;
            for (int j = 0; j < i; ++j) {
                const double other = std::sqrt(s.pose.covariance(kPublic[j], kPublic[j]));
                EXPECT_NEAR(model.pose_covariance(i, j), s.pose.covariance(kPublic[i], kPublic[j]),
                            2.0 * kSecondOrder * sd * other)
                    << kind.name;
            }
        }
        // M annihilates every change of the pose and is what the statistic is made of.
        const double size = model.weight.cwiseAbs().maxCoeff();
        EXPECT_NEAR((model.reduced * model.by_pose).cwiseAbs().maxCoeff(), 0.0,
                    1e-9 * size * model.by_pose.cwiseAbs().maxCoeff());
        EXPECT_NEAR((model.weight * model.covariance -
                     Eigen::MatrixXd::Identity(model.misfit.size(), model.misfit.size()))
                        .cwiseAbs()
                        .maxCoeff(),
                    0.0, 1e-9);
    }
}

TEST_P(misfit_scenes, statistic_does_not_depend_on_the_pose_it_is_worked_out_at) {
    const auto kind = testing::scene_kinds()[GetParam()];
    Random random(5300 + GetParam());
    const auto site = testing::draw_scene(random, kind);
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    const auto solved = solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    const MisfitModel model = misfit_model(*setup, solved->best.pose);
    Pose other = solved->best.pose;
    other.position_m += Eigen::Vector3d(0.003, -0.002, setup->has_height ? 0.002 : 0.0);
    other.orientation_rad += 5e-5;
    const MisfitModel moved = misfit_model(*setup, other);
    ASSERT_TRUE(moved.usable);
    EXPECT_NEAR(moved.statistic, model.statistic, 0.01 * std::max(1.0, model.statistic))
        << kind.name;
    // x̂ is the same place from both.
    const Eigen::Vector2d a = solved->best.pose.position_m.head<2>() + model.pose_shift.head<2>();
    const Eigen::Vector2d b = other.position_m.head<2>() + moved.pose_shift.head<2>();
    EXPECT_NEAR((a - b).norm(), 0.0, 5e-6) << kind.name;
    EXPECT_NEAR(testing::turned(solved->best.pose.orientation_rad + model.pose_shift[2],
                                other.orientation_rad + moved.pose_shift[2]),
                0.0, 5e-7)
        << kind.name;
}

INSTANTIATE_TEST_SUITE_P(scenes, misfit_scenes,
                         ::testing::Range(std::size_t{0}, testing::scene_kinds().size()));

TEST(misfit_model, site_shifted_and_turned_leaves_the_statistic) {
    Random random(53);
    for (int draw = 0; draw < 20; ++draw) {
        auto site = layproof::testing::simulate_site(random, {});
        const auto setup = prepare(site.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        const double before = misfit_model(*setup, solved->best.pose).statistic;
        const double turn = random.uniform(0.0, measure::kTwoPi);
        for (frame::Mark& mark : site.input.marks) {
            const double e = *mark.east_m;
            const double n = *mark.north_m;
            mark.east_m = e * std::cos(turn) + n * std::sin(turn) + 1000.0;
            mark.north_m = -e * std::sin(turn) + n * std::cos(turn) - 2000.0;
        }
        const auto moved = prepare(site.input);
        ASSERT_TRUE(moved.ok());
        const auto again = solve_station(*moved);
        ASSERT_TRUE(again.ok());
        EXPECT_NEAR(misfit_model(*moved, again->best.pose).statistic, before,
                    1e-5 * std::max(1.0, before));
    }
}

/// Misfit of one clean, whole sight when something is changed.
Eigen::VectorXd misfit_of(const Prepared& setup, const Pose& pose) {
    return misfit_model(setup, pose).misfit;
}

TEST(misfit_model, by_pose_is_the_derivative_of_the_misfit) {
    // y = −(∂p/∂x)(x_true − x0): moving x0 by δ changes y by −by_pose·δ, numerically.
    for (const auto& kind : testing::scene_kinds()) {
        Random random(54);
        auto clean = kind;
        clean.options.noise = false;
        const auto site = testing::draw_scene(random, clean);
        const auto setup = prepare(site.input);
        ASSERT_TRUE(setup.ok()) << kind.name;
        Pose pose;
        pose.has_height = setup->has_height;
        pose.position_m = site.pose.axes_m;
        if (!pose.has_height) pose.position_m.z() = 0.0;
        pose.orientation_rad = site.pose.orientation_rad;
        const MisfitModel model = misfit_model(*setup, pose);
        EXPECT_NEAR(model.misfit.cwiseAbs().maxCoeff(), 0.0, 2e-6) << kind.name;
        for (int k = 0; k < model.pose_size; ++k) {
            const double step = k == kModelOrientation ? 1e-6 : 1e-5;
            Pose up = pose;
            Pose down = pose;
            const auto shift = [&](Pose& p, double by) {
                if (k == kModelEast) p.position_m.x() += by;
                if (k == kModelNorth) p.position_m.y() += by;
                if (k == kModelOrientation) p.orientation_rad += by;
                if (k == kModelHeight) p.position_m.z() += by;
            };
            shift(up, step);
            shift(down, -step);
            const Eigen::VectorXd numeric =
                (misfit_of(*setup, up) - misfit_of(*setup, down)) / (2.0 * step);
            for (Eigen::Index i = 0; i < numeric.size(); ++i)
                EXPECT_NEAR(-model.by_pose(i, k), numeric[i],
                            2e-4 * std::max(1.0, std::abs(numeric[i])))
                    << kind.name << " row " << i << " by " << k;
        }
    }
}

TEST(misfit_model, moved_mark_moves_its_misfits_by_as_much) {
    for (const auto& kind : testing::scene_kinds()) {
        Random random(55);
        const auto site = testing::draw_scene(random, kind);
        const auto setup = prepare(site.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        const MisfitModel model = misfit_model(*setup, solved->best.pose);
        Prepared moved = *setup;
        const Eigen::Vector3d shift(2e-4, -3e-4, 1e-4);
        moved.marks[0].given_m -= shift;  // the sights now point `shift` further than the sheet
        const Eigen::VectorXd change = misfit_of(moved, solved->best.pose) - model.misfit;
        for (std::size_t i = 0; i < model.rows.size(); ++i) {
            const double expected =
                model.rows[i].mark == 0 ? model.rows[i].by_target.dot(shift) : 0.0;
            EXPECT_NEAR(change[static_cast<Eigen::Index>(i)], expected, 2e-7) << kind.name;
        }
    }
}

TEST(misfit_model, other_names_change_the_mark_and_nothing_else) {
    Random random(56);
    const auto site = layproof::testing::simulate_site(random, {});
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    const auto solved = solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    std::vector<int> names;
    for (const ControlSight& sight : setup->sights) names.push_back(sight.mark);
    EXPECT_EQ(misfit_model(*setup, solved->best.pose, names).statistic,
              misfit_model(*setup, solved->best.pose).statistic);
    std::swap(names[0], names[1]);
    EXPECT_GT(misfit_model(*setup, solved->best.pose, names).statistic, 1e4);
}

TEST(misfit_model, one_mark_in_plan_is_not_usable) {
    testing::PlanSetup plan;
    plan.mark("A", 0.0, 0.0).sight(0, 0.0, 1e-5, 20.0, 0.002);
    Pose pose;
    pose.has_height = false;
    pose.position_m << 0.0, -20.0, 0.0;
    const MisfitModel model = misfit_model(plan.centred(), pose);
    EXPECT_FALSE(model.usable);
}

}  // namespace
}  // namespace layproof::station
