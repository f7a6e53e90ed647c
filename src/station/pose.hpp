#pragma once
// Where an instrument stands and how its circle is turned.

#include <Eigen/Core>

namespace layproof::station {

/// Position of the instrument's axes and orientation: azimuth = direction + orientation.
/// Covariance order: east, north, height (m), orientation (rad). Without a height its row and
/// column are zero and has_height is false.
struct Pose {
    Eigen::Vector3d position_m = Eigen::Vector3d::Zero();
    double orientation_rad = 0.0;  ///< [0, 2π)
    Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();
    bool has_height = true;
};

}  // namespace layproof::station
