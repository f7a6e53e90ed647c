// The marginal likelihoods against numerical integration over pose and amount, and what two causes
// have in common on a check network.

#include "cause/pattern_internal.hpp"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <cmath>

#include "base/random.hpp"
#include "cause/shipped.hpp"
#include "station/station_support.hpp"

namespace layproof::cause::internal {
namespace {

using layproof::testing::shipped_table;
using station::MisfitModel;
using station::Prepared;
using station::testing::PlanSetup;

constexpr double kArcsec = measure::kRadPerArcsec;

// --- a tiny set-up: pose and amount integrated out numerically -----------------------------------

struct Tiny {
    Prepared setup;
    MisfitModel model;
};

/// Two marks, direction and distance each; misfits of some millimetres.
Tiny tiny() {
    PlanSetup setup;
    setup.mark("A", 0, 40, 0.0015).mark("B", 35, -20, 0.0015);
    const Eigen::Vector2d at(0.0, 0.0);
    const auto sight = [&](int mark, Eigen::Vector2d to, double extra_m) {
        setup.sight(mark, station::testing::exact_direction(at, to, 0.3), 4 * kArcsec,
                    to.norm() + extra_m, 0.002);
    };
    sight(0, {0, 40}, 0.006);
    sight(1, {35, -20}, 0.003);
    Tiny out{setup.centred(), {}};
    station::Pose pose;
    pose.position_m << 0.0, 0.0, 0.0;
    pose.orientation_rad = 0.3;
    pose.has_height = false;
    out.model = station::misfit_model(out.setup, pose);
    return out;
}

/// ln of the integral of exp(−½ quadratic) over all unknowns, by the trapezium rule on a grid laid
/// along the axes of the quadratic form.
double log_integral(const Eigen::MatrixXd& hessian, const Eigen::VectorXd& gradient,
                    double constant) {
    const Eigen::Index size = hessian.rows();
    const Eigen::VectorXd scale = hessian.diagonal().cwiseSqrt().cwiseInverse();
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> axes(scale.asDiagonal() * hessian *
                                                              scale.asDiagonal());
    const Eigen::MatrixXd to_unknown = scale.asDiagonal() * axes.eigenvectors() *
                                       axes.eigenvalues().cwiseSqrt().cwiseInverse().asDiagonal();
    const Eigen::VectorXd middle = hessian.ldlt().solve(gradient);
    const double step = 0.75;
    const int reach = 8;
    std::vector<int> at(static_cast<std::size_t>(size), -reach);
    double sum = 0.0;
    for (;;) {
        Eigen::VectorXd u(size);
        for (Eigen::Index i = 0; i < size; ++i) u[i] = step * at[static_cast<std::size_t>(i)];
        const Eigen::VectorXd x = middle + to_unknown * u;
        sum += std::exp(-0.5 * (constant - 2.0 * gradient.dot(x) + x.dot(hessian * x)));
        std::size_t k = 0;
        while (k < at.size() && ++at[k] > reach) at[k++] = -reach;
        if (k == at.size()) break;
    }
    return std::log(sum) + std::log(std::abs(to_unknown.determinant())) +
           static_cast<double>(size) * std::log(step);
}

TEST(Evidence, is_the_integral_over_pose_and_amount) {
    const Tiny t = tiny();
    const auto& model = t.model;
    ASSERT_TRUE(model.usable);
    ASSERT_EQ(model.rows.size(), 4U);
    const Eigen::MatrixXd A = model.by_pose.leftCols<3>();
    const Eigen::VectorXd& y = model.misfit;
    const Eigen::MatrixXd& W = model.weight;
    const double constant = y.dot(W * y);
    const double nothing = log_integral(A.transpose() * W * A, A.transpose() * W * y, constant);
    int checked = 0;
    for (const Pattern& pattern : make_patterns(t.setup, model, shipped_table())) {
        if (pattern.columns > 2) continue;  // 3 + 3 unknowns are too many for a grid
        const Evidence evidence = evidence_of(model, pattern);
        Eigen::MatrixXd design(4, 3 + pattern.columns);
        design.setZero();
        design.leftCols<3>() = A;
        for (std::size_t k = 0; k < pattern.rows.size(); ++k)
            design.row(pattern.rows[k]).tail(pattern.columns) =
                pattern.by_amount[k].head(pattern.columns).transpose();
        const Vec& sd = pattern.sds.back();
        Eigen::MatrixXd hessian = design.transpose() * W * design;
        double log_prior = 0.0;
        for (int c = 0; c < pattern.columns; ++c) {
            hessian(3 + c, 3 + c) += 1.0 / (sd[c] * sd[c]);
            log_prior -= 0.5 * std::log(measure::kTwoPi * sd[c] * sd[c]);
        }
        // A gross direction restates its rows; here the misfits are small and it must not.
        ASSERT_TRUE(pattern.row_change.empty());
        const double with = log_integral(hessian, design.transpose() * W * y, constant) + log_prior;
        const double closed = infer::log_bayes(evidence.data, sd);
        EXPECT_NEAR(closed, with - nothing, 2e-6) << to_word(pattern.cause);
        ++checked;
    }
    EXPECT_GE(checked, 10);
}

// --- check network: values computed apart, not published ---------------------------------------

struct Place {
    const char* name;
    double east_m, north_m;
};

Tiny check_network(const std::vector<Place>& places, double mark_sd_m) {
    PlanSetup setup;
    for (const Place& p : places) setup.mark(p.name, p.east_m, p.north_m, mark_sd_m);
    for (std::size_t i = 0; i < places.size(); ++i) {
        const Eigen::Vector2d to(places[i].east_m, places[i].north_m);
        const double d = to.norm();
        const double direction_sd = std::hypot(3.0 * kArcsec, 0.001 / d);
        const double distance_sd = std::sqrt(4e-6 + std::pow(2e-6 * d, 2) + 1e-6);
        setup.sight(static_cast<int>(i),
                    station::testing::exact_direction(Eigen::Vector2d::Zero(), to, 0.0),
                    direction_sd, d, distance_sd);
    }
    Tiny out{setup.centred(), {}};
    station::Pose pose;
    pose.has_height = false;
    out.model = station::misfit_model(out.setup, pose);
    return out;
}

const Pattern& find(const std::vector<Pattern>& list, Cause cause, int mark = -1) {
    for (const Pattern& p : list)
        if (p.cause == cause && p.mark == mark) return p;
    ADD_FAILURE() << to_word(cause);
    return list.front();
}

/// Largest canonical correlation of two causes.
double correlation(const MisfitModel& model, const Pattern& a, const Pattern& b) {
    const Evidence ea = evidence_of(model, a);
    const Evidence eb = evidence_of(model, b);
    const Eigen::MatrixXd ab = project(a, eb.reduced).topLeftCorner(a.columns, b.columns);
    const Eigen::MatrixXd aa = ea.data.gram.topLeftCorner(a.columns, a.columns);
    const Eigen::MatrixXd bb = eb.data.gram.topLeftCorner(b.columns, b.columns);
    const Eigen::MatrixXd product = aa.ldlt().solve(ab) * bb.ldlt().solve(ab.transpose());
    return std::sqrt(product.eigenvalues().real().maxCoeff());
}

const std::vector<Place> kAround{{"A", 0, 40}, {"B", 35, -20}, {"C", -30, -25}};
const std::vector<Place> kFour{{"A", 0, 40}, {"B", 35, -20}, {"C", -30, -25}, {"D", 20, 60}};
const std::vector<Place> kOneSided{{"A", -10, 40}, {"B", 0, 55}, {"C", 12, 38}};
const std::vector<Place> kTwo{{"A", 0, 40}, {"B", 35, -20}};

/// Smallest error found with 80 % power at α 0.001: δ0 = 4.1321 (computed, two-sided).
double detectable(const MisfitModel& model, const Pattern& p) {
    return 4.1321 / std::sqrt(evidence_of(model, p).data.gram(0, 0));
}

TEST(CheckNetwork, prism_constant_and_scale_are_as_alike_as_computed) {
    struct Row {
        const std::vector<Place>& places;
        double mark_sd_m, correlation, tolerance, prism_mm, scale_ppm, scale_tolerance;
    };
    for (const Row& row : {Row{kAround, 0.0, 0.99993, 6e-6, 5.34, 134, 0.6},
                           Row{kAround, 0.002, 0.99994, 6e-6, 7.17, 180, 0.6},
                           Row{kFour, 0.0, 0.978, 6e-4, 4.69, 102, 0.6},
                           Row{kOneSided, 0.0, 0.935, 6e-4, 13.3, 278, 0.6},
                           Row{kTwo, 0.0, 1.0, 1e-9, 6.83, 170, 0.6}}) {
        const Tiny t = check_network(row.places, row.mark_sd_m);
        const auto patterns = make_patterns(t.setup, t.model, shipped_table());
        const Pattern& prism = find(patterns, Cause::prism_constant_wrong);
        const Pattern& scale = find(patterns, Cause::distance_scale_wrong);
        EXPECT_NEAR(correlation(t.model, prism, scale), row.correlation, row.tolerance);
        EXPECT_NEAR(1e3 * detectable(t.model, prism), row.prism_mm, 0.06);
        EXPECT_NEAR(1e6 * detectable(t.model, scale), row.scale_ppm, row.scale_tolerance);
    }
}

TEST(CheckNetwork, moved_mark_looks_like_a_prism_constant_on_one_side) {
    const Tiny t = check_network(kOneSided, 0.0);
    const auto patterns = make_patterns(t.setup, t.model, shipped_table());
    const Pattern& prism = find(patterns, Cause::prism_constant_wrong);
    EXPECT_NEAR(correlation(t.model, find(patterns, Cause::mark_moved, 2), prism), 0.981, 6e-4);
    EXPECT_NEAR(correlation(t.model, find(patterns, Cause::mark_moved, 0), prism), 0.964, 6e-4);
}

TEST(CheckNetwork, moved_marks_are_detectable_as_computed) {
    const Tiny t = check_network(kAround, 0.0);
    const auto patterns = make_patterns(t.setup, t.model, shipped_table());
    const double wanted[3][2] = {{10.0, 13.8}, {9.9, 11.9}, {9.9, 12.7}};
    for (int m = 0; m < 3; ++m) {
        const Evidence e = evidence_of(t.model, find(patterns, Cause::mark_moved, m));
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(
            e.data.gram.topLeftCorner<2, 2>());
        EXPECT_NEAR(4132.1 / std::sqrt(axes.eigenvalues()[1]), wanted[m][0], 0.06);
        EXPECT_NEAR(4132.1 / std::sqrt(axes.eigenvalues()[0]), wanted[m][1], 0.06);
    }
}

TEST(CheckNetwork, one_sight_with_a_leaning_rod_is_that_mark_moved) {
    const Tiny t = check_network(kFour, 0.0015);
    const auto patterns = make_patterns(t.setup, t.model, shipped_table());
    const Evidence moved = evidence_of(t.model, find(patterns, Cause::mark_moved, 1));
    const Evidence leaning = evidence_of(t.model, find(patterns, Cause::rod_not_plumb, 1));
    EXPECT_LT((moved.data.gram - leaning.data.gram).cwiseAbs().maxCoeff(),
              1e-9 * moved.data.gram.cwiseAbs().maxCoeff());
}

}  // namespace
}  // namespace layproof::cause::internal
