#pragma once
// How many points so many places could prove at most.
//
// With k places and any v in [0, 1]^points, no choice proves more than
//     U_k(v) = Σ_i (1 − v_i) + (the k largest Σ_{i in place} v_i),
// as a proven point counts at most 1 ≤ (1 − v_i) + Σ_{places with i} v_i (Lagrangian relaxation of
// the maximum coverage, whose best v gives the linear programme's value; e.g. Caprara, Fischetti,
// Toth, "A heuristic method for the set covering problem", Oper. Res. 47, 1999, for the cover).
// Three things follow for any v: U_k < needed proves k places too few; a candidate with which
// U_k < needed is in no sufficient choice and is left out from there on; so is a point that no
// candidate is left for. v is sought by deflected subgradients with some promising candidates,
// and judged with all of them.

#include <cstdint>
#include <span>

#include "plan/choice_reduced_internal.hpp"

namespace layproof::plan::internal {

/// Kept away from a tie, so that rounding proves nothing.
inline constexpr double kProofSlack = 1e-6;

/// What is still to be decided: candidates that may be chosen and points not proven yet.
struct Part {
    std::size_t needed = 0;                 ///< points, those proven already left off
    std::size_t places = 0;                 ///< that may still be chosen
    std::vector<std::uint32_t> candidates;  ///< into Reduced
    std::vector<std::uint32_t> points;      ///< into Reduced; each has a candidate
    NumberLists lists;                      ///< of each candidate, into `points`
    std::vector<double> v;                  ///< of each point
    double most = 0.0;                      ///< U(v); no choice proves more

    std::size_t size() const { return candidates.size(); }
};

/// The problem when `picks` are chosen and only `candidates` may follow, `places` in all.
/// `v`: for each point of `reduced`.
Part part_of(const Reduced& reduced, std::span<const std::uint32_t> picks,
             const std::vector<std::uint32_t>& candidates, std::size_t places, std::size_t needed,
             const std::vector<float>& v);

/// Σ v over each candidate's points.
std::vector<double> worth_of(const Part& part, const std::vector<double>& v);

/// How patiently v is sought.
struct Patience {
    int steps = 0;      ///< subgradients
    double keep = 0.6;  ///< share of the step length left after a block of them without success
};

/// Lowers part.most by better v and leaves out what cannot be chosen. True: proven too few.
/// `work` grows by the numbers read.
bool is_too_few(Part& part, const Patience& patience, std::int64_t& work);

}  // namespace layproof::plan::internal
