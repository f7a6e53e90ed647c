#pragma once
// One set-up's sights as a day for the room watch.

#include <vector>

#include "acts/belief/job_belief.hpp"
#include "acts/points/places.hpp"
#include "acts/setup/setup_work.hpp"
#include "acts/watch/watch.hpp"
#include "watch/day.hpp"

namespace layproof::acts::internal {

struct TimedDay {
    watch::Day day;
    double offset_s = 0.0;
    std::vector<std::string> notices;
};

/// The points of the file with their tolerances, found by name. Must outlive its use.
struct DayPoints {
    const std::vector<LayPoint>& list;
    const PointIndex& index;
};

Result<TimedDay> day_of(const OneSetup& one, const StationWork& work, const DayPoints& points);

/// The day of a station that is solved already; its report is taken over into the answer, when it
/// is not refused. What happened and what became of the points is the belief's. `about`: the answer
/// that the day will stand in.
Result<WatchStation> watch_station(const WatchRequest& request, const cause::CauseTable& causes,
                                   const OneSetup& one, StationWork& work, const DayPoints& points,
                                   const JobBelief& belief, const WatchAnswer& about);

}  // namespace layproof::acts::internal
