#pragma once
// The act "prove" for those who have looked at the days of the stations already.

#include <cstddef>
#include <functional>
#include <string>

#include "acts/prove/prove.hpp"
#include "acts/watch/watch.hpp"

namespace layproof::acts::internal {

/// The day of a set-up of this number, as lay_with_days has it for the same facts; nothing when it
/// is not known. Called from several threads.
using DayOf = std::function<const WatchStation*(std::size_t setup, const std::string& station)>;

/// run_prove; a day that is given is not computed again.
Result<ProveAnswer> prove_with_days(const ProveRequest& request, const DayOf& day_of);

}  // namespace layproof::acts::internal
