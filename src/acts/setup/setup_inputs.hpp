#pragma once
// The files of a station request as one input per set-up.

#include <optional>
#include <string>
#include <vector>

#include "acts/setup/station_request.hpp"
#include "cause/cause_table.hpp"
#include "frame/mark.hpp"
#include "station/prepared.hpp"

namespace layproof::acts::internal {

struct OneSetup {
    station::StationInput input;
    std::vector<std::string> aside_reasons;  ///< as input.set_aside
    /// Points judged and set out from here, into StationInputs::points; nothing: all of them.
    std::optional<std::vector<std::size_t>> wanted;
};

/// Station × point pairs up to which every point is judged from every station. Above it, and when
/// nobody chose, each station has the points sighted from it: the figures of a long job would fill
/// the memory, and nobody lays from all its stations at once.
inline constexpr std::size_t kMostFigures = 100'000;

struct StationInputs {
    measure::LengthUnit unit = measure::LengthUnit::metre;
    std::vector<OneSetup> setups;  ///< in the order of the sights file
    std::vector<frame::DesignPoint> points;
    bool has_points = false;
    cause::CauseTable causes;
    std::optional<measure::LengthUnit> marks_unit, points_unit;
    double largest_coordinate_m = 0.0;
    std::vector<std::string> notices;
};

Result<StationInputs> read_inputs(const StationRequest& request);

}  // namespace layproof::acts::internal
