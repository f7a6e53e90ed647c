#pragma once
// Puts explanations that the data cannot split into one entry.
//
// Two explanations stay apart only if the data themselves prefer one: when the mean likelihoods
// differ by less than 3.2 to 1, which Jeffreys (Theory of Probability, 3rd ed. 1961, app. B) calls
// not worth more than a bare mention, only the table's frequencies speak and the two are one entry.
// An entry has at most three members, and is either several causes at the same subject (causes
// without a subject may join) or one cause at several subjects, so that "A|B at X" and "A at X, Y"
// say exactly what is meant. Members below a twentieth of the leading one are not worth naming and
// stay out. "Nothing wrong" and pairs are never grouped.

#include <vector>

#include "cause/diagnose.hpp"

namespace layproof::cause {

inline constexpr double kSplitEvidence = 1.1631508098056809;  ///< ln 3.2
inline constexpr int kMostMembers = 3;

/// `explanations` in any order; the entries come most probable first and hold each once.
std::vector<Entry> group(std::vector<Explanation> explanations);

}  // namespace layproof::cause
