#pragma once
// The same problem for the sparse path: every observation of a dense Problem, in batches by shape.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <map>
#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "adjust/analysis.hpp"
#include "adjust/problem.hpp"
#include "adjust/solve.hpp"
#include "adjust/sparse_problem.hpp"
#include "adjust/sparse_solve.hpp"

namespace layproof::adjust::testing {

/// Calls the functions of a dense problem, which must outlive it.
class Borrowed final : public BatchFunction {
public:
    Borrowed(std::vector<const ObservationFunction*> functions, BatchShape shape)
        : functions_(std::move(functions)), shape_(std::move(shape)) {}

    void evaluate(const Chunk& chunk) const override {
        std::vector<const double*> x(shape_.sizes.size());
        std::vector<std::vector<double>> parts;
        std::vector<double*> jacobians;
        for (const int size : shape_.sizes)
            parts.emplace_back(static_cast<std::size_t>(shape_.rows * size));
        for (auto& part : parts) jacobians.push_back(part.data());
        for (int i = 0; i < chunk.count; ++i) {
            for (std::size_t b = 0; b < x.size(); ++b)
                x[b] = chunk.values + chunk.offsets[static_cast<std::size_t>(i * chunk.blocks) + b];
            functions_[static_cast<std::size_t>(chunk.first + i)]->evaluate(
                x, chunk.residual + i * shape_.rows,
                chunk.jacobian == nullptr ? nullptr : jacobians.data());
            if (chunk.jacobian == nullptr) continue;
            double* out = chunk.jacobian + i * shape_.rows * chunk.width;
            for (int r = 0; r < shape_.rows; ++r) {
                for (std::size_t b = 0; b < x.size(); ++b) {
                    const int size = shape_.sizes[b];
                    for (int k = 0; k < size; ++k)
                        *out++ = parts[b][static_cast<std::size_t>(r * size + k)];
                }
            }
        }
    }

private:
    std::vector<const ObservationFunction*> functions_;
    BatchShape shape_;
};

struct SparseCopy {
    SparseProblem problem;
    std::vector<ObservationId> observations;  ///< per observation block of the source

