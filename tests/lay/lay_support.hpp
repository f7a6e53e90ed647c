#pragma once
// Small helpers of the lay tests: invented set-ups and sights.

#include <Eigen/Cholesky>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

#include "base/random.hpp"
#include "frame/mark.hpp"
#include "lay/as_laid.hpp"
#include "lay/mixture.hpp"
#include "lay/verdict.hpp"
#include "measure/angle.hpp"
#include "measure/reduce.hpp"
#include "support/site_simulator.hpp"

namespace layproof::lay::testing {

inline constexpr double kMm = 0.001;
inline constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// Off by at most t either way.
inline Limits both(double t) {
    return {t, t};
}

inline measure::Instrument instrument() {
    measure::Instrument out;
    out.angle_sd_rad = 2.0 * measure::kRadPerArcsec;
    out.distance_sd_m = 0.0012;
    out.distance_ppm = 2.0;
    out.bubble_rad = 3.0 * measure::kRadPerArcmin;
    out.centring_m = 0.0007;
    out.height_tape_m = 0.0008;
    out.stated = true;
    return out;
}

/// Standard deviations of east, north, height (m) and orientation (rad), with a link between north
/// and orientation as a one-sided fan gives it.
inline station::Pose pose(double sd_plan_m = 0.0015, double sd_turn_rad = 3e-5) {
    station::Pose out;
    out.position_m << 1003.0, 2001.0, 101.6;
    out.orientation_rad = 0.7;
    out.covariance = Eigen::Vector4d(sd_plan_m * sd_plan_m, sd_plan_m * sd_plan_m, 1e-6,
                                     sd_turn_rad * sd_turn_rad)
                         .asDiagonal();
    out.covariance(1, 3) = out.covariance(3, 1) = 0.6 * sd_plan_m * sd_turn_rad;
    return out;
}

inline LaySetup setup(const station::Pose& p = pose(), std::string name = "S1") {
    return believing_nothing_wrong(std::move(name), p, instrument());
}

inline frame::DesignPoint design(std::string name, double east, double north,
                                 std::optional<double> height = 100.0) {
    frame::DesignPoint out;
    out.name = std::move(name);
    out.east_m = east;
    out.north_m = north;
    out.height_m = height;
    return out;
}

/// What an instrument standing at `p` exactly reads to a rod that stands at `tip`.
inline measure::Sight exact_sight(const station::Pose& p, const Eigen::Vector3d& tip, double rod_m,
                                  const measure::Instrument& i = instrument()) {
    layproof::testing::TruePose true_pose;
    true_pose.axes_m = p.position_m;
    true_pose.orientation_rad = p.orientation_rad;
    const auto reading = layproof::testing::read_exactly(
        true_pose, tip + Eigen::Vector3d(0, 0, rod_m), i.refraction_k);
    measure::Sight out;
    out.direction_rad = reading.direction_rad;
    out.zenith_rad = reading.zenith_rad;
    out.slope_distance_m = reading.distance_m;
    out.target_height_m = rod_m;
    out.purpose = measure::Purpose::lay;
    return out;
}

inline LaidPlace exact_place(std::string name, const LaySetup& s, int index,
                             const Eigen::Vector3d& tip, double rod_m = 1.3) {
    const auto place =
        laid_place(std::move(name), s, index,
                   measure::reduce(exact_sight(s.pose, tip, rod_m, s.instrument), s.instrument));
    return place.value_or(LaidPlace{});
}

/// A true pose drawn from the reported one's covariance.
inline layproof::testing::TruePose draw_pose(Random& random, const station::Pose& reported) {
    const Eigen::Matrix4d root = reported.covariance.llt().matrixL();
    Eigen::Vector4d normal;
    for (int i = 0; i < 4; ++i) normal(i) = random.normal();
    const Eigen::Vector4d shift = root * normal;
    layproof::testing::TruePose out;
    out.axes_m = reported.position_m + shift.head<3>();
    out.orientation_rad = reported.orientation_rad + shift(3);
    return out;
}

/// A sight with all its errors from a true pose to a true tip.
inline measure::Sight noisy_sight(Random& random, const layproof::testing::TruePose& at,
                                  const Eigen::Vector3d& tip, double rod_m,
                                  const measure::Instrument& i = instrument()) {
    const auto rod = layproof::testing::draw_rod(random, i);
    Eigen::Vector3d top = layproof::testing::rod_top(tip, rod_m + rod.length_m, rod.lean_east_rad,
                                                     rod.lean_north_rad);
    top.x() += rod.centring_east_m;
    top.y() += rod.centring_north_m;
    const auto reading = layproof::testing::read_exactly(at, top, rod.refraction_k);
    measure::Sight out;
    out.direction_rad =
        measure::wrap_0_2pi(reading.direction_rad + i.angle_sd_rad * random.normal());
    out.zenith_rad = reading.zenith_rad + i.angle_sd_rad * random.normal();
    out.slope_distance_m =
        reading.distance_m +
        std::hypot(i.distance_sd_m, i.distance_ppm * 1e-6 * reading.distance_m) * random.normal();
    out.target_height_m = rod_m;
    out.purpose = measure::Purpose::lay;
    return out;
}

}  // namespace layproof::lay::testing
