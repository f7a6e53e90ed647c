#pragma once
// What each trap would show with the evidence at hand.

#include <optional>
#include <vector>

#include "vet/explain_internal.hpp"
#include "vet/vet.hpp"

namespace layproof::vet::internal {

/// One for each trap of the catalogue, probabilities left open; nothing when the workers were told
/// to end.
std::optional<std::vector<TrapView>> views_of(const Gathered& all, const Explained& explained,
                                              Workers* workers);

}  // namespace layproof::vet::internal
