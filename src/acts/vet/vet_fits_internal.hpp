#pragma once
// Each further list of a vetting laid on the first, and what the scale between them may be.

#include "acts/vet/vet.hpp"

namespace layproof::acts::internal {

/// Fills VetAnswer::fits and grid_lines. Lists of fewer than two marks in common with the first are
/// passed over.
Result<Done> fit_lists(const VetRequest& request, const network::Evidence& evidence,
                       const std::optional<exchange::SiteFrame>& site, VetAnswer& answer);

}  // namespace layproof::acts::internal
