#pragma once
// LandXML 1.2 and 1.1: points, monuments and field observations.
//
// Taken: CgPoint (text "north east [height]", north first), Monument and CgPoint by pntRef,
// InstrumentSetup, TargetSetup, Backsight and RawObservation, alone, under a set-up or in an
// ObservationGroup. Everything else is counted in `left`. Lengths are in linearUnit, angles in
// angularUnit and directionUnit; "decimal dd.mm.ss" packs 45°30'25" as 45.3025 and is read as text.
// A file without Units needs `options.unit` and is refused when it holds angles. horizAngle and
// Backsight/circle are circle readings, clockwise. Deleted and unused observations and those with
// offsets are left.
//
// A sight's purpose is control when its target is a control point, a monument or the set-up's
// backsight; check, lay (asbuilt, cutSheets) when the file says so; else other.
//
// Units within a SurveyHeader must agree with the file's. Limits: 2,000,000 points, as many sights.
// Error codes: those of XmlEvents, format_unknown (another root), unit_missing, unit_unknown,
// value_missing, not_a_number, not_an_angle, out_of_range, reference_missing, reference_circular,
// file_too_large. Memory: the document and what is taken of it.

#include "exchange/tables/imported.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

Result<Import> read_landxml(const Document& document, const ReadOptions& options = {});

}  // namespace layproof::exchange
