#pragma once
// The day in order of time, the moments that carry information, and the stretches between them.

#include <vector>

#include "base/result.hpp"
#include "watch/watch.hpp"

namespace layproof::watch::internal {

inline constexpr double kHour_s = 3600.0;
/// States beyond the pose.
inline constexpr int kOtherStates = station::kStateSize - 4;

struct Entry {
    EventKind kind = EventKind::setup_finished;
    int index = -1;
    double time_s = 0.0;
    int moment = -1;           ///< into moments; −1: carries no information
    int stretch = 0;           ///< the stretch it lies in or, for a moment, that it begins
    double odds_before = 0.0;  ///< odds of a bump in the stretch before this event
};

/// Between moment k and k + 1; the last one is open.
struct Stretch {
    double odds = 0.0;
    int from_event = -1;
    int to_event = -1;
};

struct Timeline {
    std::vector<Entry> events;
    std::vector<int> moments;  ///< event of each; the first is the set-up
    std::vector<Stretch> stretches;
    std::vector<int> event_of_point;  ///< as Day::points
    std::vector<int> event_of_check;
    std::vector<int> event_of_resight;
    std::vector<bool> resighted;  ///< as Day::points
    int last_sight = -1;          ///< event of the last check or re-sight

    double moment_time_s(std::size_t k) const {
        return events[static_cast<std::size_t>(moments[k])].time_s;
    }
};

/// Everything is there, finite and in its range.
std::optional<Refusal> refuse(const Day& day, const WatchOptions& options);

Timeline make_timeline(const Day& day, const Odds& odds);

}  // namespace layproof::watch::internal
