#include "adjust/rejection.hpp"

#include <cstddef>
#include <vector>

#include "adjust/tests.hpp"

namespace layproof::adjust {
namespace {

using CriticalValues = std::vector<double>;  // by dimension

RejectionCandidate worst_block(const SparseProblem& problem, const SparseAnalysis& analysis,
                               const CriticalValues& critical,
                               const std::vector<std::vector<char>>& is_kept) {
    RejectionCandidate out;
    for (std::size_t n = 0; n < problem.batches().size(); ++n) {
        const auto& batch = problem.batches()[n];
        for (int i = 0; i < batch.count; ++i) {
            const auto index = static_cast<std::size_t>(i);
            if (batch.weights[index] == 0.0 || is_kept[n][index]) continue;
            const ObservationId id{static_cast<int>(n), i};
            const auto test = analysis.block_test(id);
            if (test.dimension == 0) continue;
            const double quotient =
                test.statistic / critical[static_cast<std::size_t>(test.dimension)];
            if (quotient <= out.quotient) continue;
            out.block = id;
            out.statistic = test.statistic;
            out.dimension = test.dimension;
            out.quotient = quotient;
        }
    }
    return out;
}

}  // namespace

// The noncentral probability rises with k: bisection to the last bits.
double equal_power_critical_value(double significance, double power, int dimension) {
    const double lambda = noncentrality(significance, power, 1);
    double low = 0.0;
    double high = lambda + dimension + 10.0;
    while (chi_square_noncentral_probability(high, dimension, lambda) < 1.0 - power) high *= 2.0;
    for (int i = 0; i < 100; ++i) {
        const double middle = 0.5 * (low + high);
        (chi_square_noncentral_probability(middle, dimension, lambda) < 1.0 - power ? low : high) =
            middle;
    }
    return 0.5 * (low + high);
}

RejectionSummary reject_stepwise(
    SparseProblem& problem, SparseSolver& solver, const RejectionOptions& options,
    const std::function<RejectionDecision(const RejectionCandidate&)>& decide) {
    CriticalValues critical(1, 0.0);
    for (int q = 1; q <= SparseProblem::kMaxRows; ++q)
        critical.push_back(equal_power_critical_value(options.significance, options.power, q));
    std::vector<std::vector<char>> is_kept;
    for (const auto& batch : problem.batches())
        is_kept.emplace_back(static_cast<std::size_t>(batch.count), char{0});

    RejectionSummary out;
    out.solution = solver.solve();
    if (out.solution.status != SolveStatus::converged) return out;
    out.analysis = solver.analyse();
    while (static_cast<int>(out.left_out.size()) < options.most) {
        RejectionCandidate candidate = worst_block(problem, *out.analysis, critical, is_kept);
        if (!(candidate.quotient > 1.0)) break;
        candidate.probability =
            1.0 - chi_square_probability(candidate.statistic, candidate.dimension);
        candidate.summary = &out.solution;
        candidate.analysis = &*out.analysis;
        const RejectionDecision decision = decide(candidate);
        if (decision == RejectionDecision::stop) break;
        const auto batch = static_cast<std::size_t>(candidate.block.batch);
        const auto index = static_cast<std::size_t>(candidate.block.index);
        const double weight = problem.weight(candidate.block);
        const std::vector<double> values = problem.values();
        if (decision == RejectionDecision::leave_out) {
            problem.set_weight(candidate.block, 0.0);
            const SparseSummary without = solver.solve();
            if (without.status == SolveStatus::converged && without.defect == out.solution.defect) {
                out.left_out.push_back(candidate.block);
                out.solution = without;
                out.analysis = solver.analyse();
                continue;
            }
            // It alone determines something: the answer without it would be no answer.
            problem.set_weight(candidate.block, weight);
            problem.values() = values;
        }
        is_kept[batch][index] = 1;
        out.kept.push_back(candidate.block);
    }
    return out;
}

}  // namespace layproof::adjust
