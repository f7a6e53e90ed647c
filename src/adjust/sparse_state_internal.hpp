#pragma once
// What a SparseSolver keeps, shared by its solution and its analysis. Not for other rooms.

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "adjust/datum_internal.hpp"
#include "adjust/front_factor_internal.hpp"
#include "adjust/sparse_normal_internal.hpp"
#include "adjust/sparse_solve.hpp"

namespace layproof::adjust::internal {

/// Pattern, order and fronts: what stays the same whatever values and weights are.
struct Elimination {
    Elimination(const SparseProblem& problem, EliminationOrder order);

    NormalPattern pattern;
    std::shared_ptr<const Fronts> fronts;
    bool by_nested_dissection = false;
    double multiplications = 0.0;
    std::vector<int> value_of;  ///< per column: its place in SparseProblem::values()
};

/// The factor at one point, with what the data leave open there.
struct Factored {
    std::shared_ptr<FrontFactor> factor;
    std::optional<OpenDirections> open;
    std::vector<double> diagonal;  ///< of N, per column
};

/// Refuses nothing: an open direction is an answer. `normal` has its matrix.
void factorise(const SparseProblem& problem, const Elimination& elimination,
               const SparseNormal& normal, double tolerance, Factored& out);

}  // namespace layproof::adjust::internal

namespace layproof::adjust {

struct SparseSolver::Data {
    Data(SparseProblem& given, const SparseOptions& chosen)
        : problem(given), options(chosen), elimination(given, chosen.order) {}

    SparseProblem& problem;
    SparseOptions options;
    internal::Elimination elimination;
    internal::Factored factored;
    // Where the factor was made: reused by analyse() if nothing has changed since.
    std::vector<double> values_at_factor;
    std::int64_t revision_at_factor = -1;
};

}  // namespace layproof::adjust
