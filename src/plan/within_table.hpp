#pragma once
// P(point within tolerance) for a deviation about zero, fast enough to be asked millions of times:
// the circle from a table over radius / mean sd and the squared eccentricity of the variances,
//     s² = R² / m,  m = (var_a + var_b)/2,    x = ((var_a − var_b)²/4 + cov²) / m²  in [0, 1],
// which need no eigenvalues, times the height from a table over tolerance² / variance.
//
// Plan and height are taken as independent, which they are but for steep sights. The tables are
// filled from frame::probability_within_circle and erf and read linearly: within 1e-4 where the
// probability is at least one half, circle within 0.002 below (tested). A verdict asks above one
// half.
//
// A deviation about μ instead of zero: the density obeys the heat equation, so that with
// f(c) = P(Σ + cμμᵀ about zero) every even power of μ in P(Σ about μ) is one of c in f, its
// coefficient divided by 1·3·5···(2n − 1). Three readings have the right moments up to the sixth
// power:
//     P(Σ about μ) ≈ −5/3 f(0) + 25/9 f(2/5) − 1/9 f(1).
// Within 1e-3 for μᵀΣ⁻¹μ ≤ 1 where the probability is at least one half (tested).

#include <span>
#include <vector>

namespace layproof::plan {

/// One reading of f for many points at once; arrays of the same length.
struct Spreads {
    std::span<const float> along, right, both;  ///< variances and covariance in plan, m²
    std::span<const float> up;                  ///< variance of the height, m²
    std::span<const float> circle_square;       ///< tolerance in plan, squared
    std::span<const float> height_square;       ///< in height; infinite: not judged
};

class WithinTable {
public:
    WithinTable();

    /// Zero-mean deviation in plan with these variances along two axes at right angles and their
    /// covariance.
    double circle(double var_a, double var_b, double cov_ab, double radius_m) const;
    /// ± tolerance.
    static double height(double variance, double tolerance_m);

    /// Circle times height for each point; what is not finite is 0, at most kBlock points.
    void within(const Spreads& spreads, std::span<float> out) const;

    static constexpr std::size_t kBlock = 64;
    static constexpr float kShift[3] = {0.0F, 0.4F, 1.0F};
    static constexpr float kShare[3] = {-5.0F / 3.0F, 25.0F / 9.0F, -1.0F / 9.0F};

private:
    static constexpr int kRadii = 430;
    static constexpr int kShapes = 40;
    static constexpr int kHeights = 640;
    static constexpr float kLargest = 8.6F;   ///< s beyond which all is within (6 major sd)
    static constexpr float kHighest = 32.0F;  ///< tolerance² / variance, likewise
    std::vector<float> p_;                    ///< a row of radii for each shape
    std::vector<float> h_;
};

}  // namespace layproof::plan
