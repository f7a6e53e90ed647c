// A small network with round figures. Values computed apart from this code, by a matrix program of
// its own (numpy), and held here to the digits it printed. Station at (0, 0), unknown east, north
// and orientation; σ_direction = √((3")² + (1 mm/d)²), σ_distance = √(2² + (2e-6 d)² + 1²) mm.

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <array>
#include <cmath>
#include <vector>

#include "measure/angle.hpp"
#include "station/misfit_figures.hpp"
#include "station/misfit_model.hpp"
#include "station/solution.hpp"
#include "station/state.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using testing::PlanSetup;

struct Network {
    Prepared setup;
    Solution solution;
    MisfitModel model;

    double sd_mm(int axis) const { return 1e3 * std::sqrt(solution.pose.covariance(axis, axis)); }
    double orientation_arcsec() const {
        return std::sqrt(solution.pose.covariance(3, 3)) / measure::kRadPerArcsec;
    }
    /// Column of the misfit model for something that stays wrong on every sight.
    Eigen::VectorXd column(StateIndex index) const {
        Eigen::VectorXd out = Eigen::VectorXd::Zero(model.misfit.size());
        for (std::size_t i = 0; i < model.sights.size(); ++i) {
            const Eigen::Vector3d shift = by_state(model.sights[i]).col(index);
            for (int k = 0; k < model.sights[i].rows; ++k) {
                const int row = model.sights[i].first_row + k;
                out[row] = model.rows[static_cast<std::size_t>(row)].by_target.dot(shift);
            }
        }
        return out;
    }
    double strength(StateIndex a, StateIndex b) const {
        return column(a).dot(model.reduced * column(b));
    }
    double smallest(StateIndex index) const { return 4.1321 / std::sqrt(strength(index, index)); }
    double correlation(StateIndex a, StateIndex b) const {
        return strength(a, b) / std::sqrt(strength(a, a) * strength(b, b));
    }
    /// Smallest and largest axis of the detectable shift of one mark, λ0 of one dimension.
    Eigen::Vector2d moved_mark_mm(int sight) const {
        const int first = model.sights[static_cast<std::size_t>(sight)].first_row;
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(
            Eigen::Matrix2d(model.reduced.block<2, 2>(first, first)));
        return 1e3 * 4.1321 * eigen.eigenvalues().reverse().cwiseSqrt().cwiseInverse();
    }
};

Network network(const std::vector<Eigen::Vector2d>& marks, double mark_sd_m) {
    PlanSetup plan;
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const double d = marks[i].norm();
        plan.mark(std::string(1, static_cast<char>('A' + static_cast<char>(i))), marks[i].x(),
                  marks[i].y(), mark_sd_m);
        plan.sight(static_cast<int>(i),
                   testing::exact_direction(Eigen::Vector2d::Zero(), marks[i], 0.4),
                   std::hypot(3.0 * measure::kRadPerArcsec, 0.001 / d), d,
                   1e-3 * std::sqrt(4.0 + std::pow(2e-3 * d, 2) + 1.0));
    }
    Network out{plan.centred(), {}, {}};
    auto solved = solve_station(out.setup);
    EXPECT_TRUE(solved.ok());
    if (!solved.ok()) return out;
    out.solution = solved->best;
    EXPECT_NEAR(out.solution.pose.position_m.norm(), 0.0, 1e-9);
    EXPECT_NEAR(out.solution.global_test.statistic, 0.0, 1e-9);
    out.model = misfit_model(out.setup, out.solution.pose);
    add_misfit_figures(out.setup, out.solution);
    return out;
}

const Eigen::Vector2d kA(0.0, 40.0);
const Eigen::Vector2d kB(35.0, -20.0);
const Eigen::Vector2d kC(-30.0, -25.0);
const Eigen::Vector2d kD(20.0, 60.0);

/// Half a unit of the last printed digit, and a little for the digits before it.
void expect_digits(double actual, double printed, double digit) {
    EXPECT_NEAR(actual, printed, 0.51 * digit);
}

