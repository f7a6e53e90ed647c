#include "exchange/text/time.hpp"

#include <chrono>
#include <optional>

#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

class Cursor {
public:
    explicit Cursor(std::string_view text) : text_(text) {}

    bool at_end() const { return text_.empty(); }
    bool at_digit() const { return !at_end() && text_[0] >= '0' && text_[0] <= '9'; }

    bool take(char c) {
        if (at_end() || text_[0] != c) return false;
        text_.remove_prefix(1);
        return true;
    }

    std::optional<int> digits(int count) {
        int value = 0;
        for (int i = 0; i < count; ++i) {
            if (!at_digit()) return std::nullopt;
            value = value * 10 + (text_[0] - '0');
            text_.remove_prefix(1);
        }
        return value;
    }

    /// Decimals of a second, after the point.
    std::optional<double> decimals() {
        if (!at_digit()) return std::nullopt;
        double value = 0.0;
        double scale = 0.1;
        while (at_digit()) {
            value += scale * (text_[0] - '0');
            scale *= 0.1;
            text_.remove_prefix(1);
        }
        return value;
    }

private:
    std::string_view text_;
};

std::optional<std::chrono::sys_days> take_date(Cursor& cursor) {
    const auto year = cursor.digits(4);
    if (!year || !cursor.take('-')) return std::nullopt;
    const auto month = cursor.digits(2);
    if (!month || !cursor.take('-')) return std::nullopt;
    const auto day = cursor.digits(2);
    if (!day || *year < 1900 || *year > 2999) return std::nullopt;
    const std::chrono::year_month_day date{std::chrono::year{*year},
                                           std::chrono::month{static_cast<unsigned>(*month)},
                                           std::chrono::day{static_cast<unsigned>(*day)}};
    if (!date.ok()) return std::nullopt;
    return std::chrono::sys_days{date};
}

std::optional<double> take_clock(Cursor& cursor) {
    const auto hour = cursor.digits(2);
    if (!hour || *hour > 23 || !cursor.take(':')) return std::nullopt;
    const auto minute = cursor.digits(2);
    if (!minute || *minute > 59) return std::nullopt;
    double seconds = 0.0;
    if (cursor.take(':')) {
        const auto whole = cursor.digits(2);
        if (!whole || *whole > 59) return std::nullopt;
        seconds = *whole;
        if (cursor.take('.')) {
            const auto part = cursor.decimals();
            if (!part) return std::nullopt;
            seconds += *part;
        }
    }
    return *hour * 3600.0 + *minute * 60.0 + seconds;
}

std::optional<double> take_offset(Cursor& cursor) {
    if (cursor.take('Z') || cursor.take('z')) return 0.0;
    const bool is_minus = cursor.take('-');
    if (!is_minus && !cursor.take('+')) return std::nullopt;
    const auto hours = cursor.digits(2);
    if (!hours) return std::nullopt;
    int minutes = 0;
    if (!cursor.at_end()) {
        cursor.take(':');
        const auto read = cursor.digits(2);
        if (!read || *read > 59) return std::nullopt;
        minutes = *read;
    }
    const int total_min = *hours * 60 + minutes;
    if (total_min > 14 * 60) return std::nullopt;
    return (is_minus ? -60.0 : 60.0) * total_min;
}

std::optional<double> read_time(std::string_view text) {
    Cursor cursor(text);
    const auto date = take_date(cursor);
    if (!date || !(cursor.take('T') || cursor.take('t') || cursor.take(' '))) return std::nullopt;
    const auto clock_s = take_clock(cursor);
    if (!clock_s) return std::nullopt;
    cursor.take(' ');
    const auto offset_s = take_offset(cursor);
    if (!offset_s || !cursor.at_end()) return std::nullopt;
    return static_cast<double>(date->time_since_epoch().count()) * 86400.0 + *clock_s - *offset_s;
}

}  // namespace

Result<double> parse_time(std::string_view text, const Place& place) {
    constexpr auto kExpected =
        "a date and time with its offset from UTC, such as 2026-03-04T07:45:00-05:00";
    const std::string_view inside = trimmed(text);
    if (inside.empty()) return Refusal{ErrorCode::value_missing, place, "nothing", kExpected};
    if (const auto time = read_time(inside)) return *time;
    return Refusal{ErrorCode::time_not_read, place, in_quotes(text), kExpected};
}

}  // namespace layproof::exchange
