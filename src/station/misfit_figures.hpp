#pragma once
// What the linear model in metres (misfit_model.hpp) adds to a solution: how far each mark is off,
// and how large an error of a sight would have to be to show.
//
// Marks: where the sights put the mark minus where the sheet has it, at the solved pose: the least
// squares shift from the rows of the mark's used sights (their mean when each gives all its parts).
// A mark without used sights takes those that were set aside or kept as checks. A component that
// its sights do not determine stays nothing. off_covariance is that of the misfit as it shows: of
// used sights C − A Q Aᵀ, of the others C + A Q Aᵀ, with Q the covariance of the pose.
//
// Sights: a shift s of the target enters its rows as B s; the test for a shift in that direction
// has the noncentrality sᵀBᵀMBs (Baarda 1968, as in Koch 1999, 4.2). The smallest shift found
// whatever its direction lies along the weakest eigenvector of BᵀMB, over the components that the
// sight measures (plan, or plan and height): δ0/√μ_min with δ0 = 4.1321 (α 0.001, power 80 %).
// Nothing where μ_min is zero within rounding.

#include "station/prepared.hpp"
#include "station/solution.hpp"

namespace layproof::station {

/// Fills SolvedSight::detectable_m and undetected_effect_m and SolvedMark::off_*. Leaves them
/// empty where the model is not usable.
void add_misfit_figures(const Prepared& setup, Solution& solution);

}  // namespace layproof::station
