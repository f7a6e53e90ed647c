#pragma once
// A station's report as a plan, for the acts that draw one.

#include "acts/station.hpp"
#include "record/svg_plan.hpp"

namespace layproof::acts::internal {

record::PlanWord plan_word(station::Word word);

/// Marks with their misfits, the station, its sights and the points of the report.
record::PlanDrawing plan_of(const StationReport& report, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
