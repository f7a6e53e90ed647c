#include "infer/flat_unknowns.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>

#include "base/random.hpp"

namespace layproof::infer {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

struct Problem {
    MatrixXd variance, a, b;
    VectorXd y, sd;

    explicit Problem(std::uint64_t seed) : variance(9, 9), a(9, 3), b(9, 2), y(9), sd(2) {
        Random random(seed);
        MatrixXd root(9, 9);
        for (int r = 0; r < 9; ++r) {
            y[r] = random.normal();
            for (int c = 0; c < 9; ++c) root(r, c) = random.normal();
            for (int c = 0; c < 3; ++c) a(r, c) = random.normal();
            for (int c = 0; c < 2; ++c) b(r, c) = random.normal();
        }
        variance = root * root.transpose() + MatrixXd::Identity(9, 9);
        sd << 0.7, 3.0;
    }
    MatrixXd with_amounts() const {
        return variance + b * sd.cwiseAbs2().asDiagonal() * b.transpose();
    }
};

TEST(flat_unknowns, weight_is_the_inverse_of_the_larger_covariance) {
    const Problem p(1);
    const MatrixXd w = weight_with_amounts(p.variance.inverse(), p.b, p.sd);
    EXPECT_LT((w - p.with_amounts().inverse()).norm(), 1e-10);
    const MatrixXd same = weight_with_amounts(p.variance.inverse(), p.b, VectorXd::Zero(2));
    EXPECT_LT((same - p.variance.inverse()).norm(), 1e-14);
}

// A flat prior is a very wide one: the joint normal of y and δ, conditioned.
TEST(flat_unknowns, estimate_is_that_of_a_very_wide_prior) {
    const Problem p(2);
    const MatrixXd w = weight_with_amounts(p.variance.inverse(), p.b, p.sd);
    const FlatFit fit = fit_flat(w, p.a, p.y);
    ASSERT_TRUE(fit.is_usable);
    constexpr double kWide = 1e7;
    const MatrixXd all = p.with_amounts() + kWide * p.a * p.a.transpose();
    const MatrixXd gain = kWide * p.a.transpose() * all.inverse();
    EXPECT_LT((fit.estimate - gain * p.y).norm(), 1e-5);
    EXPECT_LT((fit.covariance - MatrixXd(p.a.transpose() * w * p.a).inverse()).norm(), 1e-10);
    EXPECT_LT((fit.left - all.inverse() * p.y).norm(), 1e-5);
    EXPECT_LT((p.a.transpose() * fit.left).norm(), 1e-10);
    EXPECT_LT((fit.weighted - w * p.a).norm(), 1e-12);
}

TEST(flat_unknowns, units_of_the_unknowns_do_not_matter) {
    const Problem p(3);
    const VectorXd by = Eigen::Vector3d(1e-6, 1.0, 1e7);
    const MatrixXd w = p.variance.inverse();
    const FlatFit one = fit_flat(w, p.a, p.y);
    const FlatFit two = fit_flat(w, p.a * by.asDiagonal(), p.y);
    EXPECT_LT((by.cwiseProduct(two.estimate) - one.estimate).norm(), 1e-9);
    EXPECT_LT((two.left - one.left).norm(), 1e-9);
}

TEST(flat_unknowns, direction_that_stays_open_is_told) {
    Problem p(4);
    p.a.col(2).setZero();
    EXPECT_FALSE(fit_flat(p.variance.inverse(), p.a, p.y).is_usable);
}

}  // namespace
}  // namespace layproof::infer
