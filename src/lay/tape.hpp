#pragma once
// Distances for the tape: what to measure between laid points to see by another road that they are
// right. A check that repeats the layout's own steps is none.
//
// Neighbours: for each point the nearest others, each pair once. Diagonals: where a point and two
// of its neighbours make a right angle (within 10 mm at their ends) and a fourth point closes the
// rectangle (within 10 mm), both diagonals of that rectangle, which should be equal. Distances are
// on the ground: plan distance over the scale factor.
//
// Points closer than 1 mm are one place and give no distance. n log n for scattered points: 20,000
// take some tens of milliseconds.

#include <span>
#include <string>
#include <vector>

#include "frame/mark.hpp"

namespace layproof::lay {

struct TapeDistance {
    int from = -1;  ///< into the points given
    int to = -1;
    double distance_m = 0.0;
    bool is_diagonal = false;
};

struct TapeOptions {
    int neighbours = 2;  ///< per point
    bool diagonals = true;
    double scale_factor = 1.0;
    std::vector<int> only_from;  ///< rising; distances from these points only; empty: from all
    double farthest_m = 30.0;    ///< longer than a pocket tape's use (common practice, no source)
};

/// Sorted by from and to; from < to. Points that are not finite are left out.
std::vector<TapeDistance> tape_distances(std::span<const frame::DesignPoint> points,
                                         const TapeOptions& options = {});

}  // namespace layproof::lay
