#pragma once
// What the belief of the job says about one set-up's day.

#include "acts/belief/job_belief.hpp"
#include "acts/watch/watch.hpp"
#include "acts/watch/watch_day.hpp"

namespace layproof::acts::internal {

/// Fills in whether the station stood still, what happened, the points and their words. `out`
/// holds the day and its events.
void believe_day(const JobBelief& belief, const DayPoints& points, const WatchAnswer& about,
                 WatchStation& out);

}  // namespace layproof::acts::internal
