#pragma once
// Which turn and shift lay a set of local plan points best onto their targets: the rigid fit (scale
// held at 1) and the similarity fit (scale free), both in closed form, without a starting guess.
//
// Model: target_i = origin + s·R(rotation)·local_i + misfit_i, R turning clockwise, so that local
// vectors of (distance, direction) get azimuth = direction + rotation. Minimises Σ w_i·|misfit_i|².
// With coordinates reduced to the weighted centroids, x = Σ w (l_e t_e + l_n t_n) and
// y = Σ w (l_n t_e − l_e t_n): rotation = atan2(y, x), s = hypot(x, y) / Σ w |l|² (textbook, from
// memory; checked against published values). One weight serves both axes of a point.
//
// Degenerate cases are answers, said by `state`: with one point, all local points in one place, or
// targets that favour no turn (all in one place, or a mirror image that cancels exactly) the turn
// is 0 and only the shift is fitted; with no point of positive weight nothing is. Mirror images are
// never fitted: a swap of the axes shows as large misfits.
//
// Accuracy: 1e-9 m for extents of 1 km at coordinates of 2,000,000 ft; all sums run about the
// centroids. Weights that are negative or not finite count as 0; a point of weight 0 takes no part
// but gets its misfit. Coordinates must be finite. Linear in the number of points.

#include <span>
#include <vector>

#include <Eigen/Core>

namespace layproof::frame {

enum class PlanFitState {
    determined,
    turn_undetermined,  ///< shift only: rotation 0, scale 1
    no_points,          ///< nothing fitted; misfits are empty
};

struct PlanFit {
    PlanFitState state = PlanFitState::no_points;
    double rotation_rad = 0.0;  ///< clockwise, [0, 2π)
    double scale = 1.0;
    Eigen::Vector2d origin_m = Eigen::Vector2d::Zero();  ///< where the local origin comes to lie
    std::vector<Eigen::Vector2d> misfits_m;  ///< target − fitted point, east and north
    /// Per point, the share of an error in one of its coordinates that shows in its own misfit:
    /// 0 unseen, 1 fully seen. The mean of both axes; they are equal in the similarity fit.
    std::vector<double> redundancies;
    double weighted_square_sum = 0.0;  ///< Σ w·|misfit|²

    /// The fitted place of a local point.
    Eigen::Vector2d place(const Eigen::Vector2d& local_m) const;

private:
    Eigen::Vector2d local_centre_m_ = Eigen::Vector2d::Zero();
    Eigen::Vector2d target_centre_m_ = Eigen::Vector2d::Zero();
    friend struct PlanFitter;
};

/// Rotation and shift. `local_m` and `target_m` have the same size; `weights` too, or is empty for
/// equal weights.
PlanFit rigid_fit(std::span<const Eigen::Vector2d> local_m,
                  std::span<const Eigen::Vector2d> target_m, std::span<const double> weights = {});

/// Rotation, shift and scale; arguments as in rigid_fit.
PlanFit similarity_fit(std::span<const Eigen::Vector2d> local_m,
                       std::span<const Eigen::Vector2d> target_m,
                       std::span<const double> weights = {});

}  // namespace layproof::frame
