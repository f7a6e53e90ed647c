#pragma once
// A station's report as a plan, for the acts that draw one.

#include "acts/station/station.hpp"
#include "acts/watch/watch.hpp"
#include "drawing/day_strip.hpp"
#include "drawing/svg_plan.hpp"

namespace layproof::acts::internal {

drawing::PlanWord plan_word(station::Word word);

/// Marks with their misfits, the station, its sights and the points of the report.
drawing::PlanDrawing plan_of(const StationReport& report, const measure::LengthStyle& style);

/// A station's day. Of its report only the name is looked at.
drawing::DayStrip strip_of(const WatchStation& station, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
