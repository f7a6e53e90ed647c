#pragma once
// What people type into the fields of a page, on a phone's keypad too, brought into the words of
// our tables and read by the readers of the tables, so that a typed value is held to the same rules
// as one in a file.
//
// Angles: 123-45-06, 123.45.06, 123 45 06, 123°45'06", 123.5°, 137.12 gon. A plain decimal number
// is decimal degrees; one with four or more decimals that could as well be degrees, minutes and
// seconds run together (123.4506) is refused with the question.
// Lengths: in the unit given, or as typed (3.2 m, 40.5 ft, 12'-3 1/2"); in feet also 12-3 1/2 and
// 12 3 1/2. Feet marks of a metric job are international feet.
// Temperatures and pressures say their unit: 20 C, 68 F, 1013 hPa, 29.92 inHg.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "measure/length.hpp"

namespace layproof::acts {

class Fields;

/// A cell of one of our tables and the unit its header states; "" when it states none.
struct TypedCell {
    std::string text;
    std::string unit;
};

/// Fields that can be typed: direction, zenith, slope_distance, horizontal_distance, target_height,
/// instrument_height, east, north, height, time, temperature, pressure.
bool is_typed_field(std::string_view field);

/// Refuses value_missing, not_an_angle, unit_missing, for what cannot even be put into a cell.
Result<TypedCell> typed_cell(std::string_view field, std::string_view text,
                             std::optional<measure::LengthUnit> unit);

struct TypedValue {
    double value = 0.0;  ///< radians, metres, seconds since 1970, kelvin, hPa
    std::string shown;   ///< as it was understood, with its unit
};

/// Refuses as typed_cell and the readers of the tables do; never a value that is not finite.
Result<TypedValue> read_typed(std::string_view field, std::string_view text,
                              std::optional<measure::LengthUnit> unit);

/// What would be taken, in words.
std::string typed_hint(std::string_view field, std::optional<measure::LengthUnit> unit);

/// One field of the act "read".
struct ReadField {
    std::string field;
    bool ok = false;
    double value = 0.0;
    std::string shown;
    std::string says;  ///< why not; empty for an empty text
    std::string hint;
};

ReadField read_field(std::string_view field, std::string_view text,
                     std::optional<measure::LengthUnit> unit);

struct ReadAnswer {
    std::vector<ReadField> fields;
};
std::string to_json(const ReadAnswer& answer);
void describe(Fields& f, const ReadAnswer& answer);

}  // namespace layproof::acts
