#pragma once
// Grid lines and points to be laid from an IFC model (IFC 4 and 4.3 exchange files; IFC 2x3 as far
// as grids and placements are the same).
//
// Coordinates are the project's own, in metres: placements run through their whole chain
// (IfcLocalPlacement, IfcGridPlacement), x is taken as east and y as north. A map conversion is
// read, judged (frame/map_conversion.hpp) and given beside them; with
// ReadOptions::apply_map_conversion points and grid lines are put on the map by it (value_missing
// when there is none, out_of_range when it cannot be used).
//
// Taken:
//   IfcGrid axes that are straight, with SameSense, as grid lines (family U, V or W of their grid);
//   crossings of U with V as points "C/4" without height
//   IfcColumn, IfcFooting, IfcPile: the origin of their placement
//   IfcMechanicalFastener that is an ANCHORBOLT by itself or by its type, or is named an anchor;
//   with several mapped items, one point for each. IfcDiscreteAccessory ANCHORPLATE and SHOE.
// The GlobalId stands in the note. Where a name is used more than once, the grid crossing, the Tag
// or the record's number is added.
//
// Unit: the number of IfcUnitAssignment decides, not the name; factors within 1e-7 of a foot of
// ours are taken as that foot, with a notice when the digits differ.
//
// Circular placements are refused (reference_circular), and references to what is not there
// (reference_missing). Other codes: of StepFile, format_unknown (another schema), unit_missing,
// unit_unknown, not_a_number. Grids that are not level, curved axes and placements along an
// alignment are left.

#include "exchange/tables/imported.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

Result<Import> read_ifc(const Document& document, const ReadOptions& options = {});

}  // namespace layproof::exchange
