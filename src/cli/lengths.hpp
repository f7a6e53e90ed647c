#pragma once
// Lengths and units typed on the command line.

#include <optional>
#include <string>

#include "measure/length.hpp"

namespace layproof::cli {

/// "m", "ft", "us-ft", "ft-in", "ft-in:32".
std::optional<measure::LengthStyle> read_style(const std::string& text);

/// "25 m", "80 ft", "80'-6\""; a bare number is in `unit`. Nothing when it is no length or nobody
/// says its unit.
std::optional<double> read_typed_length(const std::string& text,
                                        std::optional<measure::LengthUnit> unit);

}  // namespace layproof::cli
