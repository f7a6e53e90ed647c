#include "frame/rigid.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "frame/polar.hpp"
#include "measure/angle.hpp"
#include "support/reference.hpp"

namespace layproof::frame {
namespace {

using Eigen::Vector2d;
using measure::kRadPerArcsec;
using measure::kRadPerDeg;
using measure::kRadPerGon;

struct Pairs {
    std::vector<std::string> names;
    std::vector<Vector2d> local, target;
};

/// Rows of name and four numbers; `local` and `target` say which columns are east and north.
Pairs pairs(const testing::Reference& reference, const std::string& path, std::size_t local,
            std::size_t target) {
    Pairs result;
    for (const auto& node : *reference.table().at_path(path).as_array()) {
        const auto& row = *node.as_array();
        const auto cell = [&](std::size_t c) { return row[c].value<double>().value_or(-1e9); };
        result.names.push_back(row[0].value<std::string>().value_or(""));
        result.local.emplace_back(cell(local), cell(local + 1));
        result.target.emplace_back(cell(target), cell(target + 1));
    }
    return result;
}

TEST(SimilarityFit, published_three_points_agree) {
    const testing::Reference reference("transform-similarity-least-squares");
    const Pairs p = pairs(reference, "input.control.rows", 1, 3);
    const PlanFit fit = similarity_fit(p.local, p.target);
    ASSERT_EQ(fit.state, PlanFitState::determined);
    reference.check("scale", fit.scale);
    reference.check("a", fit.scale * std::cos(fit.rotation_rad));
    // The source turns anticlockwise.
    reference.check("b", -fit.scale * std::sin(fit.rotation_rad));
    reference.check("rotation", 360.0 - fit.rotation_rad / kRadPerDeg);
    reference.check("Tx", fit.origin_m.x());
    reference.check("Ty", fit.origin_m.y());
    for (std::size_t i = 0; i < 3; ++i) {
        // The source's residual is transformed minus given.
        reference.check("residual_" + p.names[i] + "_E", -fit.misfits_m[i].x());
        reference.check("residual_" + p.names[i] + "_N", -fit.misfits_m[i].y());
    }
    reference.check("s0", std::sqrt(fit.weighted_square_sum / 2.0));
    for (const auto& node : *reference.table().at_path("input.to_transform.rows").as_array()) {
        const auto& row = *node.as_array();
        const std::string name = row[0].value<std::string>().value_or("");
        const Vector2d placed =
            fit.place({row[1].value<double>().value_or(0.0), row[2].value<double>().value_or(0.0)});
        reference.check(name + ".E", placed.x());
        reference.check(name + ".N", placed.y());
    }
}

TEST(SimilarityFit, published_two_points_fit_exactly) {
    const testing::Reference reference("transform-similarity-two-points");
    // Columns y, x (east, north) and eta, xi.
    const Pairs p = pairs(reference, "input.points.rows", 3, 1);
    reference.check("distance_global", distance(p.target[0], p.target[1]));
    reference.check("distance_local", distance(p.local[0], p.local[1]));
    const PlanFit fit = similarity_fit(p.local, p.target);
    reference.check("scale", fit.scale);
    reference.check("y0", fit.origin_m.x());
    reference.check("x0", fit.origin_m.y());
    // The source's angle turns anticlockwise from east to north.
    reference.check("rotation", measure::wrap_0_2pi(-fit.rotation_rad) / kRadPerGon);
    const Vector2d placed = fit.place(
        {reference.number("points.to_transform_eta"), reference.number("points.to_transform_xi")});
    reference.check("N.y", placed.x());
    reference.check("N.x", placed.y());
    EXPECT_NEAR(fit.weighted_square_sum, 0.0, 1e-15);
    for (const double redundancy : fit.redundancies) EXPECT_NEAR(redundancy, 0.0, 1e-12);
}

TEST(SimilarityFit, published_free_station_gives_misfits_and_redundancies) {
    const testing::Reference reference("free-station-four-marks");
    const double projection_scale = reference.number("sights.projection_scale");
    Pairs p;
    for (const auto& node : *reference.table().at_path("input.sights.rows").as_array()) {
        const auto& row = *node.as_array();
        const auto cell = [&](std::size_t c) { return row[c].value<double>().value_or(-1e9); };
        p.names.push_back(row[0].value<std::string>().value_or(""));
        p.target.emplace_back(cell(1), cell(2));
        p.local.push_back(polar_vector(
            cell(4) * kRadPerGon, cell(3) * std::sin(cell(5) * kRadPerGon) * projection_scale));
    }
    const PlanFit fit = similarity_fit(p.local, p.target);
    double redundancy_sum = 0.0;
    for (std::size_t i = 0; i < p.names.size(); ++i) {
        const std::string& name = p.names[i];
        reference.check(name + ".residual_E", fit.misfits_m[i].x());
        reference.check(name + ".residual_N", fit.misfits_m[i].y());
        reference.check(name + ".redundancy", fit.redundancies[i]);
        reference.check(name + ".blunder_E", std::abs(fit.misfits_m[i].x()) / fit.redundancies[i]);
        reference.check(name + ".blunder_N", std::abs(fit.misfits_m[i].y()) / fit.redundancies[i]);
        redundancy_sum += 2.0 * fit.redundancies[i];
    }
    EXPECT_NEAR(redundancy_sum, 4.0, 1e-12);
    reference.check("scale_after_projection_factor", fit.scale);
    reference.check("mean_coordinate_error", std::sqrt(fit.weighted_square_sum / 4.0));
    reference.check("station.E", fit.origin_m.x());
    reference.check("station.N", fit.origin_m.y());
    reference.check("orientation", fit.rotation_rad / kRadPerGon);
}

TEST(RigidFit, published_pairs_of_two_epochs_agree) {
    const testing::Reference reference("control-check-two-epochs");
    const Pairs epoch_1 = pairs(reference, "input.marks.rows", 1, 4);
    int compared = 0;
    double smallest = 1e9;
    std::string best;
    for (std::size_t i = 0; i < 9; ++i) {
        for (std::size_t j = i + 1; j < 9; ++j) {
            const std::string id = epoch_1.names[i] + "-" + epoch_1.names[j];
            const std::vector<Vector2d> from{epoch_1.local[i], epoch_1.local[j]};
            const std::vector<Vector2d> to{epoch_1.target[i], epoch_1.target[j]};
            const PlanFit fit = rigid_fit(from, to);
            double sum_abs = 0.0;
            for (std::size_t k = 0; k < 9; ++k) {
                sum_abs += (epoch_1.target[k] - fit.place(epoch_1.local[k])).cwiseAbs().sum();
            }
            if (sum_abs < smallest) {
                smallest = sum_abs;
                best = id;
            }
            if (!reference.expected(id + ".X0").found) continue;
            ++compared;
            reference.check(id + ".X0", fit.origin_m.x());
            reference.check(id + ".Y0", fit.origin_m.y());
            reference.check(id + ".alpha", -measure::wrap_pi(fit.rotation_rad) / kRadPerArcsec);
            reference.check(id + ".sum_abs", sum_abs);
        }
    }
    EXPECT_GE(compared, 29);
    EXPECT_EQ(best, "K1-K6");
}

TEST(RigidFit, unmoved_marks_of_two_epochs_leave_the_moved_one) {
    const testing::Reference reference("control-check-two-epochs");
    const Pairs marks = pairs(reference, "input.marks.rows", 1, 4);
    std::vector<double> weights(9, 1.0);
    weights[8] = 0.0;
    const PlanFit fit = rigid_fit(marks.local, marks.target, weights);
    for (std::size_t i = 0; i < 9; ++i) {
        reference.check("without_K9.shift_x_" + marks.names[i], 1e3 * fit.misfits_m[i].x());
        reference.check("without_K9.shift_y_" + marks.names[i], 1e3 * fit.misfits_m[i].y());
    }
    EXPECT_DOUBLE_EQ(fit.redundancies[8], 1.0);  // it takes no part, so its misfit shows in full
}

TEST(RigidFit, exact_points_anywhere_come_back) {
    Random random(5);
    for (int run = 0; run < 500; ++run) {
        const Vector2d origin(random.uniform(-7e5, 7e5), random.uniform(-7e5, 7e5));
        const double rotation_rad = random.uniform(0.0, measure::kTwoPi);
        std::vector<Vector2d> local, target;
        const int n = 2 + random.below(6);
        for (int i = 0; i < n; ++i) {
            const double direction_rad = random.uniform(0.0, measure::kTwoPi);
            const double d = random.uniform(5.0, 200.0);
            local.push_back(polar_vector(direction_rad, d));
            target.push_back(polar_point(origin, direction_rad + rotation_rad, d));
        }
        for (const PlanFit& fit : {rigid_fit(local, target), similarity_fit(local, target)}) {
            ASSERT_EQ(fit.state, PlanFitState::determined);
            const double spread = std::sqrt((local[0] - local[1]).squaredNorm());
            EXPECT_NEAR((fit.origin_m - origin).norm(), 0.0, 1e-9 * (1.0 + 400.0 / spread));
            EXPECT_NEAR(std::sin(0.5 * (fit.rotation_rad - rotation_rad)), 0.0, 1e-8 / spread);
            EXPECT_NEAR(fit.weighted_square_sum, 0.0, 1e-17);
        }
    }
}

TEST(RigidFit, weights_act_as_repetition) {
    Random random(8);
    std::vector<Vector2d> local, target, local_repeated, target_repeated;
    std::vector<double> weights;
    for (int i = 0; i < 5; ++i) {
        local.emplace_back(random.uniform(-50, 50), random.uniform(-50, 50));
        target.emplace_back(local.back() +
                            Vector2d(0.01 * random.normal(), 0.01 * random.normal()));
        weights.push_back(i + 1.0);
        for (int k = 0; k <= i; ++k) {
            local_repeated.push_back(local.back());
            target_repeated.push_back(target.back());
        }
    }
    const PlanFit weighted = rigid_fit(local, target, weights);
    const PlanFit repeated = rigid_fit(local_repeated, target_repeated);
    EXPECT_NEAR((weighted.origin_m - repeated.origin_m).norm(), 0.0, 1e-12);
    EXPECT_NEAR(measure::wrap_pi(weighted.rotation_rad - repeated.rotation_rad), 0.0, 1e-14);
    EXPECT_NEAR(weighted.weighted_square_sum, repeated.weighted_square_sum, 1e-12);
}

TEST(RigidFit, small_shift_of_one_target_shows_by_its_redundancy) {
    // Mean over both axes of the misfit's response, by differences.
    const std::vector<Vector2d> local{{0, 30}, {40, -10}, {-25, -20}, {10, 5}};
    const std::vector<double> weights{1.0, 2.0, 0.5, 1.0};
    const PlanFit still = rigid_fit(local, local, weights);
    const double step = 1e-5;
    for (std::size_t i = 0; i < local.size(); ++i) {
        double response = 0.0;
        for (int axis = 0; axis < 2; ++axis) {
            auto moved = local;
            moved[i][axis] += step;
            response += 0.5 * rigid_fit(local, moved, weights).misfits_m[i][axis] / step;
        }
        EXPECT_NEAR(response, still.redundancies[i], 1e-6);
    }
}

TEST(RigidFit, degenerate_points_are_said_and_only_shifted) {
    const std::vector<Vector2d> none;
    EXPECT_EQ(rigid_fit(none, none).state, PlanFitState::no_points);

    const std::vector<Vector2d> one{{3.0, 4.0}};
    const std::vector<Vector2d> one_target{{10.0, 20.0}};
    const PlanFit single = rigid_fit(one, one_target);
    EXPECT_EQ(single.state, PlanFitState::turn_undetermined);
    EXPECT_EQ(single.rotation_rad, 0.0);
    EXPECT_NEAR((single.origin_m - Vector2d(7.0, 16.0)).norm(), 0.0, 1e-14);

    const std::vector<Vector2d> same(3, Vector2d(609600.1, 1219200.3));
    const std::vector<Vector2d> spread{{0, 0}, {1, 0}, {0, 1}};
    EXPECT_EQ(rigid_fit(same, spread).state, PlanFitState::turn_undetermined);
    EXPECT_EQ(similarity_fit(spread, same).state, PlanFitState::turn_undetermined);
    EXPECT_EQ(similarity_fit(spread, same).scale, 1.0);

    // A square against its own mirror image favours no turn.
    const std::vector<Vector2d> square{{1, 1}, {1, -1}, {-1, -1}, {-1, 1}};
    const std::vector<Vector2d> mirrored{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}};
    EXPECT_EQ(rigid_fit(square, mirrored).state, PlanFitState::turn_undetermined);

    const double nan = std::numeric_limits<double>::quiet_NaN();
    const std::vector<double> useless{0.0, -1.0, nan};
    const PlanFit nothing = rigid_fit(spread, spread, useless);
    EXPECT_EQ(nothing.state, PlanFitState::no_points);
    EXPECT_TRUE(nothing.misfits_m.empty());
}

}  // namespace
}  // namespace layproof::frame
