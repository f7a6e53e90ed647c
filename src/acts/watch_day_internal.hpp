#pragma once
// One set-up's sights as a day for the room watch.

#include <vector>

#include "acts/lay.hpp"
#include "acts/station_work_internal.hpp"
#include "watch/day.hpp"

namespace layproof::acts::internal {

struct TimedDay {
    watch::Day day;
    double offset_s = 0.0;
    std::vector<std::string> notices;
};

/// `points`: of the points file, with their tolerances.
Result<TimedDay> day_of(const OneSetup& one, const StationWork& work,
                        const std::vector<LayPoint>& points);

}  // namespace layproof::acts::internal
