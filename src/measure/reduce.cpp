#include "measure/reduce.hpp"

#include <algorithm>
#include <cmath>

#include "measure/angle.hpp"
#include "measure/atmosphere.hpp"
#include "measure/face.hpp"

namespace layproof::measure {
namespace {

constexpr double kSmallestSine = 1e-6;

/// Longer than any sight: past it squares overflow and results mean nothing.
constexpr double kLargestLength_m = 1e7;

bool is_length(double value_m) {
    return std::abs(value_m) <= kLargestLength_m;
}  // not NaN

bool is_given(const std::optional<double>& value) {
    return value && std::isfinite(*value);
}

/// Raw distance turned into the reduced one; 0 when there is none that can be used.
double reduced_distance(double read_m, const Sight& sight, const Instrument& instrument,
                        std::optional<double> temperature_k, std::optional<double> pressure_hpa) {
    if (!is_length(read_m) || read_m <= 0.0 || !is_length(sight.prism_constant_m)) return 0.0;
    if (sight.temperature_k) temperature_k = sight.temperature_k;
    if (sight.pressure_hpa) pressure_hpa = sight.pressure_hpa;
    double ppm = 0.0;
    if (temperature_k && pressure_hpa) {
        ppm = distance_correction_ppm(instrument, *temperature_k, *pressure_hpa).value_or(0.0);
    }
    const double distance_m = read_m * (1.0 + ppm * 1e-6) + sight.prism_constant_m;
    return is_length(distance_m) ? std::max(distance_m, 0.0) : 0.0;
}

void fill_covariance(ReducedSight& reduced, const Instrument& instrument, double assumed_distance_m,
                     double share_angle, double share_distance) {
    if (!is_length(assumed_distance_m)) assumed_distance_m = kAssumedDistance_m;
    const double zenith_rad = reduced.has_zenith ? reduced.zenith_rad : kPi / 2.0;
    const double distance_m = reduced.has_distance ? reduced.distance_m : assumed_distance_m;
    reduced.covariance =
        sight_covariance(instrument, distance_m, zenith_rad, reduced.target_height_m,
                         reduced.distance_is_horizontal, share_angle, share_distance);
}

}  // namespace

ReducedSight reduce(const Sight& sight, const Instrument& instrument,
                    std::optional<double> temperature_k, std::optional<double> pressure_hpa,
                    double assumed_distance_m) {
    ReducedSight reduced;
    if (!is_length(sight.target_height_m)) return reduced;
    reduced.target_height_m = sight.target_height_m;
    const bool face_two = face_of(sight) == Face::two;
    reduced.face_balance = face_two ? -1.0 : 1.0;

    if (is_given(sight.direction_rad)) {
        reduced.has_direction = true;
        reduced.direction_rad = wrap_0_2pi(*sight.direction_rad + (face_two ? kPi : 0.0));
    }
    if (is_given(sight.zenith_rad)) {
        reduced.has_zenith = true;
        reduced.zenith_rad = to_face_one({0.0, *sight.zenith_rad}).zenith_rad;
    }
    double read_m = sight.slope_distance_m.value_or(0.0);
    if (!sight.slope_distance_m && sight.horizontal_distance_m) {
        read_m = *sight.horizontal_distance_m;
        reduced.distance_is_horizontal = !reduced.has_zenith;
        // Near the vertical a horizontal distance says nothing about the slope distance.
        const double sine = std::sin(reduced.zenith_rad);
        if (reduced.has_zenith) read_m = sine > kSmallestSine ? read_m / sine : 0.0;
    }
    reduced.distance_m = reduced_distance(read_m, sight, instrument, temperature_k, pressure_hpa);
    reduced.has_distance = reduced.distance_m > 0.0;
    if (!reduced.has_distance) reduced.distance_is_horizontal = false;
    fill_covariance(reduced, instrument, assumed_distance_m, 1.0, 1.0);
    return reduced;
}

std::optional<ReducedPair> reduce_pair(const Sight& face_one, const Sight& face_two,
                                       const Instrument& instrument,
                                       std::optional<double> temperature_k,
                                       std::optional<double> pressure_hpa,
                                       double assumed_distance_m) {
    const Face first = face_of(face_one);
    const Face second = face_of(face_two);
    if (first == Face::two && second == Face::one) {
        return reduce_pair(face_two, face_one, instrument, temperature_k, pressure_hpa,
                           assumed_distance_m);
    }
    if (first != Face::one || second != Face::two) return std::nullopt;
    const ReducedSight one =
        reduce(face_one, instrument, temperature_k, pressure_hpa, assumed_distance_m);
    const ReducedSight two =
        reduce(face_two, instrument, temperature_k, pressure_hpa, assumed_distance_m);
    if (!(std::abs(one.target_height_m - two.target_height_m) <= kSameTargetHeight_m)) {
        return std::nullopt;
    }
    if (one.size() == 0 || two.size() == 0) return std::nullopt;
    if (one.has_distance && two.has_distance &&
        one.distance_is_horizontal != two.distance_is_horizontal) {
        return std::nullopt;
    }

    ReducedPair pair;
    ReducedSight& mean = pair.sight;
    mean.target_height_m = one.target_height_m;
    mean.pointings = 2;
    mean.face_balance = 0.0;
    bool angles_in_both = true;
    // reduce() has turned face two into face one, so half the difference is the correction.
    mean.has_direction = one.has_direction || two.has_direction;
    if (one.has_direction && two.has_direction) {
        const auto direction = mean_of_faces_direction(one.direction_rad, two.direction_rad + kPi);
        mean.direction_rad = direction.direction_rad;
        pair.collimation_rad = direction.collimation_rad;
    } else if (mean.has_direction) {
        mean.direction_rad = one.has_direction ? one.direction_rad : two.direction_rad;
        mean.face_balance = one.has_direction ? 1.0 : -1.0;
        angles_in_both = false;
    }
    mean.has_zenith = one.has_zenith || two.has_zenith;
    if (one.has_zenith && two.has_zenith) {
        const auto zenith = mean_of_faces_zenith(one.zenith_rad, kTwoPi - two.zenith_rad);
        mean.zenith_rad = std::clamp(zenith.zenith_rad, 0.0, kPi);
        pair.index_rad = zenith.index_rad;
    } else if (mean.has_zenith) {
        mean.zenith_rad = one.has_zenith ? one.zenith_rad : two.zenith_rad;
        mean.face_balance = one.has_zenith ? 1.0 : -1.0;
        angles_in_both = false;
    }
    mean.has_distance = one.has_distance || two.has_distance;
    const bool distance_in_both = one.has_distance && two.has_distance;
    mean.distance_is_horizontal = one.distance_is_horizontal || two.distance_is_horizontal;
    if (distance_in_both) {
        pair.distance_difference_m = two.distance_m - one.distance_m;
        mean.distance_m = one.distance_m + *pair.distance_difference_m / 2.0;
    } else if (mean.has_distance) {
        mean.distance_m = one.has_distance ? one.distance_m : two.distance_m;
    }
    fill_covariance(mean, instrument, assumed_distance_m, angles_in_both ? 2.0 : 1.0,
                    distance_in_both ? 2.0 : 1.0);
    return pair;
}

}  // namespace layproof::measure
