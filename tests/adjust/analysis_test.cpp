#include "adjust/analysis.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "adjust/functions.hpp"
#include "adjust/star.hpp"
#include "adjust/tests.hpp"

namespace layproof::adjust::testing {
namespace {

// A linear problem with correlated blocks of three: l = A·x, two unknown blocks.
using Rows = Eigen::Matrix<double, 3, 4>;
class Matrix final : public ObservationFunction {
public:
    Matrix(const Rows& a, const Eigen::Vector3d& observed) : a_(a), observed_(observed) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        const Eigen::Vector4d x(blocks[0][0], blocks[0][1], blocks[1][0], blocks[1][1]);
        Eigen::Map<Eigen::Vector3d>{residual} = a_ * x - observed_;
        for (int k = 0; jacobians != nullptr && k < 2; ++k) {
            if (jacobians[k] == nullptr) continue;
            Eigen::Map<Eigen::Matrix<double, 3, 2, Eigen::RowMajor>>{jacobians[k]} =
                a_.middleCols<2>(2 * k);
        }
    }

private:
    Rows a_;
    Eigen::Vector3d observed_;
};

// The same by full matrices, straight from the definitions.
struct Direct {
    Eigen::Matrix<double, 9, 4> a;
    Eigen::Matrix<double, 9, 9> q = Eigen::Matrix<double, 9, 9>::Zero();
    Eigen::Matrix<double, 9, 1> l;

    explicit Direct(std::uint64_t seed) {
        Random random(seed);
        for (int i = 0; i < 9; ++i) {
            l(i) = random.normal();
            for (int j = 0; j < 4; ++j) a(i, j) = random.normal();
        }
        for (int b = 0; b < 3; ++b) {
            Eigen::Matrix3d root;
            for (int i = 0; i < 9; ++i) root(i / 3, i % 3) = random.normal();
            q.block<3, 3>(3 * b, 3 * b) =
                root * root.transpose() + 0.1 * Eigen::Matrix3d::Identity();
        }
    }

    void build(Problem& problem) const {
        const ParameterId x[] = {add_parameter(problem, {0.0, 0.0}),
                                 add_parameter(problem, {0.0, 0.0})};
        for (int b = 0; b < 3; ++b)
            ASSERT_EQ(problem.add_observation(
                          std::make_unique<Matrix>(a.middleRows<3>(3 * b), l.segment<3>(3 * b)), x,
                          q.block<3, 3>(3 * b, 3 * b)),
                      b);
    }
};

TEST(analysis, correlated_blocks_give_the_textbook_matrices) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        const Direct direct(seed);
        Problem problem;
        direct.build(problem);
        const SolveSummary summary = solve(problem);
        ASSERT_EQ(summary.status, SolveStatus::converged);
        const Analysis analysis(problem, summary);

        const Eigen::Matrix<double, 9, 9> w = direct.q.inverse();
        const Eigen::Matrix4d qx = (direct.a.transpose() * w * direct.a).inverse();
        const Eigen::Vector4d x = qx * direct.a.transpose() * w * direct.l;
        const Eigen::Matrix<double, 9, 1> v = direct.a * x - direct.l;
        const Eigen::Matrix<double, 9, 9> qv = direct.q - direct.a * qx * direct.a.transpose();
        const Eigen::Matrix<double, 9, 9> m = w * qv * w;
        const Eigen::Matrix<double, 9, 1> wv = w * v;
        // Random matrices with condition numbers up to some 1e4.
        constexpr double kTolerance = 1e-9;
        for (int i = 0; i < 9; ++i) {
            EXPECT_NEAR(analysis.residual()(i), v(i), kTolerance);
            EXPECT_NEAR(analysis.redundancy()(i), (qv * w)(i, i), kTolerance);
            EXPECT_NEAR(analysis.standardised()(i), wv(i) / std::sqrt(m(i, i)), kTolerance);
            EXPECT_NEAR(analysis.estimated_bias()(i), -wv(i) / m(i, i), kTolerance);
            const double detectable = std::sqrt(noncentrality(0.001, 0.8, 1) / m(i, i));
            EXPECT_NEAR(analysis.detectable()(i), detectable, kTolerance * detectable);
            const Eigen::VectorXd influence = qx * direct.a.transpose() * w.col(i);
            EXPECT_LT((analysis.influence(i) - influence).norm(), kTolerance);
            EXPECT_LT((analysis.external_effect(i) - influence * detectable).norm(),
                      kTolerance * detectable);
        }
        EXPECT_LT((analysis.covariance({0}, {1}) - qx.block<2, 2>(0, 2)).norm(), kTolerance);
        for (int b = 0; b < 3; ++b) {
            const Eigen::Vector3d part = wv.segment<3>(3 * b);
            const Eigen::Matrix3d block = m.block<3, 3>(3 * b, 3 * b);
            const Analysis::BlockTest test = analysis.block_test(b);
            EXPECT_EQ(test.dimension, 3);
            EXPECT_NEAR(test.statistic, part.dot(block.ldlt().solve(part)), 1e-7);
        }
    }
}

