#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdint>

#include "acts/shared/watch_clock.hpp"

namespace layproof::acts::internal {
namespace {

constexpr std::int64_t kDay_s = 86400;
/// Signs before this belong to the date.
constexpr std::size_t kDateLength = 10;

struct Local {
    std::chrono::year_month_day date;
    int hour, minute, second;
};

Local local(double utc_s, double offset_s) {
    const std::int64_t s = std::llround(utc_s + offset_s);
    const std::int64_t day = s >= 0 ? s / kDay_s : -((-s + kDay_s - 1) / kDay_s);
    const auto rest = static_cast<int>(s - day * kDay_s);
    return {std::chrono::sys_days{std::chrono::days{day}}, rest / 3600, rest / 60 % 60, rest % 60};
}

std::string offset_text(double offset_s) {
    const auto minutes = static_cast<int>(std::lround(std::abs(offset_s) / 60.0));
    return fmt::format("{}{:02}:{:02}", offset_s < 0.0 ? '-' : '+', minutes / 60, minutes % 60);
}

}  // namespace

double clock_offset_s(std::string_view text) {
    const std::size_t sign = text.find_last_of("+-");
    if (sign == std::string_view::npos || sign < kDateLength) return 0.0;
    int digits[4] = {0, 0, 0, 0};
    int n = 0;
    for (const char c : text.substr(sign + 1))
        if (c >= '0' && c <= '9' && n < 4) digits[n++] = c - '0';
    const double minutes = 60.0 * (10 * digits[0] + digits[1]) + 10 * digits[2] + digits[3];
    return (text[sign] == '-' ? -60.0 : 60.0) * minutes;
}

std::string clock(double utc_s, double offset_s) {
    const Local at = local(utc_s, offset_s);
    if (at.second == 0) return fmt::format("{:02}:{:02}", at.hour, at.minute);
    return fmt::format("{:02}:{:02}:{:02}", at.hour, at.minute, at.second);
}

std::string calendar_day(double utc_s, double offset_s) {
    const Local at = local(utc_s, offset_s);
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(at.date.year()),
                       static_cast<unsigned>(at.date.month()),
                       static_cast<unsigned>(at.date.day()));
}

std::string full_time(double utc_s, double offset_s) {
    const Local at = local(utc_s, offset_s);
    return fmt::format("{}T{:02}:{:02}:{:02}{}", calendar_day(utc_s, offset_s), at.hour, at.minute,
                       at.second, offset_text(offset_s));
}

std::string offset_words(double offset_s) {
    return "UTC" + offset_text(offset_s);
}

}  // namespace layproof::acts::internal
