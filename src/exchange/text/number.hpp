#pragma once
// Plain decimal numbers from text, free of locale.

#include <optional>
#include <string_view>

#include "base/result.hpp"

namespace layproof::exchange {

/// "12.5", "-3", "+1e-3". Error codes: value_missing, not_a_number, not_finite ("nan", "inf"),
/// out_of_range (beyond double).
Result<double> parse_number(std::string_view text, const Place& place);

/// A finite decimal number; blanks around it are no matter. Nothing else is taken.
std::optional<double> plain_double(std::string_view text);

}  // namespace layproof::exchange
