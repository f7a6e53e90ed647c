#pragma once
// Distance arithmetic: curvature and refraction, slope to horizontal, instrument height from a
// staff, elevation factor.

#include <optional>
#include <span>

#include "measure/sight_model.hpp"

namespace layproof::measure {

/// How much higher a target is than a straight line through the instrument's horizon says: earth
/// curvature less refraction, (1 − k)·d²/(2R). At k = 0.13: 0.17 mm at 50 m, 0.7 mm at 100 m, 17 mm
/// at 500 m. First order in d/R: the next term is below 1e-7 of it up to 1 km.
double curvature_refraction_m(double horizontal_m, double refraction_k,
                              double radius_m = kEarthRadius_m);

struct Slope {
    double horizontal_m = 0.0;
    double height_difference_m = 0.0;  ///< ground at the target less ground at the instrument
};

/// horizontal = D sin z; height difference = instrument height + D cos z − target height. Without
/// curvature and refraction (add curvature_refraction_m for long sights). Face one.
Slope reduce_slope(double slope_distance_m, double zenith_rad, double instrument_height_m,
                   double target_height_m);

/// The height of the instrument's axes over a mark on which a vertical staff stands.
struct StaffHeight {
    double height_m = 0.0;  ///< mean over neighbouring graduations
    double sd_m = 0.0;      ///< of one such pair, divisor n − 1; 0 with a single pair
    int pairs = 0;
    double fitted_height_m = 0.0;  ///< least squares line over all graduations
    double distance_m = 0.0;       ///< horizontal, from that line
};

/// Zenith angles to graduations `lowest_m`, `lowest_m + spacing_m`, ... over the mark, bottom to
/// top. A graduation at height g shows cot z = (g − h)/d, so each neighbouring pair gives d =
/// spacing/(cot z₂ − cot z₁) and h = g₁ − d·cot z₁; the fitted line is g = h + d·cot z. The fitted
/// height uses all graduations with their leverage and is the better value; the pairs show whether
/// the readings agree. Nothing below two graduations, when two neighbouring angles do not grow
/// upwards, or when an input is not finite, a zenith angle not inside (0, π) or the spacing not
/// above 0.
std::optional<StaffHeight> instrument_height_from_staff(std::span<const double> zenith_rad,
                                                        double lowest_m, double spacing_m);

/// Distance on the ellipsoid per distance at height H: R/(R + H). radius_m + height_m > 0. Grid
/// distance = ground distance × grid scale × elevation factor.
double elevation_factor(double height_m, double radius_m = kEarthRadius_m);

}  // namespace layproof::measure
