#pragma once
// What stands on the floor, and where nobody may stand: obstacles and no-go areas from a file.
//
// Delimited, one row each, columns obstacle, kind, east, north and what the kind needs:
//   column   a rectangle about its centre: width, depth (else width), turn of its depth from north
//   round    a round column: diameter
//   wall     from east, north to east_2, north_2: thickness
//   outline  one corner a row, rows of one name following each other
//   no-go    the same; nobody may stand inside (edges, crane path, traffic)
// bottom and top are heights; blank: from the floor's foundation to the sky. An outline takes them
// from its first corner.
//
// DXF (unit as for points): circles become round columns, closed runs of lines outlines, other
// lines walls of kDrawnWall_m; layers whose name holds "no-go", "nogo" or "keep-out" no-go areas.
// Heights are open. IFC: columns and walls with their shapes and heights (ifc_obstacles.hpp).
//
// Error codes: those of TableReader and of the readers of the formats; word_unknown (kind),
// value_missing (a size), out_of_range (sizes 1 mm to 1,000 m; top not above bottom; fewer than
// three corners; more than 20,000 rows).

#include <Eigen/Core>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "exchange/tables/readers.hpp"

namespace layproof::exchange {

inline constexpr double kDrawnWall_m = 0.2;
inline constexpr double kDrawnColumn_m = 0.5;
inline constexpr std::size_t kMostObstacles = 20'000;

enum class ObstacleKind { column, round, wall, outline, no_go };
std::string_view to_word(ObstacleKind kind);

struct ObstacleRow {
    std::string name;
    ObstacleKind kind = ObstacleKind::column;
    std::vector<Eigen::Vector2d> corners;  ///< centre, both ends, or corners
    double width_m = 0.0;                  ///< column; diameter; thickness of a wall
    double depth_m = 0.0;                  ///< column
    double turn_rad = 0.0;
    std::optional<double> bottom_m, top_m;
    Place place;
};

Result<Table<ObstacleRow>> read_obstacles(const Document& document,
                                          const ReadOptions& options = {});

/// By content: delimited, DXF or IFC.
Result<Table<ObstacleRow>> read_any_obstacles(const Document& document,
                                              const ReadOptions& options = {});

}  // namespace layproof::exchange
