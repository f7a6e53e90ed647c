#pragma once
// Start values of a set-up without any guess.
//
// Two or more marks with direction and distance: rigid fit of the local polar vectors to the marks
// (closed form, one answer). Directions to three or more marks: the linear form of the resection:
// with c = cos o, s = sin o and q the station in the instrument's frame, each sight says (R(−o)·m_i
// − q) × u(α_i) = 0, linear and homogeneous in (c, s, q); the null vector is the answer, a second
// one near it is the danger circle. Two distances: intersection of circles (two answers). Distance
// and direction to one mark and a direction to another: the sine-rule triangle (two answers).
// Occupied: the mark itself, orientation from the directions.

#include <vector>

#include "station/prepared.hpp"

namespace layproof::station {

/// Relative to Prepared::origin_m; plan and orientation, height where it can be found.
struct StartValue {
    double east_m = 0.0;
    double north_m = 0.0;
    double orientation_rad = 0.0;
    double height_m = 0.0;
};

/// All real solutions of the minimal cases, without duplicates; empty when the sights cannot place
/// the station at all.
std::vector<StartValue> start_values(const Prepared& setup);

}  // namespace layproof::station
