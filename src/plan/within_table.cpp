#include "plan/within_table.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "frame/conformity.hpp"

namespace layproof::plan {

WithinTable::WithinTable() {
    p_.reserve(static_cast<std::size_t>((kRadii + 1) * (kShapes + 1)));
    for (int q = 0; q <= kShapes; ++q)
        for (int u = 0; u <= kRadii; ++u) {
            const double eccentric = std::sqrt(static_cast<double>(q) / kShapes);
            Eigen::Matrix2d c = Eigen::Matrix2d::Zero();
            c.diagonal() << 1.0 + eccentric, 1.0 - eccentric;
            p_.push_back(static_cast<float>(frame::probability_within_circle(
                Eigen::Vector2d::Zero(), c, static_cast<double>(kLargest) * u / kRadii)));
        }
    for (int u = 0; u <= kHeights; ++u)
        h_.push_back(static_cast<float>(
            std::erf(std::sqrt(0.5 * static_cast<double>(kHighest) * u / kHeights))));
}

double WithinTable::circle(double var_a, double var_b, double cov_ab, double radius_m) const {
    if (!(radius_m >= 0.0) || !std::isfinite(var_a + var_b + cov_ab)) return 0.0;
    if (!(var_a + var_b > 0.0)) return 1.0;
    const std::array<float, 4> c{static_cast<float>(var_a), static_cast<float>(var_b),
                                 static_cast<float>(cov_ab), 0.0F};
    const float square = static_cast<float>(radius_m * radius_m);
    const float open = INFINITY;
    float out = 0.0F;
    within({{c.data(), 1},
            {c.data() + 1, 1},
            {c.data() + 2, 1},
            {c.data() + 3, 1},
            {&square, 1},
            {&open, 1}},
           {&out, 1});
    return static_cast<double>(out);
}

double WithinTable::height(double variance, double tolerance_m) {
    if (!(variance > 0.0)) return tolerance_m >= 0.0 ? 1.0 : 0.0;
    return std::erf(tolerance_m / std::sqrt(2.0 * variance));
}

void WithinTable::within(const Spreads& spreads, std::span<float> out) const {
    constexpr float kPerRadius = static_cast<float>(kRadii) / kLargest;
    constexpr float kPerHeight = static_cast<float>(kHeights) / kHighest;
    // Below the last cell, so that its neighbour is there.
    constexpr float kLastRadius = static_cast<float>(kRadii) - 1e-3F;
    constexpr float kLastShape = static_cast<float>(kShapes) - 1e-4F;
    constexpr float kLastHeight = static_cast<float>(kHeights) - 1e-3F;
    const std::size_t n = std::min(out.size(), kBlock);
    alignas(64) std::array<float, kBlock> radius;
    alignas(64) std::array<float, kBlock> shape;
    alignas(64) std::array<float, kBlock> height;
    // Branchless comparisons of which not-a-number fails the first: it reads 0.
    for (std::size_t i = 0; i < n; ++i) {
        const float mean = 0.5F * (spreads.along[i] + spreads.right[i]);
        const float half = 0.5F * (spreads.along[i] - spreads.right[i]);
        const float s = std::sqrt(spreads.circle_square[i] / mean) * kPerRadius;
        const float x = (half * half + spreads.both[i] * spreads.both[i]) / (mean * mean) *
                        static_cast<float>(kShapes);
        const float h = spreads.height_square[i] / spreads.up[i] * kPerHeight;
        const float s0 = s > 0.0F ? s : 0.0F;
        const float x0 = x > 0.0F ? x : 0.0F;
        const float h0 = h > 0.0F ? h : 0.0F;
        radius[i] = s0 < kLastRadius ? s0 : kLastRadius;
        shape[i] = x0 < kLastShape ? x0 : kLastShape;
        height[i] = h0 < kLastHeight ? h0 : kLastHeight;
    }
    for (std::size_t i = 0; i < n; ++i) {
        const int iu = static_cast<int>(radius[i]);
        const int iq = static_cast<int>(shape[i]);
        const int ih = static_cast<int>(height[i]);
        const float fu = radius[i] - static_cast<float>(iu);
        const float fq = shape[i] - static_cast<float>(iq);
        const float fh = height[i] - static_cast<float>(ih);
        const float* row = p_.data() + iq * (kRadii + 1) + iu;
        const float* next = row + kRadii + 1;
        const float* up = h_.data() + ih;
        const float low = row[0] + fu * (row[1] - row[0]);
        const float high = next[0] + fu * (next[1] - next[0]);
        out[i] = (low + fq * (high - low)) * (up[0] + fh * (up[1] - up[0]));
    }
}

}  // namespace layproof::plan
