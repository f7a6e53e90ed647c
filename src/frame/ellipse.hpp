#pragma once
// How uncertain a plan position is, and in which direction: the error ellipse of a 2 × 2
// covariance.
//
// Model: a normal deviation in the plane. Covariances are in the order east, north, in m². With
//   h = hypot((c_ee − c_nn)/2, c_en):   a² = (c_ee + c_nn)/2 + h,   b² = det C / a²,
//   azimuth of the major axis = ½·atan2(2·c_en, c_nn − c_ee), clockwise from north
// (textbook, from memory; checked against published values). The ellipse of one standard deviation
// holds 39.3 % of all deviations; the factor for a probability p is √(−2 ln(1 − p)), 2.4477 for
// 95 %.
//
// Degenerate: a circle has azimuth 0; a singular covariance has a zero minor axis; what rounding
// makes slightly negative counts as zero. Finite input only. Accuracy 1e-15 relative for the major
// axis; the minor axis loses what det C loses.

#include <Eigen/Core>

namespace layproof::frame {

struct ErrorEllipse {
    double semi_major_m = 0.0;
    double semi_minor_m = 0.0;
    double azimuth_rad = 0.0;  ///< of the major axis, [0, π)
};

/// Factor from one standard deviation to 95 % in the plane: √(−2 ln 0.05).
inline constexpr double kEllipse95 = 2.4477468306808161;

/// Ellipse of one standard deviation times `factor`.
ErrorEllipse error_ellipse(const Eigen::Matrix2d& covariance, double factor = 1.0);

/// Covariance of the difference of two positions: C1 + C2 − C12 − C12ᵀ, where C12 is the covariance
/// between the first (rows) and the second (columns). Its ellipse is the relative error ellipse.
Eigen::Matrix2d relative_covariance(const Eigen::Matrix2d& first, const Eigen::Matrix2d& second,
                                    const Eigen::Matrix2d& between);

}  // namespace layproof::frame
