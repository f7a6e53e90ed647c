#include "exchange/text/time.hpp"

#include "base/text/time.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {

Result<double> parse_time(std::string_view text, const Place& place) {
    constexpr auto kExpected =
        "a date and time with its offset from UTC, such as 2026-03-04T07:45:00-05:00";
    const std::string_view inside = trimmed(text);
    if (inside.empty()) return Refusal{ErrorCode::value_missing, place, "nothing", kExpected};
    if (const auto time = read_time(inside)) return time->utc_s;
    return Refusal{ErrorCode::time_not_read, place, in_quotes(text), kExpected};
}

}  // namespace layproof::exchange
