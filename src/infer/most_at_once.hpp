#pragma once
// How many changes at once are weighed, for all who weigh them.

namespace layproof::infer {

/// In a search over sets (change_sets.hpp), as for a whole job. More than five cannot be told apart
/// by what few data check each other, and the search grows with each.
inline constexpr int kMostAtOnce = 5;
/// Where single changes are tried in pairs (pairs.hpp): a problem of a dozen data points that is
/// asked thousands of times.
inline constexpr int kMostAtOnceInPairs = 2;

}  // namespace layproof::infer
