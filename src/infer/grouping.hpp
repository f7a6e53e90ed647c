#pragma once
// Puts explanations that the data cannot tell apart into one entry.
//
// Two explanations stay apart only if the data themselves prefer one: when the mean likelihoods
// differ by less than 3.2 to 1, which Jeffreys (Theory of Probability, 3rd ed. 1961, app. B) calls
// not worth more than a bare mention, only the prior frequencies speak and the two are one entry.
// That holds for every two members of an entry. An entry has at most three members, and its members
// have something in common, so that its words say exactly what is meant: one of several `ways`,
// such as "several causes at one subject" or "one cause at several subjects"; of the ways that a
// leading explanation can be joined, the one that gathers most probability is taken. A member below
// a twentieth of the leading one is not worth naming and stays out.

#include <functional>
#include <span>
#include <vector>

namespace layproof::infer {

inline constexpr double kSplitEvidence = 1.1631508098056809;  ///< ln 3.2
inline constexpr int kMostMembers = 3;
/// Share of the leading member's probability (no source).
inline constexpr double kWorthNaming = 0.05;

struct Nameable {
    double probability = 0.0;
    double log_evidence = 0.0;
    bool may_lead = true;  ///< may gather others
    bool may_join = true;  ///< may be gathered
};

/// May `other` be put to `members` (the leading one first) in this way?
using Joins = std::function<bool(int way, const std::vector<int>& members, int other)>;
/// Do two leave the same trace in the data whatever the amounts? Then they are one entry however
/// their usual sizes weigh.
using SameTrace = std::function<bool(int a, int b)>;

/// Entries as indices into `list` (any order), most probable first, members likewise; each
/// explanation is in one entry.
std::vector<std::vector<int>> group_alike(std::span<const Nameable> list, int ways,
                                          const Joins& joins, const SameTrace& same_trace = {});

}  // namespace layproof::infer
