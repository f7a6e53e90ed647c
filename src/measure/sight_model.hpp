#pragma once
// The error model of one sight, as a covariance of (direction, zenith, distance).
//
// Model (design.md "What is measured, and how well"), all parts independent, first order:
//   pointing   σ_a on direction and on zenith (direction: σ_a / sin z, zenith: σ_a), see below
//   distance   σ_d² = a² + (b·1e-6·D)²
//   rod        plumb: target height × bubble, per plan axis, isotropic, plus target centring per
//   plan
//              axis in quadrature: σ_p² = (h·β)² + c². A plan shift (along u, across t) of the
//              target changes direction by t/(D sin z), zenith by u·cos z/D, slope distance by
//              u·sin z: the along part is common to zenith and distance, the across part goes to
//              direction.
//   height     target height by tape: zenith −σ_h·sin z/D… and slope distance σ_h·cos z
//   refraction (D sin z)²/(2R)·σ_k as a height error
// The pointing part of the direction is σ_a (the instrument's circle, not divided by sin z): ISO
// 17123-3 states it for near-horizontal sights; layproof keeps it for all.

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
    double zenith_rad = 0.0;              ///< (0, π), face one
    double distance_m = 0.0;              ///< slope (or horizontal) distance
    double target_height_m = 0.0;
    Eigen::Matrix3d covariance =
        Eigen::Matrix3d::Zero();  ///< of (direction, zenith, distance), rad², m²
    int pointings = 1;            ///< faces put together in it

    int size() const { return int{has_direction} + int{has_zenith} + int{has_distance}; }
};

/// Covariance of (direction, zenith, distance) for a sight of the given slope distance and zenith.
/// `share_angle` and `share_distance` divide the angle and distance variances (2 for a two-face
/// mean, whose rod stood once). Rows of parts that are not observed are still filled.
/// distance_m > 0, 0 < zenith_rad < π.
Eigen::Matrix3d sight_covariance(const Instrument& instrument, double distance_m, double zenith_rad,
                                 double target_height_m, bool horizontal_distance = false,
                                 double share_angle = 1.0, double share_distance = 1.0);

}  // namespace layproof::measure
