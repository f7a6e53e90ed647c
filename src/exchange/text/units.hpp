#pragma once
// The units that a column may state, and cells read in them.

#include <string_view>
#include <variant>

#include "base/result.hpp"
#include "measure/length.hpp"

namespace layproof::exchange {

enum class CellKind { text, length, angle, temperature, pressure, time };

/// degrees: 123.4567, 123-45-06.7 or 123°45'06.7". packed_dms: 123.45067 for 123°45'06.7", as field
/// books write it.
enum class AngleFormat { degrees, gon, packed_dms };
enum class TemperatureUnit { celsius, fahrenheit, kelvin };
enum class PressureUnit { hectopascal, mm_mercury, inch_mercury };

/// Nothing when the column states none.
using CellUnit =
    std::variant<std::monostate, measure::LengthUnit, AngleFormat, TemperatureUnit, PressureUnit>;

/// The unit that a word names in a column of this kind, without regard to case; nothing when it is
/// unknown there. Lengths: m mm ft us-ft in. Angles: deg dms gon packed-dms. Temperatures: C °C
/// degC F °F degF K. Pressures: hPa mbar mmHg inHg.
CellUnit unit_from_word(CellKind kind, std::string_view word);

/// The words of unit_from_word, for a refusal.
std::string_view known_units(CellKind kind);

/// Metres, as measure::parse_length; a column of inches takes fractions too: 1/8, 1/8", 5 3/4.
Result<double> read_length(std::string_view text, measure::LengthUnit unit, const Place& place);

/// Radians. packed_dms needs minutes and seconds below 60 like every other form. Error codes as
/// measure::parse_angle.
Result<double> read_angle(std::string_view text, AngleFormat format, const Place& place);

/// Kelvin; refuses what no site ever saw (outside −60 to 70 °C): out_of_range.
Result<double> read_temperature(std::string_view text, TemperatureUnit unit, const Place& place);

/// Hectopascals; refuses what no site ever saw (outside 300 to 1200 hPa): out_of_range.
/// 1 mmHg = 1.333224 hPa, 1 inHg = 33.86389 hPa (NIST SP 811, 2008, appendix B.8).
Result<double> read_pressure(std::string_view text, PressureUnit unit, const Place& place);

}  // namespace layproof::exchange
