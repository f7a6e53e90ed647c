#pragma once
// What of an IFC model stands on the floor: its columns and walls as upright blocks.
//
// Taken: IfcColumn, IfcWall (also their StandardCase; of a wall made of parts, the parts), each
// solid of the body one row of kind outline or round, bottom and top from the solid
// (ifc_solids_internal.hpp). A wall without a body is taken along its axis with the thickness of
// its material layers, heights open; a column without one kDrawnColumn_m square at its place,
// heights open. Openings are not cut out: a wall with a door is solid, which hides more. Outlines
// of more than kMostCorners corners give their hull.
//
// Coordinates and unit as read_ifc. Notices say how many were taken how, what was left and why
// (file and line of the first), and which other elements are no obstacles here.
//
// Error codes: those of read_ifc; file_too_large (ifc_solids_internal.hpp); out_of_range for more
// than kMostObstacles. A shape that cannot be read is left, with a notice.

#include "exchange/tables/obstacle_rows.hpp"

namespace layproof::exchange {

inline constexpr std::size_t kMostCorners = 200;

Result<Table<ObstacleRow>> read_ifc_obstacles(const Document& document,
                                              const ReadOptions& options = {});

}  // namespace layproof::exchange
