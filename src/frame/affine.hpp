#pragma once
// The affine map between two sets of plan points: what is left when one set is also skewed or
// scaled unevenly (a drawing printed and digitised, a map conversion with two factors).
//
// Model: X = a x + b y + c, Y = d x + e y + f, misfit = fitted − given, the two axes apart:
// weighted least squares with weights w_X and w_Y (1/variance). Parameters about the centroid of
// the points, so that large coordinates lose nothing; c and f are given for the origin. Standard
// deviations are scaled by s0 = √(Σ w·misfit²/(2n − 6)) when there are more than three points
// (textbook, from memory; checked against a published example).
//
// Degenerate: fewer than three points, or points in one line (smallest singular value below 1e-9 of
// the largest) give nothing. Weights that are negative or not finite count as 0.

#include <array>
#include <optional>
#include <span>
#include <vector>

#include <Eigen/Core>

namespace layproof::frame {

struct AffineFit {
    double a = 1.0, b = 0.0, c_m = 0.0, d = 0.0, e = 1.0, f_m = 0.0;
    std::array<double, 6> sd{};  ///< of a, b, c, d, e, f; 0 without redundancy
    double s0 = 0.0;
    std::vector<Eigen::Vector2d> misfits_m;

    /// Scales along the turned axes and how far those are from a right angle.
    double scale_x() const;
    double scale_y() const;
    double skew_rad() const;
    Eigen::Vector2d place(const Eigen::Vector2d& p) const {
        return {a * p.x() + b * p.y() + c_m, d * p.x() + e * p.y() + f_m};
    }
};

/// `weights` is empty for equal weights, else one pair for each point.
std::optional<AffineFit> affine_fit(std::span<const Eigen::Vector2d> from,
                                    std::span<const Eigen::Vector2d> to_m,
                                    std::span<const Eigen::Vector2d> weights = {});

}  // namespace layproof::frame
