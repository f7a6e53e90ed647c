#pragma once
// What stands on the floor, and where nobody may stand: obstacles and no-go areas as rows.
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
// Error codes: those of TableReader; word_unknown (kind), value_missing (a size), out_of_range
// (sizes 1 mm to 1,000 m; top not above bottom; fewer than three corners; more than 20,000 rows).

#include <Eigen/Core>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "exchange/tables/row_table.hpp"
#include "exchange/tables/table.hpp"

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

/// out_of_range: a file of that name with more than kMostObstacles of them.
Refusal too_many_obstacles(const std::string& file);

}  // namespace layproof::exchange