TEST(check_network, three_around_fixed_gives_printed_figures) {
    const Network n = network({kA, kB, kC}, 0.0);
    EXPECT_EQ(n.solution.global_test.dof, 3);
    expect_digits(n.sd_mm(0), 0.816, 0.001);
    expect_digits(n.sd_mm(1), 0.866, 0.001);
    expect_digits(n.orientation_arcsec(), 3.47, 0.01);
    const std::array direction{0.1203, 0.1625, 0.1444};
    const std::array distance{0.8502, 0.8666, 0.8560};
    const std::array distance_mm{10.03, 9.93, 9.99};
    const std::array direction_s{71.1, 60.8, 66.1};
    for (std::size_t i = 0; i < 3; ++i) {
        const SolvedSight& s = n.solution.sights[i];
        expect_digits(*s.redundancy.direction, direction[i], 1e-4);
        expect_digits(*s.redundancy.distance, distance[i], 1e-4);
        expect_digits(1e3 * *s.detectable.distance, distance_mm[i], 0.01);
        expect_digits(*s.detectable.direction / measure::kRadPerArcsec, direction_s[i], 0.1);
    }
    expect_digits(1e3 * n.smallest(state_prism), 5.34, 0.01);
    expect_digits(1e6 * n.smallest(state_scale), 134.0, 1.0);
    expect_digits(n.correlation(state_prism, state_scale), 0.99993, 1e-5);
    const std::array<Eigen::Vector2d, 3> axes{
        Eigen::Vector2d(10.0, 13.8), Eigen::Vector2d(9.9, 11.9), Eigen::Vector2d(9.9, 12.7)};
    for (int i = 0; i < 3; ++i) {
        const Eigen::Vector2d found = n.moved_mark_mm(i);
        expect_digits(found[0], axes[static_cast<std::size_t>(i)][0], 0.1);
        expect_digits(found[1], axes[static_cast<std::size_t>(i)][1], 0.1);
        // Found whatever its direction: the larger axis.
        const SolvedSight& s = n.solution.sights[static_cast<std::size_t>(i)];
        ASSERT_TRUE(s.detectable_m.has_value());
        expect_digits(1e3 * *s.detectable_m, axes[static_cast<std::size_t>(i)][1], 0.1);
    }
}

TEST(check_network, three_around_weighted_marks_gives_printed_figures) {
    const Network n = network({kA, kB, kC}, 0.002);
    EXPECT_EQ(n.solution.global_test.dof, 3);
    expect_digits(n.sd_mm(0), 1.477, 0.001);
    expect_digits(n.sd_mm(1), 1.517, 0.001);
    expect_digits(n.orientation_arcsec(), 6.93, 0.01);
    const std::array direction{0.0547, 0.0694, 0.0632};
    const std::array distance{0.4139, 0.4211, 0.4164};
    const std::array distance_mm{14.37, 14.25, 14.33};
    const std::array direction_s{105.0, 93.0, 100.0};
    for (std::size_t i = 0; i < 3; ++i) {
        const SolvedSight& s = n.solution.sights[i];
        expect_digits(*s.redundancy.direction, direction[i], 1e-4);
        expect_digits(*s.redundancy.distance, distance[i], 1e-4);
        expect_digits(1e3 * *s.detectable.distance, distance_mm[i], 0.01);
        expect_digits(*s.detectable.direction / measure::kRadPerArcsec, direction_s[i], 1.0);
    }
    expect_digits(1e3 * n.smallest(state_prism), 7.17, 0.01);
    expect_digits(1e6 * n.smallest(state_scale), 180.0, 1.0);
    expect_digits(n.correlation(state_prism, state_scale), 0.99994, 1e-5);
}

