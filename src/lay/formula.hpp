#pragma once
// The formulas of a tolerance table: a limit that depends on a size of the thing built.
//
//   formula     condition ":" sum "else" sum  |  sum
//   condition   sum ("<=" | "<" | ">=" | ">") sum
//   sum         terms with + and −, products with * and /, brackets, numbers,
//               min(a;b;…), max(a;b;…), sqrt(a), and the sizes
//   sizes       H h height · L l length · W w width, in millimetres; with _m in metres, with _ft in
//               feet. A number followed by "m" is a length in metres, so "H<=30.48 m" compares
//               lengths.
// The result is in the table's unit, millimetres (degrees for angles).

#include <optional>
#include <string_view>

#include "base/result.hpp"

namespace layproof::lay {

/// Sizes of the thing a tolerance is for. What is not known stays nothing.
struct Sizes {
    std::optional<double> length_m;
    std::optional<double> height_m;
    std::optional<double> width_m;
    std::optional<double> diameter_m;  ///< of a rod; picks rows, stands in no formula
};

/// The formula's value. Refuses: value_missing when a size that it needs is not given;
/// out_of_range when a size is not above 0 and finite, or the result is not finite or negative;
/// word_unknown when the text is no formula. `place` is copied into the refusal.
Result<double> evaluate(std::string_view formula, const Sizes& sizes, const Place& place = {});

}  // namespace layproof::lay
