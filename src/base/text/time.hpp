#pragma once
// Times of day with their date and offset as text, ISO 8601. Gregorian, without leap seconds.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace layproof {

struct ZonedTime {
    double utc_s = 0.0;     ///< since 1970-01-01T00:00Z
    double offset_s = 0.0;  ///< how far the clock that was read is ahead of UTC
};

/// "2026-03-04T07:45:00-05:00", a blank instead of T, seconds and their decimals optional, offset
/// as ±hh:mm, ±hhmm, ±hh or Z; nothing else before or behind. Years 1900 to 2999, offsets up to
/// 14 h. Nothing for any other text: neither date nor offset is guessed.
std::optional<ZonedTime> read_time(std::string_view text);

/// Seconds that the clock of a time's text is ahead of UTC: "…-05:00" gives −18000. 0 where the
/// text is no time.
double clock_offset_s(std::string_view time_text);

// By a clock that is `offset_s` ahead of UTC, to the nearest second.

/// "10:02"; with seconds where they are not zero.
std::string clock_text(double utc_s, double offset_s);
/// "2031-05-15".
std::string calendar_day(double utc_s, double offset_s);
/// "2031-05-15T10:02:00-05:00".
std::string full_time(double utc_s, double offset_s);
/// "UTC-05:00".
std::string offset_words(double offset_s);

// UTC, rounded down; the time is milliseconds since 1970.

/// "2031-05-15 15:02:00Z"; before 1970 or after 9999 "… ms".
std::string utc_text(std::int64_t time_ms);
/// "2031-05-15T15:02:00.250Z"; before 1970 and after 9999 the nearest moment of those years.
std::string instant_text(std::int64_t time_ms);
/// "2031-05-15T15:02:00Z"; outside the years 1 to 9999 the first second of 1970.
std::string instant_to_second(std::int64_t time_ms);

}  // namespace layproof
