#include "plan/choice.hpp"

#include <algorithm>
#include <bit>
#include <numeric>

#include "plan/choice_bound_internal.hpp"
#include "plan/choice_branch_internal.hpp"
#include "plan/choice_reduced_internal.hpp"
#include "plan/choice_seek_internal.hpp"

namespace layproof::plan {
namespace {

using internal::Part;
using internal::Picks;
using internal::Reduced;

/// What is easily seen to be too few is seen with a small part of the steps.
constexpr int kFirstSteps = 5;
/// The step length falls slowly where everything else hangs on it.
constexpr double kRootKeep = 0.85;

/// Fewer and fewer, until it does not succeed any more or there are `at_least`.
Picks few_places(const Reduced& reduced, const Picks& greedy, std::size_t at_least,
                 std::size_t needed, int steps) {
    Random random(1);
    Picks best = greedy;
    while (best.size() > at_least) {
        Picks fewer = internal::exchange(reduced, internal::without_one(reduced, best), needed,
                                         steps, random);
        if (internal::proven_by(reduced, fewer) < needed) break;
        best = std::move(fewer);
    }
    return best;
}

/// As many points as so many places can give.
Picks most_points(const Reduced& reduced, const Picks& picks, int steps) {
    Random random(2);
    return internal::exchange(reduced, picks, reduced.coverable, steps, random);
}

/// Raises the number of places that is proven too few, one at a time.
class Certificate {
public:
    Certificate(const Reduced& reduced, std::size_t needed, const Effort& effort)
        : reduced_(reduced),
          needed_(needed),
          effort_(effort),
          v_(reduced.point_count(), 0.5F),
          all_(reduced.size()) {
        std::iota(all_.begin(), all_.end(), 0U);
    }

    std::size_t at_least() const { return at_least_; }

    /// By the bound alone, as far as it goes with so many steps for each number, up to `best`.
    void raise(std::size_t best, int steps) {
        std::int64_t work = 0;
        while (at_least_ < best) {
            open_ = internal::part_of(reduced_, {}, all_, at_least_, needed_, v_);
            const bool is_too_few = internal::is_too_few(open_, {steps, kRootKeep}, work);
            for (std::size_t i = 0; i < open_.points.size(); ++i)
                v_[open_.points[i]] = static_cast<float>(open_.v[i]);
            if (!is_too_few) break;
            ++at_least_;
        }
    }

    /// By trying all where the bound stops, up to `best`; a better answer if one is met.
    Picks raise_by_trying(std::size_t best, Workers* workers) {
        std::int64_t work = effort_.branch_work;
        while (at_least_ < best && work > 0) {
            auto outcome = internal::try_all(reduced_, open_, at_least_, needed_, workers, work);
            if (outcome.kind == internal::BranchOutcome::Kind::found) return outcome.found;
            if (outcome.kind == internal::BranchOutcome::Kind::gave_up) break;
            ++at_least_;
            raise(best, effort_.bound_steps);
        }
        return {};
    }

private:
    const Reduced& reduced_;
    std::size_t needed_;
    const Effort& effort_;
    std::vector<float> v_;
    std::vector<std::uint32_t> all_;
    std::size_t at_least_ = 1;
    Part open_;
};

}  // namespace

std::size_t proven_by(const CoverProblem& problem, std::span<const std::size_t> places) {
    std::vector<std::uint64_t> all(problem.words, 0);
    for (const std::size_t p : places)
        for (std::size_t w = 0; w < problem.words; ++w) all[w] |= problem.row(p)[w];
    std::size_t out = 0;
    for (const std::uint64_t w : all) out += static_cast<std::size_t>(std::popcount(w));
    return out;
}

std::int64_t best_addition(const CoverProblem& problem, std::span<const std::size_t> others,
                           const std::vector<bool>& allowed) {
    std::vector<std::uint64_t> open(problem.words, ~std::uint64_t{0});
    for (const std::size_t p : others)
        for (std::size_t w = 0; w < problem.words; ++w) open[w] &= ~problem.row(p)[w];
    std::int64_t best = -1;
    std::size_t most = 0;
    for (std::size_t p = 0; p < problem.places(); ++p) {
        if (!allowed.empty() && !allowed[p]) continue;
        std::size_t gain = 0;
        for (std::size_t w = 0; w < problem.words; ++w)
            gain += static_cast<std::size_t>(std::popcount(problem.row(p)[w] & open[w]));
        if (gain > most) {
            most = gain;
            best = static_cast<std::int64_t>(p);
        }
    }
    return best;
}

Choice choose_places(const CoverProblem& problem, const Effort& effort, Workers* workers) {
    Choice out;
    const Reduced reduced = internal::reduce(problem);
    out.candidates = reduced.size();
    out.is_reachable = reduced.coverable >= problem.needed;
    out.needed = std::min(problem.needed, reduced.coverable);
    if (out.needed == 0) return out;

    const Picks greedy = internal::greedy(reduced, out.needed);
    out.greedy = greedy.size();
    Certificate certificate(reduced, out.needed, effort);
    certificate.raise(greedy.size(), effort.bound_steps / kFirstSteps);
    // From here the answer and its bound do not need each other.
    const std::size_t at_least = certificate.at_least();
    Picks best;
    each(workers, 2, [&](std::size_t which) {
        if (which == 1) {
            certificate.raise(greedy.size(), effort.bound_steps);
            return;
        }
        const Picks few = few_places(reduced, greedy, at_least, out.needed, effort.exchange_steps);
        best = most_points(reduced, few, effort.exchange_steps / 2);
    });
    if (const Picks better = certificate.raise_by_trying(best.size(), workers); !better.empty())
        best = most_points(reduced, better, effort.exchange_steps / 2);
    out.at_least = std::min(certificate.at_least(), best.size());
    for (const std::uint32_t c : best) out.places.push_back(reduced.original[c]);
    out.proven = proven_by(problem, out.places);
    return out;
}

}  // namespace layproof::plan
