#include "adjust/robust.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "adjust/sparse_weights_internal.hpp"

namespace layproof::adjust {
namespace {

// Below this share of its rows a block's redundancy no longer widens its misfit: it would be noise.
constexpr double kLeastRedundancy = 0.1;

double huber(double s, const RobustOptions& options) {
    return s <= options.k0 ? 1.0 : std::max(options.k0 / s, options.floor);
}

double falling(double s, const RobustOptions& options) {
    if (s <= options.k0) return 1.0;
    if (s >= options.k1) return options.floor;
    const double share = (options.k1 - s) / (options.k1 - options.k0);
    return std::max(options.k0 / s * share * share, options.floor);
}

}  // namespace

RobustSummary solve_robustly(SparseProblem& problem, SparseSolver& solver,
                             const RobustOptions& options) {
    RobustSummary out;
    const internal::KeptWeights kept(problem);
    out.weights = kept.weights();
    for (auto& batch : out.weights) {
        for (double& weight : batch) weight = weight > 0.0 ? 1.0 : 0.0;
    }
    out.status = solver.solve().status;
    if (out.status != SolveStatus::converged) return out;

    std::vector<double> good = problem.values();
    for (const bool is_falling : {false, true}) {
        out.is_settled = false;
        for (int round = 0; round < options.max_rounds && !out.is_settled; ++round) {
            ++out.rounds;
            double change = 0.0;
            const SparseAnalysis analysis = solver.analyse();
            for (std::size_t n = 0; n < problem.batches().size(); ++n) {
                const auto& batch = problem.batches()[n];
                const auto redundancy = analysis.redundancy(static_cast<int>(n));
                const auto residual = analysis.residual(static_cast<int>(n));
                for (int i = 0; i < batch.count; ++i) {
                    double& weight = out.weights[n][static_cast<std::size_t>(i)];
                    if (weight == 0.0) continue;
                    const auto first = static_cast<std::size_t>(i * batch.rows);
                    double r = 0.0;
                    for (int k = 0; k < batch.rows; ++k)
                        r += redundancy[first + static_cast<std::size_t>(k)];
                    // Redundancy belongs to the weights in use; a down-weighted block is nearly all
                    // misfit, which is what it should be judged by.
                    const double least = kLeastRedundancy * batch.rows;
                    const double s =
                        std::sqrt(kept.weight(n, i) *
                                  internal::whitened_square(batch, i, residual.data() + first) /
                                  std::max(r, least));
                    const double next = is_falling ? falling(s, options) : huber(s, options);
                    change = std::max(change, std::abs(next - weight));
                    weight = next;
                    problem.set_weight({static_cast<int>(n), i}, kept.weight(n, i) * next);
                }
            }
            out.is_settled = change <= options.tolerance;
            if (out.is_settled) break;
            out.status = solver.solve().status;
            if (out.status != SolveStatus::converged) {
                problem.values() = good;
                kept.restore(problem);
                return out;
            }
            good = problem.values();
        }
    }
    kept.restore(problem);
    return out;
}

}  // namespace layproof::adjust
