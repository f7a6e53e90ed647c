#pragma once
// Puts explanations that the data cannot split into one entry.
//
// The rule is that of infer/grouping.hpp. An entry is either several causes at the same subject
// (causes without a subject may join) or one cause at several subjects, so that "A|B at X" and
// "A at X, Y" say exactly what is meant. "Nothing wrong" and pairs are never grouped.

#include <vector>

#include "cause/diagnose.hpp"

namespace layproof::cause {

/// `explanations` in any order; the entries come most probable first and hold each once.
std::vector<Entry> group(std::vector<Explanation> explanations);

}  // namespace layproof::cause