    explicit SparseCopy(const Problem& source) {
        for (std::size_t p = 0; p < source.parameters().size(); ++p) {
            const auto id = problem.add_parameter(source.value({static_cast<int>(p)}));
            if (source.parameters()[p].held) problem.hold(id);
        }
        std::map<std::pair<int, std::vector<int>>, std::vector<int>> shapes;
        for (std::size_t o = 0; o < source.observations().size(); ++o) {
            const auto& block = source.observations()[o];
            std::vector<int> sizes;
            for (int k = 0; k < block.block_count; ++k)
                sizes.push_back(source.parameters()[index(source, block, k)].size);
            shapes[{block.size, sizes}].push_back(static_cast<int>(o));
        }
        observations.resize(source.observations().size());
        for (const auto& [shape, members] : shapes) {
            std::vector<const ObservationFunction*> functions;
            std::vector<ParameterId> blocks;
            std::vector<double> covariances;
            for (const int o : members) {
                const auto& block = source.observations()[static_cast<std::size_t>(o)];
                functions.push_back(block.function);
                for (int k = 0; k < block.block_count; ++k)
                    blocks.push_back({static_cast<int>(index(source, block, k))});
                // Q from the packed L⁻¹.
                using RowMajor =
                    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
                const Eigen::Map<const RowMajor> factor(
                    source.factors().data() + block.factor_begin, block.size, block.size);
                const RowMajor weight = factor.transpose() * factor;
                const RowMajor q = weight.inverse();
                const RowMajor even = 0.5 * (q + q.transpose());
                covariances.insert(covariances.end(), even.data(), even.data() + even.size());
            }
            const BatchShape own{shape.first, shape.second};
            const auto added = problem.add_batch(
                own, std::make_unique<Borrowed>(std::move(functions), own), blocks, covariances);
            EXPECT_GE(added.batch, 0) << "block " << added.bad_block;
            for (std::size_t i = 0; i < members.size(); ++i)
                observations[static_cast<std::size_t>(members[i])] = {added.batch,
                                                                      static_cast<int>(i)};
        }
        problem.set_inner_datum(source.inner_datum());
    }

private:
    static std::size_t index(const Problem& source, const Problem::ObservationBlock& block, int k) {
        return static_cast<std::size_t>(
            source.block_list()[static_cast<std::size_t>(block.block_begin + k)]);
    }
};

/// Expects the sparse path, begun from `start`, to give what the dense one has given: unknowns
/// within 1e-9 of max(1, |x|), covariances within 1e-6 of √(variance · variance), all statistics.
inline void expect_sparse_agrees(const Problem& solved, const std::vector<double>& start,
                                 const SolveSummary& summary, const Analysis& analysis,
                                 EliminationOrder order = EliminationOrder::automatic) {
    SparseCopy copy(solved);
    copy.problem.values() = start;
    SparseOptions options;
    options.order = order;
    SparseSolver solver(copy.problem, options);
    const SparseSummary sparse = solver.solve();
    ASSERT_EQ(sparse.status, SolveStatus::converged);
    const double scale = std::max(1.0, summary.weighted_square_sum);
    EXPECT_NEAR(sparse.weighted_square_sum, summary.weighted_square_sum, 1e-9 * scale);
    EXPECT_EQ(sparse.redundancy, summary.redundancy);
    EXPECT_EQ(sparse.defect, summary.defect);
    for (std::size_t i = 0; i < start.size(); ++i) {
        EXPECT_NEAR(copy.problem.values()[i], solved.values()[i],
                    1e-9 * std::max(1.0, std::abs(solved.values()[i])))
            << "value " << i;
    }
    const SparseAnalysis own = solver.analyse();
    const int blocks = static_cast<int>(solved.parameters().size());
    std::vector<ParameterId> all;
    for (int a = 0; a < blocks; ++a) all.push_back({a});
    const Eigen::MatrixXd joint = own.joint_covariance(all);
    const auto expect_close = [&](const auto& got, const Eigen::MatrixXd& expected, int a, int b) {
        ASSERT_EQ(got.rows(), expected.rows());
        ASSERT_EQ(got.cols(), expected.cols());
        const Eigen::MatrixXd q_a = analysis.covariance({a});
        const Eigen::MatrixXd q_b = analysis.covariance({b});
        for (Eigen::Index i = 0; i < expected.rows(); ++i) {
            for (Eigen::Index j = 0; j < expected.cols(); ++j)
                EXPECT_NEAR(got(i, j), expected(i, j),
                            1e-6 * std::sqrt(q_a(i, i) * q_b(j, j)) + 1e-300)
                    << "covariance of blocks " << a << " and " << b;
        }
    };
    for (int a = 0, row = 0; a < blocks; ++a) {
        for (int b = 0, column = 0; b < blocks; ++b) {
            const Eigen::MatrixXd expected = analysis.covariance({a}, {b});
            expect_close(own.covariance({a}, {b}), expected, a, b);
            expect_close(joint.block(row, column, expected.rows(), expected.cols()), expected, a,
                         b);
            column += static_cast<int>(expected.cols());
        }
        row += solved.parameters()[static_cast<std::size_t>(a)].size;
    }
    double redundancy = 0.0;
    for (int batch = 0; batch < static_cast<int>(copy.problem.batches().size()); ++batch)
        redundancy += own.redundancy_sum(batch);
    EXPECT_NEAR(redundancy, summary.redundancy, 1e-6);
    for (std::size_t o = 0; o < copy.observations.size(); ++o) {
        const ObservationId id = copy.observations[o];
        const auto& block = solved.observations()[o];
        for (int r = 0; r < block.size; ++r) {
            const int row = block.first_row + r;
            const auto own_row = static_cast<std::size_t>(id.index * block.size + r);
            EXPECT_NEAR(own.residual(id.batch)[own_row], analysis.residual()(row), 1e-8);
            EXPECT_NEAR(own.redundancy(id.batch)[own_row], analysis.redundancy()(row), 1e-6);
            EXPECT_NEAR(own.standardised(id.batch)[own_row], analysis.standardised()(row),
                        1e-5 * std::max(1.0, std::abs(analysis.standardised()(row))))
                << "row " << row;
            if (std::isfinite(analysis.detectable()(row))) {
                const int index = static_cast<int>(own_row);
                EXPECT_NEAR(own.detectable(id.batch, index) / analysis.detectable()(row), 1.0,
                            1e-5);
                EXPECT_NEAR(own.estimated_bias(id.batch, index), analysis.estimated_bias()(row),
                            1e-5 * std::max(1e-3, std::abs(analysis.estimated_bias()(row))));
            } else {
                EXPECT_FALSE(std::isfinite(own.detectable(id.batch, static_cast<int>(own_row))));
            }
        }
        const auto test = own.block_test(id);
        const auto expected = analysis.block_test(static_cast<int>(o));
        EXPECT_EQ(test.dimension, expected.dimension);
        EXPECT_NEAR(test.statistic, expected.statistic, 1e-5 * std::max(1.0, expected.statistic));
    }
}

}  // namespace layproof::adjust::testing
