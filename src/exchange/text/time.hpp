#pragma once
// Times of day with their date and offset, ISO 8601.

#include <string_view>

#include "base/result.hpp"

namespace layproof::exchange {

/// "2026-03-04T07:45:00-05:00", a blank instead of T, seconds and their decimals optional, offset
/// as ±hh:mm, ±hhmm, ±hh or Z. Returns UTC seconds since 1970-01-01. A time without date or without
/// offset is refused: neither is guessed. Years 1900 to 2999, offsets up to 14 h. Error codes:
/// value_missing, time_not_read.
Result<double> parse_time(std::string_view text, const Place& place);

}  // namespace layproof::exchange
