#pragma once
// Azimuth and distance between plan points, and the point at an azimuth and distance.
//
// Plan vectors are (east, north) in metres. Azimuths run clockwise from north, in radians.
// azimuth = atan2(ΔE, ΔN); E = E0 + d·sin a, N = N0 + d·cos a (textbook; the signs follow from the
// axes). Rounding only: below 1e-15 of the coordinate difference plus half a unit in the last place
// of the coordinates (2 nm at 5,000,000 m). Finite input only.

#include <cmath>

#include <Eigen/Core>

#include "measure/angle.hpp"

namespace layproof::frame {

/// Azimuth from one point to another, [0, 2π). The same point twice gives 0; ask distance first.
inline double azimuth(const Eigen::Vector2d& from, const Eigen::Vector2d& to) {
    return measure::wrap_0_2pi(std::atan2(to.x() - from.x(), to.y() - from.y()));
}

/// Plan distance in metres, never negative.
inline double distance(const Eigen::Vector2d& from, const Eigen::Vector2d& to) {
    return std::hypot(to.x() - from.x(), to.y() - from.y());
}

/// The plan vector of a length along an azimuth.
inline Eigen::Vector2d polar_vector(double azimuth_rad, double distance_m) {
    return {distance_m * std::sin(azimuth_rad), distance_m * std::cos(azimuth_rad)};
}

/// The point at an azimuth and plan distance from another.
inline Eigen::Vector2d polar_point(const Eigen::Vector2d& from, double azimuth_rad,
                                   double distance_m) {
    return from + polar_vector(azimuth_rad, distance_m);
}

}  // namespace layproof::frame
