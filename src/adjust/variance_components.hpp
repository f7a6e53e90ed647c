#pragma once
// Are the standard deviations right? One factor of variance for each group of observation blocks.
//
// Estimate of a group from its part of vᵀQ⁻¹v and its redundancy, iterated until the factors no
// longer change (Helmert 1924 in the simplified form of Förstner 1979; Koch 1999, section 3.6.3). A
// group knows its factor only to about √(2/r); a prior in inverse-gamma form keeps groups of small
// redundancy where they were: with ν0 degrees of freedom at f0,
//   f = (ν0 f0 + f_old Ω) / (ν0 + r),  Ω = vᵀQ⁻¹v of the group under the factor f_old.
// The fixed point is where Ω + ν0 f0/f = r + ν0.

#include <vector>

#include "adjust/sparse_solve.hpp"

namespace layproof::adjust {

/// Scaled inverse χ² of a group's factor: worth as much as `degrees` observations that showed
/// `factor`. In inverse-gamma terms: shape degrees/2, scale degrees·factor/2.
struct VariancePrior {
    double degrees = 0.0;
    double factor = 1.0;
};

struct VarianceOptions {
    int max_rounds = 30;
    /// Settled when no factor changes by more than this share in one round.
    double tolerance = 1e-4;
    /// A group with less redundancy and prior than this together keeps its factor.
    double least_degrees = 0.5;
};

struct VarianceComponent {
    double factor = 1.0;  ///< by which the group's Q is to be multiplied
    double redundancy = 0.0;
    double relative_sd = 0.0;  ///< of the factor, about √(2/(r + ν0)); infinite where both are zero
};

struct VarianceComponents {
    SolveStatus status = SolveStatus::not_converged;
    bool is_settled = false;
    std::vector<VarianceComponent> groups;
    std::vector<std::vector<double>> rounds;  ///< per round, by what each factor was multiplied
};

/// `group_of`: per batch and block its group, −1 for none; `priors`: one per group, or none at all.
/// Weights in the problem are divided by the factors found and stay so; values are the solution
/// under them. Lists that do not fit the problem give not_converged and no group.
VarianceComponents estimate_variance_components(SparseProblem& problem, SparseSolver& solver,
                                                const std::vector<std::vector<int>>& group_of,
                                                const std::vector<VariancePrior>& priors,
                                                const VarianceOptions& options = {});

}  // namespace layproof::adjust
