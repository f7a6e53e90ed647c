#pragma once
// Causes as a crew reads them.

#include <string>
#include <utility>
#include <vector>

#include "cause/diagnose.hpp"
#include "cause/next_sight.hpp"
#include "cause/traps.hpp"
#include "measure/length.hpp"
#include "station/prepared.hpp"

namespace layproof::acts::internal {

/// "mark-moved", or "mark-moved|rod-not-plumb" when the data cannot split them; of a pair (both at
/// once) the leading member's word.
std::string cause_word(const cause::Entry& entry);
/// Every subject once, in the order of the members; of a pair the leading member's.
std::vector<std::string> subjects_of(const cause::Entry& entry);

/// "H3 is 5/8 in north-east of its sheet position, or the rod leaned there"
std::string cause_clause(const cause::Entry& entry, const station::Prepared& setup,
                         const measure::LengthStyle& style);

/// What puts it right, as a sentence without a full stop; empty for nothing-wrong.
std::string remedy(const cause::Entry& entry, const station::Prepared& setup,
                   const measure::LengthStyle& style);

/// "sight H3 again with the rod on a bipod"
std::string sight_phrase(const cause::NextSight& next);

/// Amounts by name with unit, for JSON: east_mm, north_mm, height_mm, …
std::vector<std::pair<std::string, double>> estimate_list(const cause::Explanation& explanation,
                                                          const station::Prepared& setup);

std::string trap_sentence(const cause::Trap& trap, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
