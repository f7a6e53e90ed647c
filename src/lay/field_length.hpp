#pragma once
// Small lengths as a crew marks them: whole steps of the tape in use.

#include <string>

#include "measure/length.hpp"

namespace layproof::lay {

/// The step that moves are rounded to: 1/denominator inch in feet-and-inches, 1 mm in metric units,
/// 0.005 ft in feet and 0.05 in in inches (about the same size; common practice, no source).
double step_of(const measure::LengthStyle& style);

/// Below half a step, or not finite.
bool rounds_to_zero(double length_m, const measure::LengthStyle& style);

/// The size of a length in whole steps, without sign: "1/4 in", "6 mm", "0.015 ft", "1.250 m".
/// "unknown" when not finite.
std::string field_length(double length_m, const measure::LengthStyle& style);

}  // namespace layproof::lay
