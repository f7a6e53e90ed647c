#pragma once
// The same least squares as adjust::solve and adjust::Analysis on a set-up's problem, written for
// its shape: one pose, marks that touch nothing else. Each mark is eliminated in closed form, so
// that an iteration costs 3 × 3 products per sight and one 4 × 4 factor.
//
// With residuals v = f − l whitened by L⁻¹ (C = L Lᵀ), T = ∂v/∂target, o = ∂v/∂orientation and P
// the weight of a mark's sheet, per mark: A = ΣTᵀT, b = ΣTᵀv, c = ΣTᵀo, N = A + P. The reduced
// normal matrix of (place, orientation) is
//     [ Σ A N⁻¹ P      −Σ P N⁻¹ c        ]
//     [ ·               Σ oᵀo − cᵀN⁻¹c   ]
// (Schur complement; A − A N⁻¹ A is written A N⁻¹ P, which does not cancel). Covariance of what a
// sight sees (mark − station, orientation): B Q Bᵀ + N⁻¹ with B = [−N⁻¹P, −N⁻¹c; 0, 1].
//
// Plain Gauss–Newton without step control, for the ordinary case: one start value, marks known in
// all their parts. Whatever is not ordinary (a step that does not lower the sum, a direction close
// to open, a mark known in part) gives nothing, and the general solver decides. Both agree to the
// step tolerance, 1e-10 m (tests/station/quick_solution_test.cpp).

#include <optional>
#include <vector>

#include "measure/sight_model.hpp"
#include "station/solution.hpp"
#include "station/start_values.hpp"

namespace layproof::station::internal {

/// `reduced`: per sight of the set-up, with the covariance to be used. The solution lacks what
/// belongs to sights that are not used.
std::optional<Solution> quick_solution(const Prepared& setup, const StartValue& start,
                                       const std::vector<measure::ReducedSight>& reduced);

/// The general way, through adjust::Problem, from every start value.
Result<Solved> solve_generally(const Prepared& setup, const std::vector<StartValue>& starts);

}  // namespace layproof::station::internal
