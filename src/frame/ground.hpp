#pragma once
// Grid and ground: a length on a map projection against the length a tape gives on site.
//
// Model: grid length = ground length × point scale × elevation factor. The point scale is the
// projection's own at the place; the elevation factor takes the ground down to the ellipsoid,
//   elevation factor = R / (R + h),   R = a·√(1 − e²)/(1 − e² sin²φ) (Gaussian mean radius),
// h the height above the ellipsoid, not above sea level (textbook, from memory; checked against
// published tables). One factor serves a site: it changes by 0.16 ppm per metre of height, and in a
// 6° zone by about 0.3 ppm per kilometre at its edges.
//
// Valid for heights from −1,000 to 10,000 m. Accuracy: rounding for the formulas; over lines of a
// few kilometres the change of the point scale along the line is left out.

#include <Eigen/Core>

namespace layproof::frame {

/// a in metres, flattening as 1/f (0 for a sphere); latitude in radians.
double gaussian_radius_m(double semi_major_m, double inverse_flattening, double latitude_rad);

/// R/(R + h); 1 when either is not finite or R + h is not above zero.
double elevation_factor(double radius_m, double ellipsoid_height_m);

struct GridFactors {
    double point_scale = 1.0;
    double elevation = 1.0;

    /// Grid length / ground length.
    double combined() const { return point_scale * elevation; }
};

/// A site's ground coordinates: the grid stretched about one point by 1/combined, then shifted so
/// that the point has the coordinates wanted (its grid ones, or rounded to be told apart).
struct GroundFrame {
    Eigen::Vector2d grid_origin_m = Eigen::Vector2d::Zero();
    Eigen::Vector2d ground_origin_m = Eigen::Vector2d::Zero();
    double combined = 1.0;  ///< above zero

    Eigen::Vector2d to_ground(const Eigen::Vector2d& grid_m) const {
        return ground_origin_m + (grid_m - grid_origin_m) / combined;
    }
    Eigen::Vector2d to_grid(const Eigen::Vector2d& ground_m) const {
        return grid_origin_m + (ground_m - ground_origin_m) * combined;
    }
};

}  // namespace layproof::frame
