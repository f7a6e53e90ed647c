#pragma once
// What may be unknown about an instrument while it stands: its pose, and the things that stay wrong
// on every sight until somebody puts them right. One list, so that a cause seen in the control
// sights and its effect on the points laid afterwards are the same formula.

#include <Eigen/Core>

#include "station/misfit_model.hpp"

namespace layproof::station {

/// Order of the state. The first four are the pose in the order of misfit_model.hpp.
enum StateIndex : int {
    state_east = 0,
    state_north = 1,
    state_orientation = 2,
    state_height = 3,
    state_prism = 4,       ///< m, every distance reads too long by this
    state_scale = 5,       ///< ratio, every distance reads too long by this share
    state_tilt_east = 6,   ///< rad, the vertical axis leans east
    state_tilt_north = 7,  ///< rad, the vertical axis leans north
    state_index = 8,       ///< rad, every zenith angle reads too large by this
    state_rod = 9,         ///< m, the rod is this much longer than booked, on all sights
};
inline constexpr int kStateSize = 10;

using State = Eigen::Matrix<double, kStateSize, 1>;
using StateCovariance = Eigen::Matrix<double, kStateSize, kStateSize>;
using ByState = Eigen::Matrix<double, 3, kStateSize>;

/// ∂(p − true place)/∂state for a sight with this geometry, where p is where the sight puts its
/// target when worked out with the pose x0 and the readings as booked; the pose columns are
/// −∂p/∂pose because a true pose further east makes p too far west.
/// A point laid to a wanted reading deviates by the negative of this.
ByState by_state(const SightGeometry& sight);

}  // namespace layproof::station
