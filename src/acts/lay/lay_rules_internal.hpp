#pragma once
// Figures between laid points that their elements ask for.

#include <vector>

#include "acts/lay/lay.hpp"

namespace layproof::acts::internal {

/// Of answer.laid; `notices` says which rules could not be looked at.
std::vector<RuleReport> rules_of(const LayAnswer& answer, const lay::SetupSet& setups,
                                 const lay::ToleranceTable& table,
                                 std::vector<std::string>& notices);

}  // namespace layproof::acts::internal
