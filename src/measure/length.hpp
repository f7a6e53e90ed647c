#pragma once
// Lengths: metres inside; m, ft (international, 0.3048 m exactly), us-ft (1200/3937 m exactly) at
// the doors, feet-and-inches for reading and showing. Source of both feet: NIST Federal Register
// notice of 5 October 2020 (85 FR 62698).

#include <optional>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace layproof::measure {

enum class LengthUnit { metre, millimetre, foot, us_foot, inch };

inline constexpr double kMetresPerFoot = 0.3048;
inline constexpr double kMetresPerUsFoot = 1200.0 / 3937.0;
inline constexpr double kMetresPerInch = 0.0254;

/// Metres in one unit.
double metres_per(LengthUnit unit);

/// "m", "mm", "ft", "us-ft", "in".
std::string_view to_word(LengthUnit unit);
/// Exact words only ("m", "mm", "ft", "us-ft", "in"); anything else is nothing.
std::optional<LengthUnit> length_unit_from_word(std::string_view word);

/// Reads a plain decimal number in `unit` ("12.345", "-3"), or, when the unit is a foot,
/// feet-and-inches: 6'-0 1/2", 6' 0-1/2", 6'-0.5", 6', 6.5', 5 3/4", -0'-3". The typographic
/// ′ ″ ’ ” are taken for ' and ". The word of the unit may follow ("12.345 m"), the word of another
/// unit is refused. A sign stands in front and counts for the whole; a hyphen after the feet is a
/// separator. The inches of a us-ft file are twelfths of a us-ft. Inches must be below 12 when feet
/// are given; a fraction must be proper. A decimal comma is refused. Returns metres. Error codes:
/// value_missing, not_a_number, not_finite, out_of_range.
Result<double> parse_length(std::string_view text, LengthUnit unit, const Place& place);

/// How lengths are shown. ft_in: feet, inches and the nearest 1/denominator inch. Feet-and-inches
/// of any unit but us_foot are international.
struct LengthStyle {
    LengthUnit unit = LengthUnit::metre;
    bool feet_and_inches = false;
    int denominator = 16;  ///< of an inch: 2, 4, 8, 16, 32 or 64; anything else counts as 16
};

/// A coordinate or length with its unit, to 1 mm or finer: "12.345 m", "12.3 mm", "40.500 ft",
/// "40.500 us-ft", "12.35 in", "6'-0 1/2\"" (of a us-ft: "6'-0 1/2\" us-ft"). What rounds to zero
/// has no sign. parse_length reads it back within half the last decimal or fraction. "unknown"
/// when not finite.
std::string format_length(double length_m, const LengthStyle& style);

/// A small length (a deviation, a standard deviation) with its unit: "3.2 mm" (metre style too),
/// "0.011 ft", "0.13 in", "1/8 in", "-1 1/8 in". Feet-and-inches style rounds to the nearest
/// fraction, says "under 1/16 in" for what rounds to zero and is not zero, and shows what reaches a
/// foot like format_length. "unknown" when not finite.
std::string format_small(double length_m, const LengthStyle& style);

}  // namespace layproof::measure
