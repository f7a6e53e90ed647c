#include "measure/reduction.hpp"

#include <cmath>
#include <vector>

#include "measure/spread.hpp"

namespace layproof::measure {

double curvature_refraction_m(double horizontal_m, double refraction_k, double radius_m) {
    return (1.0 - refraction_k) * horizontal_m * horizontal_m / (2.0 * radius_m);
}

Slope reduce_slope(double slope_distance_m, double zenith_rad, double instrument_height_m,
                   double target_height_m) {
    return {slope_distance_m * std::sin(zenith_rad),
            instrument_height_m + slope_distance_m * std::cos(zenith_rad) - target_height_m};
}

std::optional<StaffHeight> instrument_height_from_staff(std::span<const double> zenith_rad,
                                                        double lowest_m, double spacing_m) {
    if (zenith_rad.size() < 2 || !std::isfinite(lowest_m) || !std::isfinite(spacing_m) ||
        spacing_m <= 0.0) {
        return std::nullopt;
    }
    std::vector<double> cotangents;
    for (const double zenith : zenith_rad) {
        if (!(zenith > 0.0 && zenith < kPi)) return std::nullopt;
        cotangents.push_back(std::cos(zenith) / std::sin(zenith));
    }
    std::vector<double> heights;
    for (std::size_t i = 0; i + 1 < cotangents.size(); ++i) {
        const double rise = cotangents[i + 1] - cotangents[i];
        if (!(rise > 0.0)) return std::nullopt;
        const double graduation_m = lowest_m + static_cast<double>(i) * spacing_m;
        heights.push_back(graduation_m - spacing_m / rise * cotangents[i]);
        if (!std::isfinite(heights.back())) return std::nullopt;
    }
    const Spread spread = spread_of(heights);

    // Line g = h + d·cot z, about the means.
    const double count = static_cast<double>(cotangents.size());
    const double mean_cotangent = spread_of(cotangents).mean;
    const double mean_graduation_m = lowest_m + spacing_m * (count - 1.0) / 2.0;
    double products = 0.0;
    double squares = 0.0;
    for (std::size_t i = 0; i < cotangents.size(); ++i) {
        const double x = cotangents[i] - mean_cotangent;
        products += x * (lowest_m + static_cast<double>(i) * spacing_m - mean_graduation_m);
        squares += x * x;
    }
    StaffHeight result;
    result.height_m = spread.mean;
    result.sd_m = spread.sd.value_or(0.0);
    result.pairs = spread.count;
    result.distance_m = products / squares;
    result.fitted_height_m = mean_graduation_m - result.distance_m * mean_cotangent;
    return result;
}

double elevation_factor(double height_m, double radius_m) {
    return radius_m / (radius_m + height_m);
}

}  // namespace layproof::measure
