#include "frame/grid_line.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "frame/polar.hpp"

namespace layproof::frame {
namespace {

constexpr double kParallel_rad = 1e-6;
/// Long enough that the ends of coordinates in the millions still give the azimuth to 1e-11 rad.
constexpr double kMadeLength_m = 1000.0;

double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

}  // namespace

GridLine grid_line_at(std::string name, const Eigen::Vector2d& point_m, double azimuth_rad) {
    GridLine line;
    line.name = std::move(name);
    line.start_m = point_m;
    line.end_m = polar_point(point_m, azimuth_rad, kMadeLength_m);
    return line;
}

bool is_line(const GridLine& line) {
    return line.start_m.allFinite() && line.end_m.allFinite() &&
           (line.end_m - line.start_m).norm() >= kShortestGridLine_m;
}

Eigen::Vector2d direction_of(const GridLine& line) {
    if (!is_line(line)) return {0.0, 1.0};
    return (line.end_m - line.start_m).normalized();
}

LinePlace place_by(const GridLine& line, const Eigen::Vector2d& point_m) {
    const Eigen::Vector2d direction = direction_of(line);
    const Eigen::Vector2d from_start = point_m - line.start_m;
    return {direction.dot(from_start), cross(from_start, direction)};
}

Eigen::Vector2d foot_on(const GridLine& line, const Eigen::Vector2d& point_m) {
    return line.start_m + place_by(line, point_m).along_m * direction_of(line);
}

double angle_between(const GridLine& first, const GridLine& second) {
    const Eigen::Vector2d a = direction_of(first);
    const Eigen::Vector2d b = direction_of(second);
    return std::atan2(std::abs(cross(a, b)), std::abs(a.dot(b)));
}

std::optional<Eigen::Vector2d> crossing(const GridLine& first, const GridLine& second) {
    if (!is_line(first) || !is_line(second)) return std::nullopt;
    if (angle_between(first, second) < kParallel_rad) return std::nullopt;
    const Eigen::Vector2d a = direction_of(first);
    const Eigen::Vector2d b = direction_of(second);
    const double along = cross(second.start_m - first.start_m, b) / cross(a, b);
    return first.start_m + along * a;
}

}  // namespace layproof::frame
