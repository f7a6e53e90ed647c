#include "adjust/variance_components.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

#include "adjust/sparse_weights_internal.hpp"

namespace layproof::adjust {
namespace {

// A factor may not change by more than this in one round: far from the solution it overshoots.
constexpr double kLargestChange = 100.0;

bool fits(const SparseProblem& problem, const std::vector<std::vector<int>>& group_of,
          int& groups) {
    if (group_of.size() != problem.batches().size()) return false;
    for (std::size_t n = 0; n < group_of.size(); ++n) {
        if (group_of[n].size() != static_cast<std::size_t>(problem.batches()[n].count))
            return false;
        for (const int group : group_of[n]) {
            if (group < -1) return false;
            groups = std::max(groups, group + 1);
        }
    }
    return true;
}

struct GroupSums {
    double square = 0.0;
    double redundancy = 0.0;
};

std::vector<GroupSums> sum_groups(const SparseProblem& problem, const SparseAnalysis& analysis,
                                  const std::vector<std::vector<int>>& group_of, int groups) {
    std::vector<GroupSums> out(static_cast<std::size_t>(groups));
    for (std::size_t n = 0; n < group_of.size(); ++n) {
        const auto& batch = problem.batches()[n];
        const auto residual = analysis.residual(static_cast<int>(n));
        const auto redundancy = analysis.redundancy(static_cast<int>(n));
        for (int i = 0; i < batch.count; ++i) {
            const int group = group_of[n][static_cast<std::size_t>(i)];
            const double weight = batch.weights[static_cast<std::size_t>(i)];
            if (group < 0 || weight == 0.0) continue;
            GroupSums& own = out[static_cast<std::size_t>(group)];
            const auto first = static_cast<std::size_t>(i * batch.rows);
            own.square += weight * internal::whitened_square(batch, i, residual.data() + first);
            for (int k = 0; k < batch.rows; ++k)
                own.redundancy += redundancy[first + static_cast<std::size_t>(k)];
        }
    }
    return out;
}

}  // namespace

VarianceComponents estimate_variance_components(SparseProblem& problem, SparseSolver& solver,
                                                const std::vector<std::vector<int>>& group_of,
                                                const std::vector<VariancePrior>& priors,
                                                const VarianceOptions& options) {
    VarianceComponents out;
    int groups = static_cast<int>(priors.size());
    if (!fits(problem, group_of, groups)) return out;
    if (!priors.empty() && static_cast<int>(priors.size()) != groups) return out;
    const internal::KeptWeights base(problem);
    out.groups.resize(static_cast<std::size_t>(groups));
    for (int round = 0; round < options.max_rounds; ++round) {
        out.status = solver.solve().status;
        if (out.status != SolveStatus::converged) {
            base.restore(problem);
            out.groups.clear();
            return out;
        }
        const std::vector<GroupSums> sums = sum_groups(problem, solver.analyse(), group_of, groups);
        if (out.is_settled) return out;
        std::vector<double> changes;
        double largest = 0.0;
        for (std::size_t g = 0; g < out.groups.size(); ++g) {
            VarianceComponent& own = out.groups[g];
            const VariancePrior prior = priors.empty() ? VariancePrior{} : priors[g];
            const double degrees = prior.degrees + sums[g].redundancy;
            own.redundancy = sums[g].redundancy;
            own.relative_sd =
                degrees > 0.0 ? std::sqrt(2.0 / degrees) : std::numeric_limits<double>::infinity();
            double next = own.factor;
            if (degrees >= options.least_degrees)
                next = (prior.degrees * prior.factor + own.factor * sums[g].square) / degrees;
            next = std::clamp(next, own.factor / kLargestChange, own.factor * kLargestChange);
            changes.push_back(next / own.factor);
            largest = std::max(largest, std::abs(changes.back() - 1.0));
            own.factor = next;
        }
        out.rounds.push_back(changes);
        for (std::size_t n = 0; n < group_of.size(); ++n) {
            for (std::size_t i = 0; i < group_of[n].size(); ++i) {
                const int group = group_of[n][i];
                if (group < 0) continue;
                problem.set_weight({static_cast<int>(n), static_cast<int>(i)},
                                   base.weight(n, static_cast<int>(i)) /
                                       out.groups[static_cast<std::size_t>(group)].factor);
            }
        }
        out.is_settled = largest <= options.tolerance;
    }
    out.status = solver.solve().status;
    return out;
}

}  // namespace layproof::adjust
