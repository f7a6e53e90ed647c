#pragma once
// A solution that single gross errors do not pull along, to start tests from. No verdict on any
// observation: it says where to begin, and the tests of the least-squares solution decide.
//
// Iterated re-weighting of whole observation blocks. First Huber's weights (convex: one minimum,
// for linear functions each round lowers it), then, from there, weights that fall to the floor:
// with s² = vᵀQ⁻¹v / r over a block, r its redundancy, p = 1 up to k0, (k0/s)·((k1 − s)/(k1 − k0))²
// up to k1, the floor beyond (IGG III, after Yang 1994; constants common practice, no source). A
// weight is never zero, so that what was determined stays so. No protection against leverage: an
// error in an observation whose redundancy is near zero is not seen.

#include <vector>

#include "adjust/sparse_solve.hpp"

namespace layproof::adjust {

struct RobustOptions {
    int max_rounds = 15;  ///< of each of the two kinds of weights
    double k0 = 1.5;
    double k1 = 5.0;
    double floor = 1e-4;
    /// Settled when no weight changes by more than this.
    double tolerance = 0.02;
};

struct RobustSummary {
    SolveStatus status = SolveStatus::not_converged;  ///< of the last solution
    int rounds = 0;
    bool is_settled = false;
    std::vector<std::vector<double>>
        weights;  ///< per batch and block; 0 where it had been left out
};

/// Leaves the robust solution in problem.values() and the weights as they were. Values stay as
/// before the call if the first solution already fails.
RobustSummary solve_robustly(SparseProblem& problem, SparseSolver& solver,
                             const RobustOptions& options = {});

}  // namespace layproof::adjust
