#pragma once
// What an instrument gives for one pointing, and what is booked with it. Knows no coordinates.

#include <optional>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace layproof::measure {

enum class Purpose { control, check, lay, other };

/// "control", "check", "lay", "other".
constexpr std::string_view to_word(Purpose purpose) {
    switch (purpose) {
        case Purpose::control:
            return "control";
        case Purpose::check:
            return "check";
        case Purpose::lay:
            return "lay";
        case Purpose::other:
            break;
    }
    return "other";
}

/// Nothing for any other word.
constexpr std::optional<Purpose> purpose_of(std::string_view word) {
    for (const Purpose one : {Purpose::control, Purpose::check, Purpose::lay, Purpose::other})
        if (to_word(one) == word) return one;
    return std::nullopt;
}

/// Whether the sight is to a mark that is known: what places the instrument or tests its place.
constexpr bool is_to_mark(Purpose purpose) {
    return purpose == Purpose::control || purpose == Purpose::check;
}

enum class Face { unknown, one, two };

/// One booked pointing. Angles in radians as read (not wrapped, face not reduced); lengths in
/// metres. At least one of direction, zenith, slope_distance, horizontal_distance is given.
struct Sight {
    std::string station;
    std::string target;
    std::optional<double> direction_rad;
    std::optional<double> zenith_rad;
    std::optional<double> slope_distance_m;
    std::optional<double> horizontal_distance_m;  ///< only without a zenith angle
    double target_height_m = 0.0;
    Face face = Face::unknown;
    Purpose purpose = Purpose::control;
    double prism_constant_m = 0.0;  ///< added to the distance read
    std::optional<double> temperature_k;
    std::optional<double> pressure_hpa;
    std::optional<double> time_s;  ///< UTC seconds since 1970-01-01
    std::string time_text;         ///< as written, with the site's offset
    std::string note;
    Place place;  ///< where it was read

    bool operator==(const Sight&) const = default;
};

}  // namespace layproof::measure
