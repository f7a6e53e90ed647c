#pragma once
// Is the rod's bubble true, and is its pole straight?
//
// One mark is sighted with the rod turned about its own axis, each time plumbed by its bubble. A
// bubble that is off by a fixed lean e (in the rod's own axes) puts the prism at
//     p_k = m + R(θ_k)·e + noise,
// θ_k the rod's turn, clockwise seen from above, 0 as the rod was first held; m the place over the
// mark. Four turns of a quarter give m and e by least squares with 4 to spare. e grows with the
// prism's height h: lean = |e|/h.
//
// Straight pole: the same at two heights h₁ < h₂. A straight pole has e₂ = e₁·h₂/h₁; what is left,
// e₂ − e₁·h₂/h₁, is the bend at the upper prism.
//
// Noise of one sight: pointing across, distance along, and the crew's own plumbing (bubble of the
// instrument file, per axis, × h). The mark's own place and the instrument's are common and drop
// out.

#include <Eigen/Core>
#include <optional>
#include <span>
#include <vector>

#include "measure/instrument.hpp"

namespace layproof::vet {

struct RodSight {
    double turn_rad = 0.0;
    double direction_rad = 0.0;
    double zenith_rad = 0.0;
    double slope_m = 0.0;
    double height_m = 0.0;  ///< prism over the mark
};

struct Lean {
    double height_m = 0.0;
    /// At the prism, at turn 0: to the right seen from the instrument, and away from it.
    Eigen::Vector2d offset_m = Eigen::Vector2d::Zero();
    Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
    double lean_rad = 0.0;
    double lean_sd_rad = 0.0;
    bool is_real = false;  ///< offset against 0: χ² with 2 at 95 %
    double statistic = 0.0;
    int dof = 0;
    bool scatter_as_stated = true;
    double residual_m = 0.0;  ///< rms of the sights about the circle
};

struct RodCheck {
    std::vector<Lean> leans;  ///< by height, lowest first
    /// Of the pole, at the upper prism: what is not explained by the bubble.
    std::optional<Eigen::Vector2d> bend_m;
    std::optional<Eigen::Matrix2d> bend_covariance;
    bool bend_is_real = false;
};

/// Sights whose heights differ by less than 5 mm are one height. Heights with fewer than two turns
/// that differ by 60° or more are left out; nothing when none is left. Finite input, heights and
/// lengths above 0.
std::optional<RodCheck> rod_check(std::span<const RodSight> sights,
                                  const measure::Instrument& instrument);

}  // namespace layproof::vet
