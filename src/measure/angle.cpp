#include "measure/angle.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <optional>

#include "measure/text_internal.hpp"

namespace layproof::measure {
namespace {

using internal::kDegree;
using internal::refuse;
using internal::Scanner;

constexpr double kArcsecPerTurn = 1296000.0;

std::string expected_angle(std::string_view text, AngleUnit unit) {
    std::string expected = unit == AngleUnit::gon ? "an angle in gon such as 137.1256"
                                                  : "an angle in degrees such as 123.4567, "
                                                    "123-45-06.7 or 123°45'06.7\"";
    if (text.find(',') != std::string_view::npos) expected += ", with a decimal point";
    return expected;
}

/// Degrees, minutes and seconds as typed, before any limit is checked.
struct Parts {
    double degrees = 0.0;
    double minutes = 0.0;
    double seconds = 0.0;
    bool negative = false;
};

/// The mark between two parts: one of '-', ' ', `mark`; blanks around the first and last are free.
std::optional<char> separator(Scanner& scan, char mark) {
    const bool blank = scan.skip_blanks();
    if (scan.take(mark)) {
        scan.skip_blanks();
        return mark;
    }
    if (scan.take('-')) {
        scan.skip_blanks();
        return '-';
    }
    if (blank) return ' ';
    return std::nullopt;
}

std::optional<Parts> read_parts(std::string_view text) {
    Scanner scan(text);
    Parts parts;
    parts.negative = scan.take('-');
    if (!parts.negative) scan.take('+');

    const auto degrees = scan.decimal();
    if (!degrees) return std::nullopt;
    parts.degrees = degrees->value;
    const auto first = separator(scan, kDegree);
    if (!first) return std::nullopt;  // a plain number was tried before
    if (scan.at_end()) return *first == kDegree ? std::optional(parts) : std::nullopt;

    const auto minutes = scan.decimal();
    if (!minutes || !degrees->is_whole) return std::nullopt;
    parts.minutes = minutes->value;
    if (scan.at_end()) return parts;
    const auto second = separator(scan, '\'');
    if (!second) return std::nullopt;
    if (scan.at_end()) return *second == '\'' ? std::optional(parts) : std::nullopt;
    // "123-45 06" is more likely two fields run together than an angle.
    if ((*first == kDegree) != (*second == '\'') || (*first != kDegree && *first != *second)) {
        return std::nullopt;
    }

    const auto seconds = scan.decimal();
    if (!seconds || !minutes->is_whole) return std::nullopt;
    parts.seconds = seconds->value;
    scan.skip_blanks();
    scan.take('"');
    return scan.at_end() ? std::optional(parts) : std::nullopt;
}

Result<double> in_range(double value, double limit, double rad_per_unit, std::string_view text,
                        std::string_view limit_text, const Place& place) {
    if (!std::isfinite(value)) {
        return refuse(ErrorCode::not_finite, text, "a finite angle", place);
    }
    if (std::abs(value) > limit) {
        return refuse(ErrorCode::angle_out_of_range, text,
                      fmt::format("an angle of at most {}", limit_text), place);
    }
    return value * rad_per_unit;
}

std::string show(std::int64_t units, bool negative, int decimals, std::int64_t per_second) {
    const std::int64_t whole = units / per_second;
    std::string text = fmt::format("{}{}°{:02}'{:02}", negative && units != 0 ? "-" : "",
                                   whole / 3600, whole / 60 % 60, whole % 60);
    if (decimals > 0) text += fmt::format(".{:0{}}", units % per_second, decimals);
    return text + '"';
}

std::string show_angle(double angle_rad, int second_decimals, bool wrap) {
    if (!std::isfinite(angle_rad)) return "unknown";
    const int decimals = std::clamp(second_decimals, 0, 9);
    std::int64_t per_second = 1;
    for (int i = 0; i < decimals; ++i) per_second *= 10;
    const double units = std::abs(angle_rad) / kRadPerArcsec * static_cast<double>(per_second);
    // Beyond this a double no longer holds the last decimal, and an integer soon not the whole.
    if (units > 9.0e15) return fmt::format("{}°", angle_rad / kRadPerDeg);
    auto rounded = static_cast<std::int64_t>(std::llround(units));
    if (wrap) rounded %= static_cast<std::int64_t>(kArcsecPerTurn) * per_second;
    return show(rounded, angle_rad < 0.0, decimals, per_second);
}

}  // namespace

double wrap_0_2pi(double angle_rad) {
    double wrapped = std::fmod(angle_rad, kTwoPi);
    if (wrapped < 0.0) wrapped += kTwoPi;
    // A tiny negative number plus 2π rounds to 2π itself.
    if (wrapped >= kTwoPi) wrapped = 0.0;
    return wrapped + 0.0;  // −0 becomes +0
}

double wrap_pi(double angle_rad) {
    // The IEEE remainder lies in [−π, π]; only −π itself is on the wrong side.
    const double wrapped = std::remainder(angle_rad, kTwoPi);
    return wrapped <= -kPi ? kPi : wrapped;
}

Result<double> parse_angle(std::string_view text, AngleUnit unit, const Place& place) {
    const std::string plain = internal::normalise(text);
    if (const auto number = internal::whole_number(plain)) {
        return unit == AngleUnit::gon
                   ? in_range(*number, 400.0, kRadPerGon, text, "400 gon", place)
                   : in_range(*number, 360.0, kRadPerDeg, text, "360 degrees", place);
    }
    const auto parts = unit == AngleUnit::degree ? read_parts(plain) : std::nullopt;
    if (!parts) {
        return refuse(ErrorCode::not_an_angle, text, expected_angle(plain, unit), place);
    }
    if (parts->minutes >= 60.0 || parts->seconds >= 60.0) {
        return refuse(ErrorCode::angle_out_of_range, text, "minutes and seconds below 60", place);
    }
    const double size = parts->degrees * 3600.0 + parts->minutes * 60.0 + parts->seconds;
    return in_range(parts->negative ? -size : size, kArcsecPerTurn, kRadPerArcsec, text,
                    "360 degrees", place);
}

std::string format_dms(double angle_rad, int second_decimals) {
    return show_angle(angle_rad, second_decimals, false);
}

std::string format_direction(double angle_rad, int second_decimals) {
    if (!std::isfinite(angle_rad)) return "unknown";
    return show_angle(wrap_0_2pi(angle_rad), second_decimals, true);
}

}  // namespace layproof::measure
