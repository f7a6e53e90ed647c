#pragma once
// One set-up from its sights to its report, with what the acts that follow a station build on.

#include "acts/setup/assess_internal.hpp"
#include "acts/setup/setup_inputs.hpp"
#include "acts/setup/station_request.hpp"
#include "station/prepared.hpp"
#include "station/solution.hpp"

namespace layproof::acts::internal {

struct StationWork {
    StationReport report;
    station::Prepared prepared;
    station::Solved solved;
    Assessment assessment;
};

/// Refuses as prepare and solve_station do.
Result<StationWork> work_of(const StationRequest& request, const StationInputs& inputs,
                            const OneSetup& one, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
