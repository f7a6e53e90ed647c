// Laying and as-laid sights from a true instrument of its own geometry, with the station's error
// shared by all points of a set-up.

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

#include "lay/groups.hpp"
#include "lay/lay_support.hpp"
#include "lay/setting_out.hpp"
#include "lay/verdict.hpp"

namespace layproof::lay {
namespace {

using Eigen::Vector3d;
using testing::kMm;

/// The true place where the rod comes to stand when its reading, with all errors, is the wanted
/// one.
Vector3d lay_it(Random& random, const layproof::testing::TruePose& truth, const LaySetup& setup,
                const Vector3d& design, double rod_m) {
    Vector3d tip = design;
    // The crew moves the rod by what a noisy sight shows, twice.
    for (int step = 0; step < 2; ++step) {
        const auto sight = testing::noisy_sight(random, truth, tip, rod_m, setup.instrument);
        const auto seen = laid_place("P", setup, 0, measure::reduce(sight, setup.instrument));
        tip -= seen->place_m - design;
    }
    return tip;
}

// 4,000 set-ups of two rods: the joint covariance against the scatter of true deviations about the
// sighted ones. Error of a sample variance √(2/n) = 2.2 %, four of it.
TEST(Simulation, joint_covariance_agrees_with_scatter) {
    const auto setup = testing::setup(testing::pose(0.002, 5e-5));
    const std::array<Vector3d, 2> design{Vector3d(1040, 1990, 100), Vector3d(1040.4, 1990.3, 100)};
    const double rod = 0.4;
    Random random(2024);
    const int runs = 4000;
    Eigen::Matrix<double, 6, 6> sample = Eigen::Matrix<double, 6, 6>::Zero();
    double distance_square = 0.0;
    for (int i = 0; i < runs; ++i) {
        const auto truth = testing::draw_pose(random, setup.pose);
        Eigen::Matrix<double, 6, 1> error;
        std::array<Vector3d, 2> seen;
        for (int k = 0; k < 2; ++k) {
            const auto at = static_cast<std::size_t>(k);
            const auto sight = testing::noisy_sight(random, truth, design[at], rod);
            seen[at] = laid_place("P", setup, 0, measure::reduce(sight, setup.instrument))->place_m;
            error.segment<3>(3 * k) = seen[at] - design[at];
        }
        sample += error * error.transpose() / runs;
        const double d = (seen[1] - seen[0]).head<2>().norm() - 0.5;
        distance_square += d * d / runs;
    }
    const std::array<LaidPlace, 2> places{testing::exact_place("A", setup, 0, design[0], rod),
                                          testing::exact_place("B", setup, 0, design[1], rod)};
    const SetupSet set{{setup}, {}};
    const Eigen::MatrixXd c = joint_covariance(places, set);
    for (int i = 0; i < 6; ++i) {
        for (int j = 0; j < 6; ++j) {
            const double scale = std::sqrt(c(i, i) * c(j, j));
            EXPECT_NEAR(sample(i, j) / scale, c(i, j) / scale, 0.09) << i << "," << j;
        }
    }
    const auto rule = distance_rule(places[0], places[1], 0.5, {set, {0.003, 0.003}});
    EXPECT_NEAR(std::sqrt(distance_square) / rule->verdict.sd_m, 1.0, 0.05);
    EXPECT_LT(rule->verdict.sd_m, 0.7 * std::sqrt(c(0, 0)));
}

// Flat knowledge of where the point is: given that it looks to be at y, it is within as often as
// said. Deviations are drawn over twice the tolerance, so the prior is flat where it matters.
TEST(Simulation, probability_of_within_is_calibrated) {
    const auto setup = testing::setup(testing::pose(0.0015, 3e-5));
    const SetupSet set{{setup}, {}};
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    Random random(77);
    std::array<double, 10> said{};
    std::array<int, 10> within{};
    std::array<int, 10> count{};
    const Vector3d design(1035, 1985, 100);
    for (int i = 0; i < 20000; ++i) {
        const Vector3d tip =
            design + Vector3d(random.uniform(-0.018, 0.018), random.uniform(-0.018, 0.018), 0.0);
        const auto truth = testing::draw_pose(random, setup.pose);
        const auto laid = laid_place(
            "P", setup, 0,
            measure::reduce(testing::noisy_sight(random, truth, tip, 1.0), setup.instrument));
        const auto v =
            judge_point(*laid, testing::design("P", design.x(), design.y()), tolerance, set);
        const auto bin = static_cast<std::size_t>(std::min(9.0, v.probability * 10.0));
        said[bin] += v.probability;
        within[bin] += (tip - design).head<2>().norm() <= *tolerance.plan_m ? 1 : 0;
        ++count[bin];
    }
    for (std::size_t b = 0; b < said.size(); ++b) {
        ASSERT_GT(count[b], 100) << b;
        const double n = count[b];
        const double p = said[b] / n;
        const double four_errors = 4.0 * std::sqrt(std::max(p * (1.0 - p), 1.0 / n) / n);
        EXPECT_NEAR(within[b] / n, p, four_errors) << "bin " << b;
    }
}

// The whole chain of a crew: laid by the figures, sighted again, judged; what is called proven is
// within at least as often as promised, bolt to bolt too.
TEST(Simulation, points_called_proven_are_within) {
    Random random(4711);
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    int proven = 0;
    int right = 0;
    int pairs_proven = 0;
    int pairs_right = 0;
    for (int day = 0; day < 400; ++day) {
        const auto setup = testing::setup(
            testing::pose(random.uniform(0.0005, 0.0035), random.uniform(1e-5, 8e-5)));
        const SetupSet set{{setup}, {}};
        const auto truth = testing::draw_pose(random, setup.pose);
        std::vector<LaidAgainst> group;
        std::vector<Vector3d> true_places;
        const Vector3d corner(1003 + random.uniform(10.0, 60.0), 2001 + random.uniform(-40.0, 40.0),
                              100.0);
        for (const auto& [e, n] : {std::pair{0.0, 0.0}, {.3, 0.0}, {.3, .4}, {0.0, .4}}) {
            const Vector3d design = corner + Vector3d(e, n, 0.0);
            const Vector3d tip = lay_it(random, truth, setup, design, 0.3);
            const auto laid = laid_place(
                "R", setup, 0,
                measure::reduce(testing::noisy_sight(random, truth, tip, 0.3), setup.instrument));
            const auto v =
                judge_point(*laid, testing::design("R", design.x(), design.y()), tolerance, set);
            if (v.word == station::Word::proven) {
                ++proven;
                right += (tip - design).head<2>().norm() <= *tolerance.plan_m ? 1 : 0;
            }
            group.push_back({*laid, design.head<2>()});
            true_places.push_back(tip);
        }
        const auto rules = all_distances(group, {set, {6.35 * kMm, 6.35 * kMm}});
        std::size_t r = 0;
        for (std::size_t i = 0; i < 4; ++i) {
            for (std::size_t j = i + 1; j < 4; ++j, ++r) {
                if (rules[r].verdict.word != station::Word::proven) continue;
                ++pairs_proven;
                const double d = (true_places[j] - true_places[i]).head<2>().norm();
                pairs_right += std::abs(d - rules[r].design_m) <= 6.35 * kMm ? 1 : 0;
            }
        }
    }
    EXPECT_GT(proven, 400);
    EXPECT_GT(pairs_proven, 1500);
    EXPECT_GE(right, 0.95 * proven) << right << " of " << proven;
    EXPECT_GE(pairs_right, 0.95 * pairs_proven) << pairs_right << " of " << pairs_proven;
    RecordProperty("points_proven", proven);
    RecordProperty("points_right", right);
    RecordProperty("pairs_proven", pairs_proven);
    RecordProperty("pairs_right", pairs_right);
}

// Nothing that is not a number leaves the room, whatever comes in.
TEST(Simulation, wild_input_gives_finite_answers) {
    Random random(99);
    for (int i = 0; i < 3000; ++i) {
        const auto wild = [&] {
            const int kind = random.below(8);
            if (kind == 0) return 0.0;
            if (kind == 1) return std::numeric_limits<double>::quiet_NaN();
            if (kind == 2) return std::numeric_limits<double>::infinity();
            return std::exp(random.uniform(-20.0, 20.0)) * (random.uniform() < 0.5 ? -1.0 : 1.0);
        };
        auto p = testing::pose(std::abs(random.normal()) * std::exp(random.uniform(-8.0, 2.0)),
                               std::exp(random.uniform(-14.0, 0.0)));
        const auto setup = testing::setup(p);
        measure::Sight sight;
        sight.direction_rad = wild();
        sight.zenith_rad = wild();
        sight.slope_distance_m = wild();
        sight.target_height_m = wild();
        const auto laid = laid_place("P", setup, 0, measure::reduce(sight, setup.instrument));
        if (!laid) continue;
        EXPECT_TRUE(laid->place_m.allFinite());
        PointTolerance tolerance;
        tolerance.plan_m = std::exp(random.uniform(-9.0, 3.0));
        tolerance.height = {0.01, std::exp(random.uniform(-9.0, 3.0))};
        const auto v = judge_point(*laid, testing::design("P", wild(), wild(), 100.0), tolerance,
                                   {{setup}, {}});
        EXPECT_TRUE(v.deviation_m.allFinite());
        EXPECT_TRUE(v.covariance.allFinite());
        EXPECT_TRUE(v.probability >= 0.0 && v.probability <= 1.0) << v.probability;
        EXPECT_TRUE(std::isfinite(v.sd_plan_m));
    }
}

}  // namespace
}  // namespace layproof::lay
