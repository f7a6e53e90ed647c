#pragma once
// A station's report as a plan, for the acts that draw one.

#include "acts/setup/setup_report.hpp"
#include "drawing/svg_plan.hpp"

namespace layproof::acts::internal {

/// Marks with their misfits, the station, its sights and the points of the report.
drawing::PlanDrawing plan_of(const StationReport& report, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
