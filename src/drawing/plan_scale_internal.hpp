#pragma once
// Round lengths for scale bars and coordinate ticks, in the unit the job is shown in.

#include <string>

#include "measure/length.hpp"

namespace layproof::drawing {

struct RoundLength {
    double length_m = 0.0;
    std::string text;  ///< with its unit
};

/// The largest round length of site size (1, 2 or 5 times a power of ten metres or feet) that is
/// not above `most_m`. most_m > 0 and finite; 1e-6 to 1e12 of the unit are told apart.
RoundLength round_site_length(double most_m, const measure::LengthStyle& style);

/// The same for small lengths: 1, 2, 5 times a power of ten millimetres; hundredths of a foot and
/// so on; for feet and inches 1/64 in doubled up to 2 in, then 3, 6 in, 1 ft, 2 ft, 5 ft.
RoundLength round_small_length(double most_m, const measure::LengthStyle& style);

/// Metres in the unit coordinates are shown in.
double site_unit_m(const measure::LengthStyle& style);

/// Word of that unit: "m", "ft", "us-ft".
std::string site_unit_word(const measure::LengthStyle& style);

/// A round coordinate with its unit, thousands parted by no-break spaces: "2 000 050 ft".
/// `step` is the distance between ticks in the unit; it decides the decimals.
std::string coordinate_text(double in_unit, double step, const measure::LengthStyle& style);

}  // namespace layproof::drawing
