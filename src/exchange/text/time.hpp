#pragma once
// Times of day with their date and offset, as files state them.

#include <string_view>

#include "base/result.hpp"

namespace layproof::exchange {

/// Seconds since 1970, UTC, of a text that read_time reads, blanks around it allowed. A time
/// without date or without offset is refused: neither is guessed. Error codes: value_missing,
/// time_not_read.
Result<double> parse_time(std::string_view text, const Place& place);

}  // namespace layproof::exchange
