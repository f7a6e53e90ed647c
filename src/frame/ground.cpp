#include "frame/ground.hpp"

#include <cmath>

namespace layproof::frame {

double gaussian_radius_m(double semi_major_m, double inverse_flattening, double latitude_rad) {
    const double f = inverse_flattening > 0.0 ? 1.0 / inverse_flattening : 0.0;
    const double e2 = f * (2.0 - f);
    const double sine = std::sin(latitude_rad);
    return semi_major_m * std::sqrt(1.0 - e2) / (1.0 - e2 * sine * sine);
}

double elevation_factor(double radius_m, double ellipsoid_height_m) {
    const double sum = radius_m + ellipsoid_height_m;
    if (!std::isfinite(sum) || !(sum > 0.0) || !(radius_m > 0.0)) return 1.0;
    return radius_m / sum;
}

}  // namespace layproof::frame