TEST(analysis, influence_is_what_a_changed_observation_does) {
    const Direct direct(3);
    Problem problem;
    direct.build(problem);
    const SolveSummary summary = solve(problem);
    const Analysis analysis(problem, summary);
    for (int row = 0; row < 9; ++row) {
        Direct changed = direct;
        changed.l(row) += 0.25;
        Problem other;
        changed.build(other);
        solve(other);
        for (int i = 0; i < 4; ++i)
            EXPECT_NEAR(other.values()[static_cast<std::size_t>(i)] -
                            problem.values()[static_cast<std::size_t>(i)],
                        0.25 * analysis.influence(row)(i), 1e-11);
    }
}

// One planted error in error-free observations comes back as the estimated bias.
TEST(analysis, single_error_is_estimated_with_its_sign) {
    Direct direct(7);
    direct.l = direct.a * Eigen::Vector4d(1.0, -2.0, 0.5, 3.0);
    for (int row = 0; row < 9; ++row) {
        Direct changed = direct;
        changed.l(row) += 0.125;
        Problem problem;
        changed.build(problem);
        const SolveSummary summary = solve(problem);
        const Analysis analysis(problem, summary);
        EXPECT_NEAR(analysis.estimated_bias()(row), 0.125, 1e-10);
        EXPECT_LT(analysis.standardised()(row), 0.0) << "opposite sign: v = f(x) − l";
        // An error of MDB moves w by δ0.
        EXPECT_NEAR(-analysis.standardised()(row) / 0.125 * analysis.detectable()(row),
                    std::sqrt(noncentrality(0.001, 0.8, 1)), 1e-9);
        EXPECT_NEAR(analysis.block_test(row / 3).statistic, summary.weighted_square_sum, 1e-9)
            << "the block holds the only error: it explains the whole sum";
    }
}

TEST(analysis, redundancies_sum_to_the_redundancy) {
    for (const int points : {2, 3, 8}) {
        Star star = make_star({.points = points});
        const SolveSummary summary = solve(star.problem);
        ASSERT_EQ(summary.status, SolveStatus::converged) << points;
        const Analysis analysis(star.problem, summary);
        EXPECT_NEAR(analysis.redundancy().sum(), summary.redundancy, 1e-9);
        EXPECT_GE(analysis.redundancy().minCoeff(), -1e-12);
        EXPECT_LE(analysis.redundancy().maxCoeff(), 1.0 + 1e-12);
    }
}

