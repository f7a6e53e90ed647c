#pragma once
// A set-up as booked: how the instrument stands, at which mark, how high, in which air.

#include <optional>
#include <string>

#include "base/result.hpp"

namespace layproof::station {

/// free: anywhere. occupied: over a mark, orientation from sights. baseline: over a mark,
/// orientation from one other mark; the first control sight gives the line, further ones are checks
/// in the solution like any other.
enum class SetupKind { free, occupied, baseline };

struct Setup {
    std::string station;
    SetupKind kind = SetupKind::free;
    std::string mark;                           ///< occupied and baseline
    std::optional<double> instrument_height_m;  ///< axes over the mark (occupied, baseline)
    std::optional<double> time_s;
    std::string time_text;
    std::optional<double> temperature_k;
    std::optional<double> pressure_hpa;
    Place place;

    bool operator==(const Setup&) const = default;
};

}  // namespace layproof::station
