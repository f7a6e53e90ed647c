#pragma once
// Two changes at once, where single changes with one size each are weighed by the hundred and every
// microsecond counts: the search of change_sets.hpp kept to sets of two, in fixed small sizes.
//
// First of a pair is one of the seeds: the most probable single changes and those that explain
// most. Second is every other one, given the first (linear_evidence.hpp). A pair both of whose
// members do little alone is not found.

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

#include "infer/linear_evidence.hpp"

namespace layproof::infer {

/// One change with one of its sizes.
template <int N>
struct Single {
    int candidate = 0;  ///< those of one candidate stand in a row
    Amounts<N> sd;
    AmountFit<N> fit;
};

/// The first `by_weight` by weight and then the first `by_evidence` by evidence, none twice; of
/// equals the one that stands first.
std::vector<std::size_t> choose_seeds(std::span<const double> log_weights,
                                      std::span<const double> log_evidences, std::size_t by_weight,
                                      std::size_t by_evidence);

/// Calls `found(a, b, second, between)` for every seed a and every single b of another candidate,
/// each pair once: `second` is what b adds to a, so that ln BF of the pair is a's plus second's.
/// `data(candidate)`: its ColumnData<N>; `between(b, a)`: B_bᵀMB_a of two candidates;
/// `together(a, b)`: may two candidates both hold?
template <int N, class Data, class Between, class Together, class Found>
void for_pairs(std::span<const Single<N>> singles, std::span<const std::size_t> seeds, Data&& data,
               Between&& between, Together&& together, Found&& found) {
    constexpr std::size_t kNoSeed = static_cast<std::size_t>(-1);
    std::vector<std::size_t> rank(singles.size(), kNoSeed);
    for (std::size_t k = 0; k < seeds.size(); ++k) rank[seeds[k]] = k;
    for (std::size_t k = 0; k < seeds.size(); ++k) {
        const Single<N>& a = singles[seeds[k]];
        std::size_t next = 0;
        for (std::size_t i = 0; i < singles.size(); i = next) {
            const int b = singles[i].candidate;
            next = i + 1;
            while (next < singles.size() && singles[next].candidate == b) ++next;
            if (b == a.candidate || !together(a.candidate, b)) continue;
            const AmountMatrix<N> cross = between(b, a.candidate);
            const ColumnData<N> left = given<N>(data(b), cross, a.fit);
            for (std::size_t at = i; at < next; ++at) {
                if (rank[at] != kNoSeed && rank[at] < k) continue;
                found(seeds[k], at, fit_mean(left, singles[at].sd), cross);
            }
        }
    }
}

}  // namespace layproof::infer
