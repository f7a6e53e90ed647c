#pragma once
// Gauss–Newton with step control on a Problem (dense normal equations). Method, ways of ending and
// accuracy: docs/methods/adjust.md. Meant for up to some hundreds of unknowns.

#include <Eigen/Core>

#include "adjust/problem.hpp"

namespace layproof::adjust {

struct SolveOptions {
    int max_iterations = 50;
    /// Done when no unknown moves by more than this. 1e-10 (metres, radians) is far below any
    /// measurement and well above rounding at centred coordinates.
    double step_tolerance = 1e-10;
    /// A pivot of the scaled normal matrix below this counts as a direction the data do not
    /// determine.
    double rank_tolerance = 1e-12;
};

enum class SolveStatus {
    converged,       ///< values are the least-squares solution
    rank_deficient,  ///< values are as before the call; the data leave a direction open
    not_converged,   ///< values are the best found, not a solution
    not_finite,      ///< values are as before the call
};

struct SolveSummary {
    SolveStatus status = SolveStatus::not_converged;
    int iterations = 0;
    double weighted_square_sum = 0.0;  ///< vᵀQ⁻¹v where the iteration ended; 0 if not_finite
    int redundancy = 0;                ///< observations − unknowns + datum defect
    int defect = 0;                    ///< filled when inner constraints are set
    Eigen::VectorXd weakest;           ///< rank_deficient: unit vector of the open direction
};

/// Improves problem.values() in place.
SolveSummary solve(Problem& problem, const SolveOptions& options = {});

}  // namespace layproof::adjust
