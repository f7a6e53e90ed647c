#pragma once
// Observation blocks that contradict all others, one after another.
//
// After each block that leaves, everything is solved and tested anew. The candidate is the block
// with the largest T/k_q, T its test (analysis: block_test), q its dimension and k_q the critical
// value at which an error of the noncentrality λ0 is found with the same power whatever q is
// (B-method, Baarda 1968; test quotient after de Heus et al. 1994, from memory). λ0 follows from
// the significance of one dimension and the power: 17.0746 for 0.001 and 0.80, k
// = 10.828, 11.730, 12.633.

#include <functional>
#include <optional>
#include <vector>

#include "adjust/sparse_solve.hpp"

namespace layproof::adjust {

struct RejectionOptions {
    double significance = 0.001;  ///< of a one-dimensional test
    double power = 0.80;
    int most = 1000;  ///< blocks that may leave
};

struct RejectionCandidate {
    ObservationId block;
    double statistic = 0.0;
    int dimension = 0;
    double quotient = 0.0;                   ///< T/k_q, above 1
    double probability = 0.0;                ///< of a test as large by chance: 1 − F_χ²(T; q)
    const SparseSummary* summary = nullptr;  ///< of the solution with the block still in
    const SparseAnalysis* analysis = nullptr;
};

enum class RejectionDecision {
    leave_out,
    keep,  ///< the block stays and is not proposed again
    stop,
};

struct RejectionSummary {
    SparseSummary solution;  ///< without the blocks that left
    std::optional<SparseAnalysis> analysis;
    std::vector<ObservationId> left_out;  ///< in their order; their weight is now zero
    std::vector<ObservationId> kept;  ///< contradicting, and kept: by decision, or because the rest
                                      ///< would not be determined without them
};

/// k_q for the given significance of one dimension and power.
double equal_power_critical_value(double significance, double power, int dimension);

/// Solves first. If that does not converge, the summary has no analysis and nothing left.
RejectionSummary reject_stepwise(
    SparseProblem& problem, SparseSolver& solver, const RejectionOptions& options,
    const std::function<RejectionDecision(const RejectionCandidate&)>& decide);

}  // namespace layproof::adjust
