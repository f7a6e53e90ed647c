#pragma once
// A control mark as its sheet gives it, and a design point to be laid. Site frame: east, north,
// height.

#include <optional>
#include <string>

#include "base/result.hpp"

namespace layproof::frame {

/// Default standard deviation of a mark's coordinate, per axis, where its sheet gives none
/// (engineering judgement, no source).
inline constexpr double kDefaultMarkSd_m = 0.0015;

/// Plan known: both east and north given. Height known: height given. At least one of the two.
struct Mark {
    std::string name;
    std::optional<double> east_m;
    std::optional<double> north_m;
    std::optional<double> height_m;
    double sd_east_m = kDefaultMarkSd_m;
    double sd_north_m = kDefaultMarkSd_m;
    double sd_height_m = kDefaultMarkSd_m;
    std::string role;
    std::string note;
    Place place;

    bool has_plan() const { return east_m.has_value() && north_m.has_value(); }
    bool has_height() const { return height_m.has_value(); }
    bool operator==(const Mark&) const = default;
};

/// A point to be laid. Tolerances are half-widths: plan as a radius around the design position,
/// height as ±.
struct DesignPoint {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    std::optional<double> height_m;
    std::string element;
    std::optional<double> tolerance_plan_m;
    std::optional<double> tolerance_height_m;
    std::string note;
    Place place;
};

}  // namespace layproof::frame
