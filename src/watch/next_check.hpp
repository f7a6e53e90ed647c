#pragma once
// When the next check is due: check_every_s after the last good one, or sooner if drift and the
// risk of a bump would take the least tolerant point's probability below the confidence.
//
// Model: the pose as of the last check, its mean taken off (the crew works from what is known
// then), wandering on; a bump by odds rate × time + floor. With P₀(t) and P₁(t) the probability of
// a point laid at t without and with a bump, P(t) = (P₀ + o P₁)/(1 + o); it only falls, and the
// moment it passes the confidence is found by halving to the second. Points that could not be
// proven even right after the check do not count: no check would help them.

#include <vector>

#include "station/lay_prediction.hpp"
#include "watch/watch.hpp"

namespace layproof::watch {

/// `upcoming`: the points to be laid next, by laid_point() without a deviation; empty: those laid
/// so far stand for them.
NextCheck next_check(const Day& day, const WatchOptions& options, const DayReport& report,
                     const std::vector<LaidPoint>& upcoming = {});

}  // namespace layproof::watch
