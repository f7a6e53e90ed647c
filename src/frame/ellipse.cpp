#include "frame/ellipse.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace layproof::frame {

ErrorEllipse error_ellipse(const Eigen::Matrix2d& covariance, double factor) {
    const double c_ee = covariance(0, 0);
    const double c_nn = covariance(1, 1);
    const double c_en = 0.5 * (covariance(0, 1) + covariance(1, 0));
    const double half_difference = 0.5 * (c_nn - c_ee);
    const double major = 0.5 * (c_ee + c_nn) + std::hypot(half_difference, c_en);

    ErrorEllipse ellipse;
    if (!(major > 0.0)) return ellipse;
    // det/a² keeps the minor axis of a thin ellipse, where (c_ee + c_nn)/2 − h would cancel.
    const double minor = (c_ee * c_nn - c_en * c_en) / major;
    ellipse.semi_major_m = factor * std::sqrt(major);
    ellipse.semi_minor_m = factor * std::sqrt(std::clamp(minor, 0.0, major));
    if (c_en == 0.0 && half_difference == 0.0) return ellipse;
    double azimuth_rad = 0.5 * std::atan2(2.0 * c_en, 2.0 * half_difference);
    if (azimuth_rad < 0.0) azimuth_rad += std::numbers::pi;
    // An azimuth just below zero rounds up to π itself, which is the same line as 0.
    if (azimuth_rad >= std::numbers::pi) azimuth_rad = 0.0;
    ellipse.azimuth_rad = azimuth_rad;
    return ellipse;
}

Eigen::Matrix2d relative_covariance(const Eigen::Matrix2d& first, const Eigen::Matrix2d& second,
                                    const Eigen::Matrix2d& between) {
    return first + second - between - between.transpose();
}

}  // namespace layproof::frame
