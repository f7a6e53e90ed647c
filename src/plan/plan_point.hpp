#pragma once
// A point as plan asks for it.

#include <vector>

#include "station/lay_prediction.hpp"

namespace layproof::plan {

struct PlanPoint {
    double east_m = 0.0, north_m = 0.0, height_m = 0.0;
    double tolerance_plan_m = 0.0;
    double tolerance_height_m = 0.0;  ///< below 0: the height is not judged
    bool has_height = false;
};

inline std::vector<PlanPoint> plan_points(const std::vector<station::LayTarget>& targets) {
    std::vector<PlanPoint> out;
    out.reserve(targets.size());
    for (const station::LayTarget& t : targets)
        out.push_back({t.east_m, t.north_m, t.height_m.value_or(0.0), t.tolerance_plan_m,
                       t.tolerance_height_m.value_or(-1.0), t.height_m.has_value()});
    return out;
}

}  // namespace layproof::plan
