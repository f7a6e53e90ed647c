#pragma once
// Normal equations of a Problem, for the dense solver and its analysis. Not for other rooms.
//
// N = JᵀWJ and g = JᵀWv are put together block by block from whitened rows (L⁻¹J, L⁻¹v). Blocks
// with few neighbours are eliminated first, and the Cholesky factor keeps to the envelope of N.
// With one block that all others hang on, this is its Schur complement: the cost is linear in the
// number of the others.

#include <Eigen/Core>
#include <span>
#include <vector>

#include "adjust/problem.hpp"

namespace layproof::adjust::internal {

/// Where each unknown stands in the normal equations.
struct Layout {
    explicit Layout(const Problem& problem);

    std::vector<int> first;  ///< per parameter block: first row in elimination order; −1 if held
    std::vector<int> envelope;  ///< per row: first column of N that is not structurally zero
    std::vector<int> given;     ///< per row: the same unknown counted in the problem's own order
    int unknowns = 0;
};

struct NormalEquations {
    explicit NormalEquations(int unknowns)
        : matrix(static_cast<std::size_t>(unknowns) * static_cast<std::size_t>(unknowns)),
          gradient(static_cast<std::size_t>(unknowns)) {}

    std::vector<double> matrix;    ///< N, row-major, lower triangle
    std::vector<double> gradient;  ///< JᵀWv
    double square_sum = 0.0;       ///< vᵀWv
};

/// Rows as they were accumulated, for the analysis.
struct WhitenedRows {
    std::vector<double> plain;     ///< v, stacked
    std::vector<double> residual;  ///< L⁻¹v, stacked
    std::vector<double> jacobian;  ///< L⁻¹J, one row-major array per entry of block_list()
    std::vector<int> begin;        ///< per entry of block_list(): into `jacobian`; −1 if held
};

/// False if anything is not finite; `out` is then without meaning.
bool accumulate(const Problem& problem, const Layout& layout, const double* values,
                NormalEquations& out, WhitenedRows* rows = nullptr);

/// Cholesky factor of N + damping·diag(weights), scaled to unit diagonal of N, inside an envelope.
class Factor {
public:
    explicit Factor(int unknowns);

    /// False if a pivot is not positive. `weights` may be empty without damping. smallest_pivot()
    /// is 1 − R² of the worst determined unknown on those before it.
    bool compute(const std::vector<double>& matrix, std::span<const int> envelope,
                 double damping = 0.0, std::span<const double> weights = {});
    double smallest_pivot() const { return smallest_pivot_; }
    /// The system's solution for −gradient.
    void solve(const std::vector<double>& gradient, std::vector<double>& step) const;
    /// Row-major inverse, both triangles.
    void invert(std::vector<double>& out) const;

private:
    int n_;
    std::span<const int> envelope_;
    std::vector<double> lower_;
    std::vector<double> scale_;
    double smallest_pivot_ = 0.0;
};

/// Inner constraints. With N H = 0 and H scaled so that the rows of the datum blocks are
/// orthonormal, K = N + w·H_d H_dᵀ is regular, K⁻¹ gives the step with H_dᵀ(x − x0) = 0, and K⁻¹ −
/// H Hᵀ/w is the covariance (w: any positive weight, here the mean diagonal of N).
struct InnerDatum {
    explicit InnerDatum(const Problem& problem, const Layout& layout);

    /// Finds H. False if the datum blocks cannot remove the defect.
    bool find(const NormalEquations& normals, double rank_tolerance);
    /// system = K, gradient += w·H_d H_dᵀ(x − x0), offset in elimination order.
    void apply(NormalEquations& system, const Eigen::VectorXd& offset) const;
    /// w·‖H_dᵀ offset‖²
    double penalty(const Eigen::VectorXd& offset) const;

    std::vector<char> in_datum;  ///< per row
    std::vector<int> envelope;   ///< K is full
    Eigen::MatrixXd basis;       ///< H
    double weight = 1.0;
    int defect() const { return static_cast<int>(basis.cols()); }
};

/// Unit vector of the least determined direction, in the problem's own order.
Eigen::VectorXd weakest_direction(const NormalEquations& normals, const Layout& layout);

}  // namespace layproof::adjust::internal
