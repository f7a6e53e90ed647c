#include "measure/sight_model.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::measure {
namespace {

constexpr double kSmallestSine = 1e-6;
constexpr double kShortestDistance_m = 1e-3;

double square(double x) {
    return x * x;
}

}  // namespace

Eigen::Matrix3d sight_covariance(const Instrument& instrument, double distance_m, double zenith_rad,
                                 double target_height_m, bool horizontal_distance,
                                 double share_angle, double share_distance) {
    if (!std::isfinite(zenith_rad)) zenith_rad = kPi / 2.0;
    if (!(distance_m >= kShortestDistance_m)) distance_m = kShortestDistance_m;  // NaN too
    const double sin_z = std::max(std::abs(std::sin(zenith_rad)), kSmallestSine);
    const double cos_z = std::cos(zenith_rad);
    const double slope_m = horizontal_distance ? distance_m / sin_z : distance_m;
    const double horizontal_m = horizontal_distance ? distance_m : distance_m * sin_z;

    // The target's shift, per plan axis and in height.
    const double plan_variance =
        square(target_height_m * instrument.bubble_rad) + square(instrument.centring_m);
    const double height_variance =
        square(instrument.height_tape_m) +
        square(square(horizontal_m) / (2.0 * kEarthRadius_m) * instrument.refraction_k_sd);

    const Eigen::Vector3d across(1.0 / horizontal_m, 0.0, 0.0);
    const Eigen::Vector3d along(0.0, cos_z / slope_m, horizontal_distance ? 1.0 : sin_z);
    const Eigen::Vector3d up(0.0, -sin_z / slope_m, horizontal_distance ? 0.0 : cos_z);

    const double angle_variance = square(instrument.angle_sd_rad) / share_angle;
    const double distance_variance =
        (square(instrument.distance_sd_m) + square(instrument.distance_ppm * 1e-6 * distance_m)) /
        share_distance;

    Eigen::Matrix3d covariance =
        Eigen::Vector3d(angle_variance, angle_variance, distance_variance).asDiagonal();
    covariance += plan_variance * (across * across.transpose() + along * along.transpose());
    covariance += height_variance * (up * up.transpose());
    // The two halves differ in the last place, as (v a)·b and (v b)·a round apart.
    covariance(2, 1) = covariance(1, 2);
    return covariance;
}

}  // namespace layproof::measure