TEST(check_network, fourth_mark_gives_printed_figures) {
    const Network n = network({kA, kB, kC, kD}, 0.0);
    EXPECT_EQ(n.solution.global_test.dof, 5);
    expect_digits(n.sd_mm(0), 0.731, 0.001);
    expect_digits(n.sd_mm(1), 0.807, 0.001);
    expect_digits(n.orientation_arcsec(), 2.85, 0.01);
    expect_digits(*n.solution.sights[3].redundancy.direction, 0.4993, 1e-4);
    expect_digits(*n.solution.sights[3].redundancy.distance, 0.8694, 1e-4);
    expect_digits(*n.solution.sights[0].redundancy.direction, 0.5276, 1e-4);
    expect_digits(*n.solution.sights[0].redundancy.distance, 0.8698, 1e-4);
    expect_digits(1e3 * *n.solution.sights[0].detectable.distance, 9.91, 0.01);
    expect_digits(1e3 * n.smallest(state_prism), 4.69, 0.01);
    expect_digits(1e6 * n.smallest(state_scale), 102.0, 1.0);
    expect_digits(n.correlation(state_prism, state_scale), 0.978, 1e-3);
}

TEST(check_network, one_sided_marks_give_printed_figures) {
    const Network n = network({{-10.0, 40.0}, {0.0, 55.0}, {12.0, 38.0}}, 0.0);
    EXPECT_EQ(n.solution.global_test.dof, 3);
    expect_digits(n.sd_mm(0), 4.009, 0.001);
    expect_digits(n.sd_mm(1), 1.213, 0.001);
    expect_digits(n.orientation_arcsec(), 17.9, 0.1);
    const std::array direction{0.542, 0.273, 0.501};
    const std::array distance{0.527, 0.706, 0.450};
    const std::array distance_mm{12.7, 11.0, 13.8};
    const std::array direction_s{32.7, 38.0, 34.9};
    for (std::size_t i = 0; i < 3; ++i) {
        const SolvedSight& s = n.solution.sights[i];
        expect_digits(*s.redundancy.direction, direction[i], 1e-3);
        expect_digits(*s.redundancy.distance, distance[i], 1e-3);
        expect_digits(1e3 * *s.detectable.distance, distance_mm[i], 0.1);
        expect_digits(*s.detectable.direction / measure::kRadPerArcsec, direction_s[i], 0.1);
    }
    expect_digits(1e3 * n.smallest(state_prism), 13.3, 0.1);
    expect_digits(1e6 * n.smallest(state_scale), 278.0, 1.0);
    expect_digits(n.correlation(state_prism, state_scale), 0.935, 1e-3);
}

TEST(check_network, two_marks_only_give_printed_figures) {
    const Network n = network({kA, kB}, 0.0);
    EXPECT_EQ(n.solution.global_test.dof, 1);
    expect_digits(n.sd_mm(0), 1.205, 0.001);
    expect_digits(n.sd_mm(1), 1.648, 0.001);
    expect_digits(n.orientation_arcsec(), 6.32, 0.01);
    const std::array direction{0.0416, 0.0411};
    const std::array distance{0.4574, 0.4598};
    const std::array distance_mm{13.67, 13.63};
    for (std::size_t i = 0; i < 2; ++i) {
        const SolvedSight& s = n.solution.sights[i];
        expect_digits(*s.redundancy.direction, direction[i], 1e-4);
        expect_digits(*s.redundancy.distance, distance[i], 1e-4);
        expect_digits(1e3 * *s.detectable.distance, distance_mm[i], 0.01);
        expect_digits(*s.detectable.direction / measure::kRadPerArcsec, 121.0, 1.0);
        // One redundancy: some direction of a moved mark cannot be seen at all.
        EXPECT_FALSE(s.detectable_m.has_value());
    }
    expect_digits(1e3 * n.smallest(state_prism), 6.83, 0.01);
    expect_digits(1e6 * n.smallest(state_scale), 170.0, 1.0);
    EXPECT_NEAR(n.correlation(state_prism, state_scale), 1.0, 1e-9);
}

}  // namespace
}  // namespace layproof::station
