#pragma once
// Points and grid lines from a DXF drawing.
//
// The unit must be stated in `options.unit`: the drawing's $INSUNITS and $MEASUREMENT are evidence
// and stand in the refusal (unit_missing) or the import; a disagreement gives a notice. x is taken
// as east, y as north: right only when the drawing is in the site's frame; the similarity fit
// (frame/site_building.hpp) brings one to the other.
//
// Points are POINT, centres of CIRCLE (also drawn as a polyline of two half circles) and insertion
// points of INSERT. A point's name is its attribute POINT, PNT, NO, NUMBER, NAME, ID, MARK, TAG or
// its only one; else the text beside it (within five text heights, nearest first, each text once,
// no dimension, a plain decimal only if nothing else is there); else one is made: layer and number.
// Names that stand at several points are numbered, with a notice.
// Heights are taken when any point of the drawing has one other than 0.
//
// Grid lines: drawing_grid.hpp. Points more than 100,000,000 m from zero are left. Error codes: of
// read_drawing, and unit_missing.

#include "exchange/dxf/dxf_drawing.hpp"

namespace layproof::exchange {

Result<Import> read_dxf(const Document& document, const ReadOptions& options = {});

/// "$INSUNITS = 4 (millimetres), $MEASUREMENT = 0 (imperial)".
std::string unit_evidence(const Drawing& drawing);

}  // namespace layproof::exchange
