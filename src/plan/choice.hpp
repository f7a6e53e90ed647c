#pragma once
// The fewest set-ups that prove a wanted number of points, with a bound on how few could ever do.
//
// A partial cover: places with sets of points, the fewest places whose union holds at least
// `needed` points. What cannot be in a best answer is left out first (places whose points another
// place proves too). An answer comes from greedy choice and a search that exchanges one place at a
// time; it is never worse than greedy choice.
//
// Bound: with k places and any v in [0, 1]^points, no choice proves more than
//     U_k(v) = Σ_i (1 − v_i) + (the k largest Σ_{i in place} v_i),
// as a proven point counts at most 1 ≤ (1 − v_i) + Σ_{places with i} v_i (Lagrangian relaxation of
// the maximum coverage, whose best v gives the linear programme's value; e.g. Caprara, Fischetti,
// Toth, "A heuristic method for the set covering problem", Oper. Res. 47, 1999, for the cover). So
// U_k(v) < needed proves that k places are too few; v is sought by projected subgradients. Where
// that leaves a gap, a search over all choices, pruned by the same bound, closes it if its
// allowance of steps lasts. Every stated bound is such a proof; none depends on the search ending.
//
// Degenerate: nothing needed gives no place; more needed than all places together prove gives the
// fewest that prove all that can be proven (is_reachable false, needed lowered to it).

#include <Eigen/Core>
#include <cstdint>
#include <span>
#include <vector>

namespace layproof::plan {

/// Sets of points as bits, `words` × 64 for each place.
struct CoverProblem {
    std::size_t words = 0;
    std::span<const std::uint64_t> bits;
    std::size_t needed = 0;  ///< points

    std::size_t places() const { return words == 0 ? 0 : bits.size() / words; }
};

/// How much work may be done. Counts, not seconds, so that the answer is the same everywhere.
struct Effort {
    int exchange_rounds = 40;  ///< restarts of the exchange search
    int bound_steps = 500;     ///< subgradients for each number of places
    /// Nodes of the search over all choices, with a hundred candidates; fewer with more.
    int search_steps = 20'000;
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

Choice choose_places(const CoverProblem& problem, const Effort& effort = {});

/// Which place, of those allowed, adds most to the union of the others; −1: none adds anything.
std::int64_t best_addition(const CoverProblem& problem, std::span<const std::size_t> others,
                           const std::vector<bool>& allowed);

/// Points in the union.
std::size_t proven_by(const CoverProblem& problem, std::span<const std::size_t> places);

/// An order with a short walk from the first to the last, free at both ends: shortest up to ten
/// places, near it above.
std::vector<std::size_t> short_walk(const std::vector<Eigen::Vector2d>& places_m);

}  // namespace layproof::plan