TEST(analysis, unchecked_observation_has_infinite_mdb_and_no_nan) {
    // Two heights; the second hangs on one difference only.
    Problem problem;
    const ParameterId a = add_parameter(problem, {0.0});
    const ParameterId b = add_parameter(problem, {0.0});
    const double zero = 0.0;
    problem.observe_directly(a, std::span(&zero, 1), variance(1.0));
    problem.observe_directly(a, std::span(&zero, 1), variance(2.0));
    observe<Linear>(problem, {a, b}, 1.0, std::vector<double>{-1.0, 1.0}, 5.0);
    const SolveSummary summary = solve(problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    const Analysis analysis(problem, summary);
    EXPECT_NEAR(analysis.redundancy()(2), 0.0, 1e-12);
    EXPECT_EQ(analysis.standardised()(2), 0.0);
    EXPECT_EQ(analysis.estimated_bias()(2), 0.0);
    EXPECT_EQ(analysis.detectable()(2), kInfinity);
    EXPECT_EQ(analysis.tau(2), 0.0);
    EXPECT_EQ(analysis.external_effect(2)(0), 0.0) << "a is not reached";
    EXPECT_EQ(analysis.external_effect(2)(1), kInfinity);
    EXPECT_EQ(analysis.block_test(2).dimension, 0);
    EXPECT_EQ(analysis.block_test(2).statistic, 0.0);
    EXPECT_TRUE(std::isfinite(analysis.detectable()(0)));
}

TEST(analysis, block_test_counts_only_what_is_checked) {
    // One point, two repeats, centre and point unknown, point observed: the direction only feeds
    // the orientation. A single repeat leaves nothing to check.
    Star once = make_star({.points = 1, .repeats = 1});
    // Four centre unknowns and three of the point against six observations: not solvable.
    EXPECT_EQ(solve(once.problem).status, SolveStatus::rank_deficient);

    Star held = make_star({.points = 2, .repeats = 1, .point_sd = 0.0});
    const SolveSummary summary = solve(held.problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.redundancy, 2);
    const Analysis analysis(held.problem, summary);
    for (const int block : held.polar) {
        const Analysis::BlockTest test = analysis.block_test(block);
        EXPECT_EQ(test.dimension, 2) << "three observations, two of them checked";
        EXPECT_NEAR(test.statistic, summary.weighted_square_sum,
                    1e-6 * std::max(1.0, summary.weighted_square_sum));
    }
}

TEST(analysis, problem_that_is_not_regular_is_known_nothing_about) {
    Star star = make_star({.observe_points = false});
    const SolveSummary summary = solve(star.problem);
    ASSERT_EQ(summary.status, SolveStatus::rank_deficient);
    const Analysis analysis(star.problem, summary);
    for (Eigen::Index i = 0; i < analysis.redundancy().size(); ++i) {
        EXPECT_FALSE(std::isnan(analysis.standardised()(i)));
        EXPECT_FALSE(std::isnan(analysis.detectable()(i)));
    }

    Star broken = make_star();
    broken.problem.values()[0] = std::numeric_limits<double>::quiet_NaN();
    const SolveSummary none = solve(broken.problem);
    const Analysis nothing(broken.problem, none);
    EXPECT_TRUE(nothing.residual().allFinite());
    EXPECT_EQ(nothing.redundancy().sum(), 0.0);
    EXPECT_EQ(nothing.detectable()(0), kInfinity);
    EXPECT_EQ(nothing.covariance(broken.centre)(0, 0), kInfinity);
    EXPECT_EQ(nothing.covariance(broken.centre)(0, 1), 0.0);
    EXPECT_EQ(nothing.influence(0).norm(), 0.0);
    EXPECT_EQ(nothing.external_effect(0).norm(), 0.0);
    EXPECT_EQ(nothing.block_test(0).dimension, 0);
}

TEST(analysis, outlives_its_problem_and_knows_held_blocks) {
    std::unique_ptr<Analysis> analysis;
    ParameterId held;
    ParameterId centre;
    {
        Star star = make_star({.point_sd = 0.0});
        held = star.points[3];
        centre = star.centre;
        const SolveSummary summary = solve(star.problem);
        analysis = std::make_unique<Analysis>(star.problem, summary);
    }
    EXPECT_EQ(analysis->covariance(held), Eigen::MatrixXd::Zero(3, 3));
    EXPECT_EQ(analysis->covariance(centre, held), Eigen::MatrixXd::Zero(4, 3));
    EXPECT_EQ(analysis->unknown_index(held), -1);
    EXPECT_EQ(analysis->unknown_index(centre), 0);
    EXPECT_GT(analysis->influence(0).norm(), 0.0);
}

// 400 simulated stars: w is standard normal, T and vᵀQ⁻¹v have their χ² means. Fixed seeds; the
// bounds are four standard errors.
TEST(analysis, simulated_tests_have_their_distributions) {
    constexpr int kRuns = 400;
    double sum = 0.0;
    double square = 0.0;
    double block = 0.0;
    double total = 0.0;
    for (int run = 0; run < kRuns; ++run) {
        Star star = make_star({.points = 4, .seed = 1000U + static_cast<std::uint64_t>(run)});
        const SolveSummary summary = solve(star.problem);
        ASSERT_EQ(summary.status, SolveStatus::converged);
        const Analysis analysis(star.problem, summary);
        const double w = analysis.standardised()(7);
        sum += w;
        square += w * w;
        block += analysis.block_test(star.polar[2]).statistic;
        total += summary.weighted_square_sum;
        EXPECT_EQ(summary.redundancy, 20);
    }
    EXPECT_NEAR(sum / kRuns, 0.0, 4.0 / std::sqrt(kRuns));
    EXPECT_NEAR(square / kRuns, 1.0, 4.0 * std::sqrt(2.0 / kRuns));
    EXPECT_NEAR(block / kRuns, 3.0, 4.0 * std::sqrt(6.0 / kRuns));
    EXPECT_NEAR(total / kRuns, 20.0, 4.0 * std::sqrt(40.0 / kRuns));
}

}  // namespace
}  // namespace layproof::adjust::testing
