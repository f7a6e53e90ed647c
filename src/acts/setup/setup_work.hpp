#pragma once
// One set-up from its sights to its report, with what the acts that follow a station build on.

#include <functional>
#include <vector>

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

/// What is believed of a set-up's state against its pose as solved, by all that is known of the
/// job; null: by its own control sights.
using StateBeliefs = std::function<std::vector<station::Belief>(const station::Pose& nominal)>;

/// Refuses as prepare and solve_station do.
Result<StationWork> work_of(const StationRequest& request, const StationInputs& inputs,
                            const OneSetup& one, const measure::LengthStyle& style,
                            const StateBeliefs& believed = {});

}  // namespace layproof::acts::internal
