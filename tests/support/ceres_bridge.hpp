#pragma once
// A second solver for tests: the same adjust::Problem handed to Ceres (test-only dependency; link
// Ceres::ceres). Inner constraints are not carried over: Ceres has no such datum.

#include <gtest/gtest.h>

#include <ceres/ceres.h>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "adjust/analysis.hpp"
#include "adjust/problem.hpp"

namespace layproof::testing {

class CeresSolution {
public:
    /// Solves from `start` (in the order of problem.values()); the problem stays as it is.
    CeresSolution(const adjust::Problem& problem, std::vector<double> start)
        : source_(problem), values_(std::move(start)) {
        for (const auto& block : problem.parameters()) {
            double* values = values_.data() + block.offset;
            problem_.AddParameterBlock(values, block.size);
            if (block.held) problem_.SetParameterBlockConstant(values);
        }
        for (const auto& block : problem.observations()) {
            std::vector<double*> blocks;
            for (int k = 0; k < block.block_count; ++k)
                blocks.push_back(values_.data() + parameter(block, k).offset);
            problem_.AddResidualBlock(new Cost(problem, block), nullptr, blocks);
        }
        ceres::Solver::Options options;
        options.linear_solver_type = ceres::DENSE_QR;
        options.max_num_iterations = 500;
        options.function_tolerance = 1e-18;
        options.gradient_tolerance = 1e-18;
        options.parameter_tolerance = 1e-15;
        options.logging_type = ceres::SILENT;
        ceres::Solve(options, &problem_, &summary_);
    }

    bool is_usable() const { return summary_.IsSolutionUsable(); }
    double weighted_square_sum() const { return 2.0 * summary_.final_cost; }
    const std::vector<double>& values() const { return values_; }

    /// All covariances of blocks that are not held; rows and columns follow values().
    Eigen::MatrixXd covariance() {
        ceres::Covariance::Options options;
        options.algorithm_type = ceres::DENSE_SVD;
        options.min_reciprocal_condition_number = 1e-30;
        ceres::Covariance covariance(options);
        std::vector<const double*> blocks;
        for (const auto& block : source_.parameters()) {
            if (!block.held) blocks.push_back(values_.data() + block.offset);
        }
        const auto n = static_cast<Eigen::Index>(values_.size());
        Eigen::MatrixXd out = Eigen::MatrixXd::Zero(n, n);
        if (!covariance.Compute(blocks, &problem_)) {
            ADD_FAILURE() << "Ceres gives no covariance";
            return out;
        }
        for (const auto& a : source_.parameters()) {
            for (const auto& b : source_.parameters()) {
                if (a.held || b.held) continue;
                Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> part(a.size,
                                                                                            b.size);
                covariance.GetCovarianceBlock(values_.data() + a.offset, values_.data() + b.offset,
                                              part.data());
                out.block(a.offset, b.offset, a.size, b.size) = part;
            }
        }
        return out;
    }

private:
    using ParameterBlock = adjust::Problem::ParameterBlock;
    using ObservationBlock = adjust::Problem::ObservationBlock;

    const ParameterBlock& parameter(const ObservationBlock& block, int k) const {
        const auto entry = static_cast<std::size_t>(block.block_begin + k);
        return source_.parameters()[static_cast<std::size_t>(source_.block_list()[entry])];
    }

    class Cost final : public ceres::CostFunction {
    public:
        Cost(const adjust::Problem& problem, const ObservationBlock& block)
            : problem_(problem), block_(block) {
            set_num_residuals(block.size);
            for (int k = 0; k < block.block_count; ++k) {
                const auto entry = static_cast<std::size_t>(block.block_begin + k);
                const auto index = static_cast<std::size_t>(problem.block_list()[entry]);
                mutable_parameter_block_sizes()->push_back(problem.parameters()[index].size);
            }
        }

        bool Evaluate(double const* const* parameters, double* residuals,
                      double** jacobians) const override {
            using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
            block_.function->evaluate({parameters, static_cast<std::size_t>(block_.block_count)},
                                      residuals, jacobians);
            const Eigen::Map<const RowMajor> factor(problem_.factors().data() + block_.factor_begin,
                                                    block_.size, block_.size);
            Eigen::Map<Eigen::VectorXd> v(residuals, block_.size);
            v = (factor.triangularView<Eigen::Lower>() * v).eval();
            for (int k = 0; jacobians != nullptr && k < block_.block_count; ++k) {
                if (jacobians[k] == nullptr) continue;
                Eigen::Map<RowMajor> j(jacobians[k], block_.size,
                                       parameter_block_sizes()[static_cast<std::size_t>(k)]);
                j = (factor.triangularView<Eigen::Lower>() * j).eval();
            }
            return v.allFinite();
        }

    private:
        const adjust::Problem& problem_;
        ObservationBlock block_;
    };

    const adjust::Problem& source_;
    std::vector<double> values_;
    ceres::Problem problem_;
    ceres::Solver::Summary summary_;
};

struct CeresTolerance {
    double unknowns = 1e-9;    ///< of max(1, |value|)
    double covariance = 1e-6;  ///< of √(variance · variance)
};

/// Expects unknowns, vᵀQ⁻¹v and covariances of a solved problem to agree with Ceres, which begins
/// from `start`.
inline void expect_agrees_with_ceres(const adjust::Problem& solved,
                                     const std::vector<double>& start, double weighted_square_sum,
                                     const adjust::Analysis& analysis,
                                     const CeresTolerance& tolerance = {}) {
    CeresSolution ceres(solved, start);
    ASSERT_TRUE(ceres.is_usable());
    const double scale = std::max(1.0, weighted_square_sum);
    EXPECT_NEAR(ceres.weighted_square_sum(), weighted_square_sum, 1e-9 * scale);
    for (std::size_t i = 0; i < start.size(); ++i) {
        EXPECT_NEAR(solved.values()[i], ceres.values()[i],
                    tolerance.unknowns * std::max(1.0, std::abs(ceres.values()[i])))
            << "value " << i;
    }
    const Eigen::MatrixXd other = ceres.covariance();
    const int blocks = static_cast<int>(solved.parameters().size());
    for (int a = 0; a < blocks; ++a) {
        for (int b = 0; b < blocks; ++b) {
            const auto& row = solved.parameters()[static_cast<std::size_t>(a)];
            const auto& column = solved.parameters()[static_cast<std::size_t>(b)];
            const Eigen::MatrixXd own = analysis.covariance({a}, {b});
            for (int i = 0; i < row.size; ++i) {
                for (int j = 0; j < column.size; ++j) {
                    const double size = std::sqrt(other(row.offset + i, row.offset + i) *
                                                  other(column.offset + j, column.offset + j));
                    EXPECT_NEAR(own(i, j), other(row.offset + i, column.offset + j),
                                tolerance.covariance * size)
                        << "covariance of blocks " << a << " and " << b;
                }
            }
        }
    }
}

}  // namespace layproof::testing
