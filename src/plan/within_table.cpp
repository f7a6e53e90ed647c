#include "plan/within_table.hpp"

#include <algorithm>
#include <cmath>

#include "frame/conformity.hpp"

namespace layproof::plan {

WithinTable::WithinTable() : p_(static_cast<std::size_t>((kRadii + 1) * (kRatios + 1))) {
    for (int q = 0; q <= kRatios; ++q)
        for (int u = 0; u <= kRadii; ++u) {
            const double minor = static_cast<double>(q) / kRatios;
            Eigen::Matrix2d c = Eigen::Matrix2d::Identity();
            c(1, 1) = minor * minor;
            p_[static_cast<std::size_t>(q * (kRadii + 1) + u)] =
                static_cast<float>(frame::probability_within_circle(Eigen::Vector2d::Zero(), c,
                                                                    kLargest * u / kRadii));
        }
}

double WithinTable::circle(double var_a, double var_b, double cov_ab, double radius_m) const {
    const double mean = 0.5 * (var_a + var_b);
    const double half = 0.5 * (var_a - var_b);
    const double root = std::sqrt(half * half + cov_ab * cov_ab);
    const double major = mean + root;
    if (!(major > 0.0)) return radius_m >= 0.0 ? 1.0 : 0.0;
    const double scale = 1.0 / std::sqrt(major);
    const double u = radius_m * scale * (kRadii / kLargest);
    if (!(u >= 0.0)) return 0.0;
    if (u >= kRadii) return 1.0;
    const double q = std::sqrt(std::max(mean - root, 0.0)) * scale * kRatios;
    const int iu = static_cast<int>(u);
    const int iq = std::min(static_cast<int>(q), kRatios - 1);
    const double fu = u - iu;
    const double fq = q - iq;
    const float* row = p_.data() + iq * (kRadii + 1) + iu;
    const float* next = row + kRadii + 1;
    const double low = row[0] + fu * (static_cast<double>(row[1]) - row[0]);
    const double high = next[0] + fu * (static_cast<double>(next[1]) - next[0]);
    return low + fq * (high - low);
}

double WithinTable::height(double variance, double tolerance_m) {
    if (!(variance > 0.0)) return tolerance_m >= 0.0 ? 1.0 : 0.0;
    return std::erf(tolerance_m / std::sqrt(2.0 * variance));
}

}  // namespace layproof::plan
