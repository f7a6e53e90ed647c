#include "base/text/time.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

namespace layproof {
namespace {

constexpr std::int64_t kDay_s = 86400;
/// First seconds of the years 1 and 10000.
constexpr std::int64_t kYear1_s = -62'135'596'800;
constexpr std::int64_t kYear10000_s = 253'402'300'800;

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

struct Local {
    std::chrono::year_month_day date;
    int hour, minute, second;

    std::string day() const {
        return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()),
                           static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
    }
    std::string of_day() const { return fmt::format("{:02}:{:02}:{:02}", hour, minute, second); }
};

/// `unit` for each of what is counted, rounded down.
std::int64_t whole(std::int64_t count, std::int64_t unit) {
    return count / unit - (count % unit < 0 ? 1 : 0);
}

Local local_at(std::int64_t s) {
    const std::int64_t day = whole(s, kDay_s);
    const auto rest = static_cast<int>(s - day * kDay_s);
    return {std::chrono::sys_days{std::chrono::days{day}}, rest / 3600, rest / 60 % 60, rest % 60};
}

Local local_at(double utc_s, double offset_s) {
    return local_at(std::llround(utc_s + offset_s));
}

std::string offset_text(double offset_s) {
    const auto minutes = static_cast<int>(std::lround(std::abs(offset_s) / 60.0));
    return fmt::format("{}{:02}:{:02}", offset_s < 0.0 ? '-' : '+', minutes / 60, minutes % 60);
}

}  // namespace

std::optional<ZonedTime> read_time(std::string_view text) {
    Cursor cursor(text);
    const auto date = take_date(cursor);
    if (!date || !(cursor.take('T') || cursor.take('t') || cursor.take(' '))) return std::nullopt;
    const auto clock_s = take_clock(cursor);
    if (!clock_s) return std::nullopt;
    cursor.take(' ');
    const auto offset_s = take_offset(cursor);
    if (!offset_s || !cursor.at_end()) return std::nullopt;
    const auto day = static_cast<double>(date->time_since_epoch().count());
    return ZonedTime{day * 86400.0 + *clock_s - *offset_s, *offset_s};
}

double clock_offset_s(std::string_view time_text) {
    constexpr std::string_view kBlank = " \t\r\n";
    const std::size_t from = std::min(time_text.find_first_not_of(kBlank), time_text.size());
    const auto time =
        read_time(time_text.substr(from, time_text.find_last_not_of(kBlank) + 1 - from));
    return time ? time->offset_s : 0.0;
}

std::string clock_text(double utc_s, double offset_s) {
    const Local at = local_at(utc_s, offset_s);
    return at.second == 0 ? at.of_day().substr(0, 5) : at.of_day();
}

std::string calendar_day(double utc_s, double offset_s) {
    return local_at(utc_s, offset_s).day();
}

std::string full_time(double utc_s, double offset_s) {
    const Local at = local_at(utc_s, offset_s);
    return at.day() + "T" + at.of_day() + offset_text(offset_s);
}

std::string offset_words(double offset_s) {
    return "UTC" + offset_text(offset_s);
}

std::string utc_text(std::int64_t time_ms) {
    const std::int64_t seconds = whole(time_ms, 1000);
    if (seconds < 0 || seconds >= kYear10000_s) return fmt::format("{} ms", time_ms);
    const Local at = local_at(seconds);
    return at.day() + " " + at.of_day() + "Z";
}

std::string instant_text(std::int64_t time_ms) {
    const std::int64_t time = std::clamp<std::int64_t>(time_ms, 0, 1000 * kYear10000_s - 1);
    const Local at = local_at(time / 1000);
    return fmt::format("{}T{}.{:03}Z", at.day(), at.of_day(), time % 1000);
}

std::string instant_to_second(std::int64_t time_ms) {
    std::int64_t seconds = whole(time_ms, 1000);
    if (seconds < kYear1_s || seconds >= kYear10000_s) seconds = 0;
    const Local at = local_at(seconds);
    return at.day() + "T" + at.of_day() + "Z";
}

}  // namespace layproof
