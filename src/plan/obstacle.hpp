#pragma once
// What stands on the floor and hides things: columns, walls, forms, stacks.
//
// Model: a straight prism, its plan a convex polygon or a circle, from a bottom to a top height
// (site heights; open ends are infinite). Walls drawn as a line become one rectangle a piece, other
// outlines are cut into triangles. Within a prism nothing is seen; nothing else hides anything.
//
// Clearance: a sight must pass an obstacle at that distance, in plan and in height. A widened
// polygon has its edges moved outwards and each corner cut square to its bisector at the clearance,
// so it holds every place that near and at a right angle at most 8 % more; a circle has its radius
// enlarged.
//
// Degenerate: fewer than three different corners, no area, a radius or a height that is not above
// zero, anything not finite (the heights may be infinite): no prism.

#include <Eigen/Core>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace layproof::plan {

inline constexpr double kOpen_m = std::numeric_limits<double>::infinity();

/// Heights between which an obstacle stands.
struct Reach {
    double bottom_m = -kOpen_m;
    double top_m = kOpen_m;
};

struct Prism {
    std::vector<Eigen::Vector2d> corners;  ///< convex, anticlockwise; empty: round
    Eigen::Vector2d centre_m =
        Eigen::Vector2d::Zero();  ///< round: centre; else mean of the corners
    double radius_m = 0.0;        ///< round
    Reach reach;
    int obstacle = -1;  ///< the caller's number

    bool is_round() const { return corners.empty(); }
};

/// The prisms of an outline (either sense, not crossing itself): one when it is convex, else
/// triangles. Empty when there is no area.
std::vector<Prism> prisms_of_outline(const std::vector<Eigen::Vector2d>& outline,
                                     const Reach& reach, int obstacle);

/// A round column.
std::optional<Prism> round_prism(const Eigen::Vector2d& centre_m, double radius_m,
                                 const Reach& reach, int obstacle);

/// A rectangle about its centre; `turn_rad` is the azimuth of its depth, clockwise from north.
std::optional<Prism> rectangle(const Eigen::Vector2d& centre_m, double width_m, double depth_m,
                               double turn_rad, const Reach& reach, int obstacle);

/// A wall along a line, half its thickness on either side, one rectangle for each piece, drawn out
/// by half the thickness at inner corners so that they close.
std::vector<Prism> wall(const std::vector<Eigen::Vector2d>& line, double thickness_m,
                        const Reach& reach, int obstacle);

/// The prism with a clearance all round, above and below.
Prism widened(const Prism& prism, double clearance_m);

/// Plan distance from a place to the prism; 0 inside.
double plan_distance(const Prism& prism, const Eigen::Vector2d& place_m);

/// Is the place inside the polygon? Either sense, not convex too; an edge counts as either.
bool is_inside(const std::vector<Eigen::Vector2d>& polygon, const Eigen::Vector2d& place_m);

}  // namespace layproof::plan
