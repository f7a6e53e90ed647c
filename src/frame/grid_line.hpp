#pragma once
// Lines of a building grid in site coordinates, and where a point lies by them.
//
// A line is straight and runs on past its ends: the ends give its place and sense, not its extent.
// Callers ask through the functions below and never build on the two ends, so that a curved line
// would need new functions here only.

#include <Eigen/Core>
#include <optional>
#include <string>

#include "base/result.hpp"

namespace layproof::frame {

/// A named line. Lines of one family run the same way and are told apart by their names; an empty
/// family is told from the direction.
struct GridLine {
    std::string name;
    std::string family;
    Eigen::Vector2d start_m = Eigen::Vector2d::Zero();  ///< east, north
    Eigen::Vector2d end_m = Eigen::Vector2d::Zero();
    Place place;
};

/// Ends closer than this make no line.
inline constexpr double kShortestGridLine_m = 0.01;

/// The line through a point along an azimuth.
GridLine grid_line_at(std::string name, const Eigen::Vector2d& point_m, double azimuth_rad);

/// The ends are finite and apart.
bool is_line(const GridLine& line);

// The functions below need is_line; without it they answer as for a line to the north.

/// Unit vector from start to end.
Eigen::Vector2d direction_of(const GridLine& line);

/// Where a point lies by a line: along it from its start, and across it, to the right of its sense
/// positive (a line running north has east on its right).
struct LinePlace {
    double along_m = 0.0;
    double across_m = 0.0;
};
LinePlace place_by(const GridLine& line, const Eigen::Vector2d& point_m);

/// The point of the line next to a point.
Eigen::Vector2d foot_on(const GridLine& line, const Eigen::Vector2d& point_m);

/// The angle between two lines, [0, π/2].
double angle_between(const GridLine& first, const GridLine& second);

/// Where two lines cross; nothing when they are parallel within 1e-6 rad.
std::optional<Eigen::Vector2d> crossing(const GridLine& first, const GridLine& second);

}  // namespace layproof::frame
