#pragma once
// What the data leave open: null vectors, inner constraints, loose blocks. Not for other rooms.
//
// With a factor that holds d open unknowns (covariance Q, null vectors H), the solution and
// covariance of inner constraints follow without a full row in the system: an S-transformation
// (Baarda 1973). With H_dᵀH_d = I on the rows of the datum: x − HH_dᵀ(x − x0), and SQSᵀ with S = I
// − HH_dᵀ. Unknowns are in order of elimination throughout.

#include <Eigen/Core>
#include <vector>

#include "adjust/front_factor_internal.hpp"
#include "adjust/sparse_normal_internal.hpp"
#include "adjust/sparse_solve.hpp"

namespace layproof::adjust::internal {

class OpenDirections {
public:
    /// `diagonal`: of N, per column. `in_datum`: per column, all zero without inner constraints.
    OpenDirections(const FrontFactor& factor, const NormalPattern& pattern,
                   const std::vector<double>& diagonal, const std::vector<char>& in_datum);

    const std::vector<LoosePart>& loose() const { return loose_; }
    /// Per free block.
    const std::vector<char>& is_loose() const { return is_loose_; }
    /// Directions that inner constraints take care of; unknowns × count.
    const Eigen::MatrixXd& basis() const { return basis_; }
    /// More null vectors touch the datum than can be kept.
    bool is_beyond_limits() const { return is_beyond_limits_; }

    /// The columns of the largest determinant in the basis: the best ones to hold.
    std::vector<int> best_held() const;
    /// Moves x along the null vectors so that H_dᵀx = 0.
    void centre(Eigen::VectorXd& x) const;
    /// P with SQSᵀ = Q − HPᵀ − PHᵀ.
    Eigen::MatrixXd correction(const FrontFactor& factor) const;

private:
    void add_loose(const Eigen::VectorXd& vector, int from, int to, int column,
                   const FrontFactor& factor, const NormalPattern& pattern,
                   const std::vector<double>& diagonal);
    int find(int block);

    std::vector<char> in_datum_;
    std::vector<char> is_loose_;
    std::vector<LoosePart> loose_;
    Eigen::MatrixXd basis_;
    std::vector<int> joined_;         // union of free blocks that are open together
    std::vector<int> loose_columns_;  // free block of each open direction
    bool is_beyond_limits_ = false;
};

}  // namespace layproof::adjust::internal
