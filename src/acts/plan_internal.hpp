#pragma once
// A station's report as a plan, for the acts that draw one.

#include "acts/station.hpp"
#include "acts/watch.hpp"
#include "record/day_strip.hpp"
#include "record/svg_plan.hpp"

namespace layproof::acts::internal {

record::PlanWord plan_word(station::Word word);

/// Marks with their misfits, the station, its sights and the points of the report.
record::PlanDrawing plan_of(const StationReport& report, const measure::LengthStyle& style);

/// A station's day. Of its report only the name is looked at.
record::DayStrip strip_of(const WatchStation& station, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
