#pragma once
// Obstacles and no-go areas from a file of any format.
//
// Delimited: obstacle_rows.hpp. DXF (unit as for points): circles become round columns, closed runs
// of lines outlines, other lines walls of kDrawnWall_m; layers whose name holds "no-go", "nogo" or
// "keep-out" no-go areas. Heights are open. IFC: columns and walls with their shapes and heights
// (ifc_obstacles.hpp).
//
// Error codes: those of the readers of the formats; out_of_range for more than kMostObstacles.

#include "exchange/tables/obstacle_rows.hpp"

namespace layproof::exchange {

/// By content: delimited, DXF or IFC.
Result<Table<ObstacleRow>> read_any_obstacles(const Document& document,
                                              const ReadOptions& options = {});

}  // namespace layproof::exchange
