#pragma once
// The error model of one sight, as a covariance of (direction, zenith, distance).
//
// Model: all parts independent, first order, standard deviations (docs/methods/sight.md):
//   pointing    σ_a on direction and on zenith each. Not divided by sin z: ISO 17123-3 states it
//               for near-horizontal sights; layproof keeps it for all
//   distance    σ_d² = a² + (b·1e-6·D)²
//   rod         plumb: target height × bubble, and centring of the target over its mark, both per
//               plan axis and the same in all directions: σ_p² = (h·β)² + c²
//   height      target height by tape σ_h, and refraction (D sin z)²/(2R)·σ_k taken as a height
//               error: σ_v² = σ_h² + ((D sin z)²/(2R)·σ_k)²
//
// A shift of the target by (u along the line outwards, t across to the right, v up), seen from an
// instrument at rest, with the slope distance D and the zenith angle z:
//   direction  t / (D sin z)
//   zenith     u cos z / D − v sin z / D
//   distance   u sin z + v cos z
// So the along part of a leaning rod is common to zenith and distance, and its across part goes to
// the direction; in plan the rod error is the same along and across. Covariance, with s = sin z and
// c = cos z:
//   var(direction)         σ_a² + σ_p²/(D s)²
//   var(zenith)            σ_a² + (σ_p² c² + σ_v² s²)/D²
//   var(distance)          σ_d² + σ_p² s² + σ_v² c²
//   cov(zenith, distance)  (σ_p² − σ_v²) s c / D
//   cov(direction, ·)      0
// A horizontal distance S moves by u alone: var σ_d² + σ_p², cov(zenith, distance) σ_p² cos z / D,
// with D = S / sin z.
//
// Not in it: the mark's own error, the instrument's height and centring, orientation. They belong
// to more than one sight.

#include <Eigen/Core>

#include "measure/instrument.hpp"
#include "measure/sight.hpp"

namespace layproof::measure {

inline constexpr double kEarthRadius_m = 6371000.0;

/// What one pointing measured after face, atmosphere and prism constant are applied.
/// Absent parts are said by the flags; their values are 0.
struct ReducedSight {
    bool has_direction = false;
    bool has_zenith = false;
    bool has_distance = false;
    bool distance_is_horizontal = false;  ///< a horizontal distance, given without zenith
    double direction_rad = 0.0;           ///< [0, 2π), face one
    double zenith_rad = 0.0;              ///< [0, π], face one
    double distance_m = 0.0;              ///< slope (or horizontal) distance
    double target_height_m = 0.0;
    Eigen::Matrix3d covariance =
        Eigen::Matrix3d::Zero();  ///< of (direction, zenith, distance), rad², m²
    int pointings = 1;            ///< faces put together in it
    int rounds = 1;               ///< times all was measured anew, the rod set up again too
    /// Share of face one less share of face two: 1, −1, or 0 for a two-face mean. Collimation and
    /// index error act on the values above with this factor.
    double face_balance = 1.0;

    int size() const { return int{has_direction} + int{has_zenith} + int{has_distance}; }
};

/// Covariance of (direction, zenith, distance) for a sight of the given slope distance and zenith
/// (with `horizontal_distance`, distance_m is the horizontal distance and the zenith angle serves
/// the zenith row only).
/// `share_angle` and `share_distance` divide the pointing and distance variances (2 for a two-face
/// mean, whose rod stood once). Rows of parts that are not observed are still filled.
/// Finite input, distance_m > 0, 0 < zenith_rad < π, shares > 0. Positive semidefinite. Straight up
/// or down the direction says nothing: sin z is kept at 1e-6 or more (0.2"), so that its variance
/// is large and finite; a distance that is not above 1 mm counts as 1 mm, a zenith angle that is
/// not finite as 90°.
/// First order: checked against simulation to 1.5 % of each standard deviation for a rod of 1.5 m
/// with a bubble of 10' at 10 to 50 m.
Eigen::Matrix3d sight_covariance(const Instrument& instrument, double distance_m, double zenith_rad,
                                 double target_height_m, bool horizontal_distance = false,
                                 double share_angle = 1.0, double share_distance = 1.0);

}  // namespace layproof::measure
