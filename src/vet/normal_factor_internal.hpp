#pragma once
// The sparse linear form of all evidence and its normal equations. Each observation touches a few
// unknowns, each set-up few marks: with an ordering that takes set-ups first the factor stays
// small, and a site with many set-ups costs little more than one with few.

#include <Eigen/Core>
#include <Eigen/SparseCholesky>
#include <Eigen/SparseCore>
#include <cmath>

namespace layproof::vet::internal {

using SparseMatrix = Eigen::SparseMatrix<double>;

class NormalFactor {
public:
    /// False when the normal matrix of `jacobian` is not positive definite.
    bool compute(const SparseMatrix& jacobian) {
        const SparseMatrix normal = jacobian.transpose() * jacobian;
        factor_.compute(normal);
        if (factor_.info() != Eigen::Success) return false;
        const SparseMatrix& lower = factor_.matrixL().nestedExpression();
        log_det_ = 0.0;
        for (Eigen::Index i = 0; i < lower.cols(); ++i) {
            const double pivot = lower.coeff(i, i);
            if (!(pivot > 0.0)) return false;
            log_det_ += 2.0 * std::log(pivot);
        }
        return true;
    }

    double log_det() const { return log_det_; }
    template <class Right>
    Eigen::MatrixXd solve(const Right& right) const {
        return factor_.solve(right);
    }

private:
    Eigen::SimplicialLLT<SparseMatrix, Eigen::Lower, Eigen::AMDOrdering<int>> factor_;
    double log_det_ = 0.0;
};

}  // namespace layproof::vet::internal
