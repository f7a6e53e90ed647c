#pragma once
// Rows and patterns for evidence_internal.hpp.

#include <vector>

#include "watch/evidence_internal.hpp"

namespace layproof::watch::internal {

std::vector<Observation> make_observations(const Day& day, const Timeline& timeline);

std::vector<Pattern> make_patterns(const Day& day, const WatchOptions& options,
                                   const Timeline& timeline,
                                   const std::vector<Observation>& observations,
                                   const std::vector<int>& first_row, int rows);

}  // namespace layproof::watch::internal
