#include "watch/smoother.hpp"

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <cmath>
#include <vector>

#include "base/random.hpp"

namespace layproof::watch {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

MatrixXd one(double x) {
    return MatrixXd::Constant(1, 1, x);
}

// Scalar random walk with q = r = 1: the Riccati equation P² = P + 1 gives the golden section
// 1.618034 before and 0.618034 after an observation, and 1/√5 = 0.447214 between two long sides.
TEST(smoother, random_walk_reaches_its_steady_values) {
    std::vector<ChainStep> steps(101);
    for (ChainStep& s : steps) {
        s.noise = one(1.0);
        s.observe = one(1.0);
        s.value = VectorXd::Zero(1);
        s.own = one(1.0);
    }
    const Chain chain = smooth_chain({VectorXd::Zero(1), one(1.0)}, steps);
    EXPECT_NEAR(chain.predicted[50].covariance(0, 0), (1.0 + std::sqrt(5.0)) / 2.0, 1e-12);
    EXPECT_NEAR(chain.filtered[50].covariance(0, 0), (std::sqrt(5.0) - 1.0) / 2.0, 1e-12);
    EXPECT_NEAR(chain.smoothed[50].covariance(0, 0), 1.0 / std::sqrt(5.0), 1e-12);
    EXPECT_NEAR(chain.predicted[50].covariance(0, 0), 1.618034, 5e-7);
    EXPECT_NEAR(chain.filtered[50].covariance(0, 0), 0.618034, 5e-7);
    EXPECT_NEAR(chain.smoothed[50].covariance(0, 0), 0.447214, 5e-7);
}

MatrixXd random_matrix(Random& random, int rows, int columns) {
    MatrixXd out(rows, columns);
    for (int i = 0; i < rows; ++i)
        for (int j = 0; j < columns; ++j) out(i, j) = random.normal();
    return out;
}

MatrixXd random_covariance(Random& random, int size) {
    const MatrixXd a = random_matrix(random, size, size + 2);
    return a * a.transpose() / (size + 2.0);
}

// All states and observations of the chain as one normal vector, conditioned at once.
TEST(smoother, random_chains_agree_with_conditioning_all_at_once) {
    Random random(41);
    for (int draw = 0; draw < 20; ++draw) {
        const int d = 3;
        const int n = 6;
        std::vector<ChainStep> steps(n);
        const ChainEstimate start{random_matrix(random, d, 1), random_covariance(random, d)};
        std::vector<VectorXd> means;
        std::vector<MatrixXd> blocks;  // maps all sources to the state
        std::vector<MatrixXd> sources{start.covariance};
        int size = d;
        VectorXd mean = start.mean;
        std::vector<MatrixXd> by_source;  // per step: state × stacked sources
        MatrixXd map = MatrixXd::Identity(d, d);
        for (int k = 0; k < n; ++k) {
            ChainStep& s = steps[static_cast<std::size_t>(k)];
            const int grown = k == 2 ? size + 2 : size;  // two components join at step 2
            s.transition = random_matrix(random, grown, size);
            s.offset = random_matrix(random, grown, 1);
            s.noise = random_covariance(random, grown);
            size = grown;
            mean = s.transition * mean + s.offset;
            MatrixXd wider(size, map.cols() + size);
            wider << s.transition * map, MatrixXd::Identity(size, size);
            map = wider;
            sources.push_back(s.noise);
            means.push_back(mean);
            by_source.push_back(map);
            if (k % 2 == 0) {
                s.observe = random_matrix(random, 2, size);
                s.own = random_covariance(random, 2);
                s.value = random_matrix(random, 2, 1);
            }
        }
        Eigen::Index total = 0;
        for (const auto& s : sources) total += s.rows();
        MatrixXd prior = MatrixXd::Zero(total, total);
        Eigen::Index at = 0;
        for (const auto& s : sources) {
            prior.block(at, at, s.rows(), s.rows()) = s;
            at += s.rows();
        }
        std::vector<MatrixXd> rows;
        MatrixXd observed(0, total);
        VectorXd left(0);
        MatrixXd own = MatrixXd::Zero(0, 0);
        for (int k = 0; k < n; ++k) {
            const auto i = static_cast<std::size_t>(k);
            if (steps[i].observe.rows() == 0) continue;
            MatrixXd h = MatrixXd::Zero(2, total);
            h.leftCols(by_source[i].cols()) = steps[i].observe * by_source[i];
            const Eigen::Index m = observed.rows();
            observed.conservativeResize(m + 2, total);
            observed.bottomRows(2) = h;
            left.conservativeResize(m + 2);
            left.tail(2) = steps[i].value - steps[i].observe * means[i];
            MatrixXd larger = MatrixXd::Zero(m + 2, m + 2);
            larger.topLeftCorner(m, m) = own;
            larger.bottomRightCorner(2, 2) = steps[i].own;
            own = larger;
        }
        const MatrixXd v = observed * prior * observed.transpose() + own;
        const Eigen::LLT<MatrixXd> factor(v);
        const Chain chain = smooth_chain(start, steps);
        for (int k = 0; k < n; ++k) {
            const auto i = static_cast<std::size_t>(k);
            MatrixXd to = MatrixXd::Zero(by_source[i].rows(), total);
            to.leftCols(by_source[i].cols()) = by_source[i];
            const MatrixXd cross = to * prior * observed.transpose();
            const VectorXd expected = means[i] + cross * factor.solve(left);
            const MatrixXd covariance =
                to * prior * to.transpose() - cross * factor.solve(cross.transpose());
            const double size_of = covariance.cwiseAbs().maxCoeff() + 1.0;
            EXPECT_LT((chain.smoothed[i].mean - expected).cwiseAbs().maxCoeff(), 1e-8 * size_of);
            EXPECT_LT((chain.smoothed[i].covariance - covariance).cwiseAbs().maxCoeff(),
                      1e-8 * size_of);
            if (k + 1 < n) {
                MatrixXd next = MatrixXd::Zero(by_source[i + 1].rows(), total);
                next.leftCols(by_source[i + 1].cols()) = by_source[i + 1];
                const MatrixXd both =
                    to * prior * next.transpose() -
                    cross * factor.solve((next * prior * observed.transpose()).transpose());
                EXPECT_LT((chain.with_next[i] - both).cwiseAbs().maxCoeff(), 1e-8 * size_of);
            }
        }
        constexpr double kLogTwoPi = 1.8378770664093454836;
        const double expected = -0.5 * left.dot(factor.solve(left)) -
                                factor.matrixLLT().diagonal().array().log().sum() -
                                0.5 * static_cast<double>(left.size()) * kLogTwoPi;
        EXPECT_NEAR(chain.log_likelihood, expected, 1e-8 * (1.0 + std::abs(expected)));
    }
}

TEST(smoother, component_without_variance_stays_and_gives_no_nan) {
    std::vector<ChainStep> steps(4);
    for (ChainStep& s : steps) {
        s.noise = MatrixXd::Zero(2, 2);
        s.noise(0, 0) = 1.0;
        s.observe = MatrixXd::Ones(1, 2);
        s.value = VectorXd::Constant(1, 3.0);
        s.own = one(0.5);
    }
    VectorXd mean(2);
    mean << 0.0, 7.0;
    const Chain chain = smooth_chain({mean, MatrixXd::Zero(2, 2)}, steps);
    for (const auto& s : chain.smoothed) {
        EXPECT_TRUE(s.mean.allFinite());
        EXPECT_TRUE(s.covariance.allFinite());
        EXPECT_DOUBLE_EQ(s.mean[1], 7.0);
        EXPECT_DOUBLE_EQ(s.covariance(1, 1), 0.0);
    }
}

TEST(smoother, no_steps_gives_an_empty_chain) {
    const Chain chain = smooth_chain({VectorXd::Zero(1), one(1.0)}, {});
    EXPECT_TRUE(chain.smoothed.empty());
    EXPECT_EQ(chain.log_likelihood, 0.0);
}

}  // namespace
}  // namespace layproof::watch
