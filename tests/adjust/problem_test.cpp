#include "adjust/problem.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "adjust/functions.hpp"

namespace layproof::adjust::testing {
namespace {

std::unique_ptr<const ObservationFunction> any() {
    return std::make_unique<Linear>(std::vector<double>{1.0}, 0.0);
}

TEST(problem, covariance_that_is_not_positive_definite_adds_nothing) {
    Problem problem;
    const ParameterId x = add_parameter(problem, {0.0, 0.0});
    const auto add = [&](const Eigen::MatrixXd& q) {
        return problem.add_observation(any(), std::span(&x, 1), q);
    };
    Eigen::Matrix2d q;
    q << 1.0, 1.0, 1.0, 1.0;
    EXPECT_EQ(add(q), -1) << "singular";
    q << 1.0, 2.0, 2.0, 1.0;
    EXPECT_EQ(add(q), -1) << "indefinite";
    q << 1.0, 0.5, 0.4, 1.0;
    EXPECT_EQ(add(q), -1) << "not symmetric";
    q << 1.0, kNan, kNan, 1.0;
    EXPECT_EQ(add(q), -1) << "not finite";
    q << std::numeric_limits<double>::infinity(), 0.0, 0.0, 1.0;
    EXPECT_EQ(add(q), -1) << "not finite";
    q << -1.0, 0.0, 0.0, 1.0;
    EXPECT_EQ(add(q), -1) << "negative";
    EXPECT_EQ(add(Eigen::MatrixXd::Zero(1, 1)), -1);
    EXPECT_EQ(add(Eigen::MatrixXd::Identity(2, 3)), -1);
    EXPECT_EQ(add(Eigen::MatrixXd(0, 0)), -1);
    EXPECT_EQ(add(Eigen::MatrixXd::Identity(9, 9)), -1);
    EXPECT_EQ(problem.observation_count(), 0);
    EXPECT_TRUE(problem.observations().empty());
    EXPECT_TRUE(problem.factors().empty());
    q << 1e-12, 0.0, 0.0, 1e12;
    EXPECT_EQ(add(q), 0) << "unlike units are no reason";
}

TEST(problem, unknown_or_repeated_block_adds_nothing) {
    Problem problem;
    const ParameterId x = add_parameter(problem, {0.0});
    const ParameterId twice[] = {x, x};
    const ParameterId nobody[] = {{7}};
    EXPECT_EQ(problem.add_observation(any(), twice, variance(1.0)), -1);
    EXPECT_EQ(problem.add_observation(any(), nobody, variance(1.0)), -1);
    EXPECT_EQ(problem.add_observation(any(), {}, variance(1.0)), -1);
    EXPECT_EQ(problem.add_observation(nullptr, std::span(&x, 1), variance(1.0)), -1);
    const double two[] = {1.0, 2.0};
    EXPECT_EQ(problem.observe_directly(x, two, Eigen::Matrix2d::Identity()), -1);
    EXPECT_EQ(problem.observe_directly({}, std::span(two, 1), variance(1.0)), -1);
    EXPECT_EQ(problem.observation_count(), 0);
}

TEST(problem, parameter_of_impossible_size_has_no_index) {
    Problem problem;
    EXPECT_EQ(problem.add_parameter({}).index, -1);
    EXPECT_EQ(problem.add_parameter(std::vector<double>(17, 0.0)).index, -1);
    EXPECT_EQ(problem.add_parameter(std::vector<double>(16, 0.0)).index, 0);
    EXPECT_TRUE(problem.value({3}).empty());
}

TEST(problem, factor_is_the_inverse_of_the_cholesky_factor) {
    Problem problem;
    const ParameterId x = add_parameter(problem, {0.0});
    Eigen::Matrix3d a;
    a << 2.0, 0.3, 0.1, -0.4, 1.0, 0.2, 0.5, 0.7, 3.0;
    const Eigen::Matrix3d q = a * a.transpose();
    ASSERT_EQ(problem.add_observation(any(), std::span(&x, 1), q), 0);
    const Eigen::Map<const Eigen::Matrix<double, 3, 3, Eigen::RowMajor>> f(
        problem.factors().data());
    EXPECT_LT((f * q * f.transpose() - Eigen::Matrix3d::Identity()).norm(), 1e-14);
    EXPECT_EQ(f(0, 1), 0.0);
    EXPECT_EQ(f(0, 2), 0.0);
    EXPECT_EQ(f(1, 2), 0.0);
}

TEST(problem, held_blocks_are_not_unknown) {
    Problem problem;
    const ParameterId x = add_parameter(problem, {1.0, 2.0});
    add_parameter(problem, {3.0});
    EXPECT_EQ(problem.unknown_count(), 3);
    problem.hold(x);
    problem.hold({9});
    EXPECT_EQ(problem.unknown_count(), 1);
}

}  // namespace
}  // namespace layproof::adjust::testing
