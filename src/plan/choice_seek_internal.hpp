#pragma once
// The search for good answers: greedy choice, then exchanges of one place at a time.
//
// Each step gives up the place whose points are most proven by others too and takes the place that
// adds most in its stead; what was just given up or taken stays so for some steps (tabu search;
// Glover, "Tabu search, part I", ORSA J. Comput. 1, 1989), and after a long time without success
// some places are drawn anew. What every candidate would add is kept up to date with each step.

#include <cstdint>

#include "base/random.hpp"
#include "plan/choice_reduced_internal.hpp"

namespace layproof::plan::internal {

using Picks = std::vector<std::uint32_t>;

/// Fewest first: the candidate that adds most, first one on a tie, until `needed` are proven.
Picks greedy(const Reduced& reduced, std::size_t needed);

/// As many picks as given, from them onward, that prove as many points as `steps` steps bring
/// about; ends early at `enough`.
Picks exchange(const Reduced& reduced, const Picks& start, std::size_t enough, int steps,
               Random& random);

/// Without the pick that is missed least.
Picks without_one(const Reduced& reduced, const Picks& picks);

std::size_t proven_by(const Reduced& reduced, const Picks& picks);

}  // namespace layproof::plan::internal
