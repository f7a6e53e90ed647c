#pragma once
// Solution of a SparseProblem and what it is worth. Method, accuracy and cost:
// docs/methods/adjust-sparse.md.
//
// Gauss–Newton with step control on sparse normal equations; the order of elimination is found once
// for each solver, whatever the weights do later. Never a dense inverse: covariances come from the
// selected inverse of the factor. The variance factor is taken as 1.

#include <Eigen/Core>
#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "adjust/solve.hpp"
#include "adjust/sparse_problem.hpp"

namespace layproof::adjust {

enum class EliminationOrder { automatic, minimum_degree, nested_dissection };

struct SparseOptions {
    int max_iterations = 50;
    /// Done when no unknown would move by more than this.
    double step_tolerance = 1e-10;
    /// A direction h of the unknowns is open when the data weigh it with less than this share of
    /// what each of its unknowns would weigh alone: hᵀNh ≤ tolerance · Σ h_i²N_ii. Rounding leaves
    /// about 1e-16, the weakest of well-made networks 1e-9.
    double rank_tolerance = 1e-14;
    EliminationOrder order = EliminationOrder::automatic;
    /// Unknowns that the data leave open: false: the answer is rank_deficient. true: they stay as
    /// they are, everything else is adjusted, and the summary names them.
    bool keep_loose = false;
};

/// Parameter blocks that the data leave open together.
struct LoosePart {
    int open_directions = 0;
    std::vector<ParameterId> blocks;
};

struct SparseSummary {
    SolveStatus status = SolveStatus::not_converged;
    int iterations = 0;                ///< steps tried
    int factorisations = 0;            ///< fewer than iterations where an old factor served
    double weighted_square_sum = 0.0;  ///< Σ p vᵀQ⁻¹v where the iteration ended; 0 if not_finite
    int redundancy = 0;                ///< observations − unknowns + defect
    int defect = 0;  ///< open directions, whether a datum takes care of them or not
    /// What is loose and no inner datum takes care of.
    std::vector<LoosePart> loose;
};

/// Covariance of one block or between two.
using SmallMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, 3, 3>;

class SparseAnalysis {
public:
    /// Covariance of one block; zero if held, infinite variances if loose.
    SmallMatrix covariance(ParameterId block) const;
    /// Between any two blocks. Those that stand together in an observation block are at hand; any
    /// other pair costs two walks from the block to the root of the elimination tree. Zero if one
    /// is held or loose.
    SmallMatrix covariance(ParameterId row_block, ParameterId column_block) const;
    /// Of all given blocks together, in their order.
    Eigen::MatrixXd joint_covariance(std::span<const ParameterId> blocks) const;
    bool is_loose(ParameterId block) const;

    // Per batch, the rows of its blocks one after another. Meaning as in Analysis: v = f(x) − l;
    // redundancy sums to the redundancy; w is N(0,1) if all is well and has the sign of v. A block
    // that was left out counts nothing: its redundancy is zero, and its w and test are those of its
    // misfit against the solution without it.
    std::span<const double> residual(int batch) const;
    std::span<const double> redundancy(int batch) const;
    std::span<const double> standardised(int batch) const;
    /// Smallest error of one row that the w test at α finds with probability γ; infinite where
    /// nothing checks it.
    double detectable(int batch, int row, double significance = 0.001, double power = 0.80) const;
    /// Best estimate of a single error in one row: opposite in sign to w.
    double estimated_bias(int batch, int row) const;

    struct BlockTest {
        double statistic = 0.0;  ///< χ²(dimension) if all is well
        int dimension = 0;       ///< 0: nothing checks the block
    };
    BlockTest block_test(ObservationId block) const;

    /// Sum of redundancy over a batch, and of p vᵀQ⁻¹v.
    double redundancy_sum(int batch) const;
    double weighted_square_sum(int batch) const;

    struct Data;
    explicit SparseAnalysis(std::shared_ptr<const Data> data) : data_(std::move(data)) {}

private:
    std::shared_ptr<const Data> data_;
};

/// What the order of elimination costs, for reports and benchmarks.
struct EliminationCost {
    bool by_nested_dissection = false;
    std::int64_t factor_numbers = 0;  ///< stored, zeros of merged fronts included
    double multiplications = 0.0;     ///< of one factorisation
    int largest_front = 0;
    std::int64_t stack_numbers = 0;
};

class SparseSolver {
public:
    /// Blocks, batches and what is held must stay as they are while the solver is used; values and
    /// weights may change. Keeps a reference to `problem`.
    explicit SparseSolver(SparseProblem& problem, const SparseOptions& options = {});
    ~SparseSolver();
    SparseSolver(SparseSolver&&) noexcept;
    SparseSolver& operator=(SparseSolver&&) noexcept;

    /// Improves problem.values() in place. They stay as before the call if the status is
    /// rank_deficient or not_finite.
    SparseSummary solve();

    /// At the problem's values, which solve() has found. Where the normal equations cannot be
    /// formed (not finite) every block is loose and nothing is checked.
    SparseAnalysis analyse();

    EliminationCost cost() const;

    struct Data;

private:
    std::unique_ptr<Data> data_;
};

}  // namespace layproof::adjust
