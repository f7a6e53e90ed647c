#pragma once
// How probable it is that a point lies within its tolerance, given its measured deviation and the
// uncertainty of that deviation (conformance probability, JCGM 106:2012).
//
// Model: the true deviation is normal about `mean` with the given standard deviation or covariance
// (metres, m²; order east, north, height). Tolerances are half-widths: ± in one dimension, the
// radius of a circle in plan. Limits belong to the tolerance.
//   ±T      Φ((T − y)/u) − Φ((−T − y)/u)
//   circle  With the deviation scaled to unit normal along the principal axes (x, y; q = x² + y²),
//           the density is the curl of (1 − e^(−q/2))/(2π q)·(−y, x), so by Green's theorem
//           P = 1/(2π) ∮ (1 − e^(−q/2))/q · (x dy − y dx) around the circle. The integrand has no
//           singularity; being periodic it is summed at even angles, and for thin ellipses by
//           Gauss–Legendre where the edge is near: where it is far the exponential is nothing and
//           the swept angle is exact.
//   both    condition on the height: ∫ φ(h)·P_circle(mean and covariance given h) dh over ±T.
//
// Degenerate: zero standard deviation gives 0 or 1 (a deviation exactly on the limit is within); a
// negative tolerance nothing; negative variances from rounding count as 0; an infinite tolerance
// does not bind. Input that is not finite otherwise proves nothing: 0. Never NaN, always in [0, 1].
// Accuracy (absolute): ±T 1e-15; circle 1e-9, and 3e-8 where a standard deviation is below 1e-7 of
// the radius; both 1e-8 up to a correlation of 0.99 between height and plan and 1e-6 beyond. Cost:
// some tenths of a microsecond for the circle at ordinary sizes, some tens of them for both when
// height and plan are correlated.

#include <Eigen/Core>

namespace layproof::frame {

/// P(|deviation| ≤ tolerance) of a normal deviation.
double probability_within(double mean_m, double sd_m, double tolerance_m);

/// P(length of the plan deviation ≤ radius).
double probability_within_circle(const Eigen::Vector2d& mean_m, const Eigen::Matrix2d& covariance,
                                 double radius_m);

/// P(length of the plan deviation ≤ radius and |height deviation| ≤ height tolerance).
double probability_within_circle_and_height(const Eigen::Vector3d& mean_m,
                                            const Eigen::Matrix3d& covariance, double radius_m,
                                            double height_tolerance_m);

}  // namespace layproof::frame
