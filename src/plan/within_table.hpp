#pragma once
// P(point within tolerance) for a deviation about zero, fast enough to be asked millions of times:
// the circle from a table over radius / major sd and minor / major sd, times the height.
//
// Plan and height are taken as independent, which they are but for steep sights. The table is
// filled from frame::probability_within_circle and read bilinearly: within 1e-4 where the circle
// holds at least half, within 0.002 below (tested). A verdict asks above one half.

#include <vector>

namespace layproof::plan {

class WithinTable {
public:
    WithinTable();

    /// Zero-mean deviation in plan with these variances along two axes at right angles and their
    /// covariance.
    double circle(double var_a, double var_b, double cov_ab, double radius_m) const;
    /// ± tolerance.
    static double height(double variance, double tolerance_m);

private:
    static constexpr int kRadii = 300;
    static constexpr int kRatios = 64;
    static constexpr double kLargest = 6.0;  ///< radius over major sd beyond which all is within
    std::vector<float> p_;
};

}  // namespace layproof::plan
