#pragma once
// Plane angles: radians inside, degrees, degrees-minutes-seconds and gon at the doors.
// Directions and azimuths run clockwise, azimuths from north.

#include <numbers>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace layproof::measure {

inline constexpr double kPi = std::numbers::pi;
inline constexpr double kTwoPi = 2.0 * std::numbers::pi;
inline constexpr double kRadPerDeg = std::numbers::pi / 180.0;
inline constexpr double kRadPerGon = std::numbers::pi / 200.0;
inline constexpr double kRadPerArcsec = std::numbers::pi / 648000.0;
inline constexpr double kRadPerArcmin = std::numbers::pi / 10800.0;

enum class AngleUnit { degree, gon };

/// In [0, 2π). Finite input only (NaN and infinity give NaN). The result of an input just below 0
/// is 0, never 2π; −0 gives +0. Exact for inputs in [0, 2π).
double wrap_0_2pi(double angle_rad);

/// In (−π, π]. Finite input only (NaN and infinity give NaN). Exact for inputs in (−π, π]; the
/// sign of zero is kept.
double wrap_pi(double angle_rad);

/// Reads "123.4567", "-0.5", "123.4567°", "123-45-06.7", "123°45'06.7\"", "123°45.5'",
/// "123 45 06.7" as degrees, or a plain number as gon. The typographic ′ ″ ’ ” − and º are taken
/// for ' " - and °. Degrees and minutes are whole where a smaller part follows. A sign stands in
/// front and counts for all parts ("-0-30-00" is −0.5°). A decimal comma is refused. Returns
/// radians, not wrapped. Minutes and seconds must be below 60, the size of the whole at most 360°
/// (400 gon). Error codes: value_missing, not_an_angle, not_finite, angle_out_of_range; `place` is
/// copied into the refusal.
Result<double> parse_angle(std::string_view text, AngleUnit unit, const Place& place);

/// "123°45'06.7\"" with the given decimals of a second (0 to 9); carries 59.96" up instead of
/// showing 60". Not wrapped: 359°59'59.96" shows 360°00'00.0". What rounds to zero has no sign.
/// parse_angle reads it back within half the last decimal. "unknown" when not finite.
std::string format_dms(double angle_rad, int second_decimals);

/// format_dms of a direction or azimuth, wrapped after rounding: 359°59'59.96" shows 0°00'00.0".
std::string format_direction(double angle_rad, int second_decimals);

}  // namespace layproof::measure
