#pragma once
// The fewest set-ups that prove a wanted number of points, with a bound on how few could ever do.
//
// A partial cover: places with sets of points, the fewest places whose union holds at least
// `needed` points. What cannot be in a best answer is left out first (choice_reduced_internal.hpp).
// An answer comes from greedy choice and exchanges of one place at a time
// (choice_seek_internal.hpp); it is never worse than greedy choice. Beside it a bound says how many
// places are too few (choice_bound_internal.hpp), and where that leaves a gap, all choices are
// tried, cut off by the same bound (choice_branch_internal.hpp), as long as the allowance lasts.
// Every stated bound is a proof; none depends on a search having ended.
//
// Degenerate: nothing needed gives no place; more needed than all places together prove gives the
// fewest that prove all that can be proven (is_reachable false, needed lowered to it).

#include <Eigen/Core>
#include <cstdint>
#include <span>
#include <vector>

#include "base/parallel.hpp"

namespace layproof::plan {

/// Sets of points as bits, `words` × 64 for each place.
struct CoverProblem {
    std::size_t words = 0;
    std::span<const std::uint64_t> bits;
    std::size_t needed = 0;  ///< points

    std::size_t places() const { return words == 0 ? 0 : bits.size() / words; }
    std::span<const std::uint64_t> row(std::size_t place) const {
        return bits.subspan(place * words, words);
    }
};

/// How much work may be done. Counts, not seconds, so that the answer is the same everywhere.
struct Effort {
    int exchange_steps = 6'000;  ///< exchanges for each number of places
    int bound_steps = 1'200;     ///< subgradients for each number of places
    /// Numbers that trying all choices may read, some 1 to 2 ns each.
    std::int64_t branch_work = 700'000'000;
};

struct Choice {
    std::vector<std::size_t> places;  ///< in the order in which they were found to help
    std::size_t proven = 0;           ///< points in their union
    std::size_t needed = 0;
    bool is_reachable = true;
    std::size_t at_least = 0;    ///< no fewer places can do it
    std::size_t greedy = 0;      ///< how many greedy choice would take
    std::size_t candidates = 0;  ///< places left after the reductions
    bool is_best() const { return places.size() == at_least; }
};

/// The answer does not depend on who does the work; null: this thread.
Choice choose_places(const CoverProblem& problem, const Effort& effort = {},
                     Workers* workers = nullptr);

/// Which place, of those allowed, adds most to the union of the others; −1: none adds anything.
std::int64_t best_addition(const CoverProblem& problem, std::span<const std::size_t> others,
                           const std::vector<bool>& allowed);

/// Points in the union.
std::size_t proven_by(const CoverProblem& problem, std::span<const std::size_t> places);

/// An order with a short walk from the first to the last, free at both ends: shortest up to ten
/// places, near it above.
std::vector<std::size_t> short_walk(const std::vector<Eigen::Vector2d>& places_m);

}  // namespace layproof::plan
