#include "measure/length.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <numeric>

#include "measure/text_internal.hpp"

namespace layproof::measure {
namespace {

using internal::refuse;
using internal::Scanner;

struct UnitEntry {
    LengthUnit unit;
    std::string_view word;
    double metres;
    int decimals;        ///< shown of a length
    int small_decimals;  ///< shown of a small length
};

constexpr std::array<UnitEntry, 5> kUnits{{
    {LengthUnit::metre, "m", 1.0, 3, 1},
    {LengthUnit::millimetre, "mm", 0.001, 1, 1},
    {LengthUnit::foot, "ft", kMetresPerFoot, 3, 3},
    {LengthUnit::us_foot, "us-ft", kMetresPerUsFoot, 3, 3},
    {LengthUnit::inch, "in", kMetresPerInch, 2, 2},
}};

const UnitEntry& entry(LengthUnit unit) {
    for (const auto& candidate : kUnits) {
        if (candidate.unit == unit) return candidate;
    }
    return kUnits.front();
}

bool is_foot(LengthUnit unit) {
    return unit == LengthUnit::foot || unit == LengthUnit::us_foot;
}

std::string expected_length(std::string_view text, LengthUnit unit) {
    std::string expected = fmt::format("a length in {} such as 12.345", to_word(unit));
    if (is_foot(unit)) expected += " or 6'-0 1/2\"";
    if (text.find(',') != std::string_view::npos) expected += ", with a decimal point";
    return expected;
}

/// Feet and inches as typed. `problem` says what is out of range, empty when nothing is.
struct FeetInches {
    double feet = 0.0;
    double inches = 0.0;
    std::string_view problem;
};

/// Inches "5", "5.25", "3/4", "5 3/4", "5-3/4".
bool read_inches(Scanner& scan, FeetInches& read) {
    constexpr double kLargestDenominator = 1000.0;
    const auto first = scan.decimal();
    if (!first) return false;
    read.inches = first->value;
    auto numerator = first;
    double whole = 0.0;
    if (scan.peek() != '/') {
        Scanner ahead = scan;
        ahead.skip_blanks();
        if (ahead.take('-')) ahead.skip_blanks();
        numerator = ahead.decimal();
        if (!numerator || ahead.peek() != '/') return true;
        if (!first->is_whole) return false;
        whole = first->value;
        scan = ahead;
    }
    scan.take('/');
    const auto denominator = scan.decimal();
    if (!denominator || !numerator->is_whole || !denominator->is_whole) return false;
    if (denominator->value < 2.0 || denominator->value > kLargestDenominator ||
        numerator->value >= denominator->value) {
        read.problem = "a proper fraction of an inch such as 3/4";
        return true;
    }
    read.inches = whole + numerator->value / denominator->value;
    return true;
}

/// Unsigned feet-and-inches, the whole text.
std::optional<FeetInches> read_feet_inches(std::string_view text) {
    FeetInches read;
    bool has_feet = false;
    bool whole_feet = true;
    Scanner scan(text);
    Scanner ahead = scan;
    if (const auto feet = ahead.decimal()) {
        ahead.skip_blanks();
        if (ahead.take('\'')) {
            has_feet = true;
            whole_feet = feet->is_whole;
            read.feet = feet->value;
            scan = ahead;
            scan.skip_blanks();
            if (scan.at_end()) return read;
            if (scan.take('-')) scan.skip_blanks();
        }
    }
    if (!whole_feet || !read_inches(scan, read)) return std::nullopt;
    scan.skip_blanks();
    const bool marked = scan.take('"');
    // "5 3/4" alone may be feet or inches: one of the two marks has to say which.
    if (!scan.at_end() || (!marked && !has_feet)) return std::nullopt;
    if (has_feet && read.inches >= 12.0) read.problem = "inches below 12 after feet";
    return read;
}

struct Rounded {
    std::int64_t parts = 0;  ///< whole count of 1/denominator inch
    std::int64_t denominator = 16;
    bool negative = false;
    bool fits = false;
};

double metres_per_foot_of(const LengthStyle& style) {
    return style.unit == LengthUnit::us_foot ? kMetresPerUsFoot : kMetresPerFoot;
}

Rounded round_to_fraction(double length_m, const LengthStyle& style) {
    constexpr double kLargestCount = 9.0e15;  // past it a double holds no single fractions
    Rounded rounded;
    for (const int denominator : {2, 4, 8, 16, 32, 64}) {
        if (style.denominator == denominator) rounded.denominator = denominator;
    }
    const double parts = std::abs(length_m) / (metres_per_foot_of(style) / 12.0) *
                         static_cast<double>(rounded.denominator);
    rounded.fits = parts < kLargestCount;
    if (rounded.fits) rounded.parts = std::llround(parts);
    rounded.negative = length_m < 0.0 && rounded.parts != 0;
    return rounded;
}

/// "0", "3/8", "5", "5 3/8".
std::string inches_text(std::int64_t parts, std::int64_t denominator) {
    const std::int64_t whole = parts / denominator;
    const std::int64_t rest = parts % denominator;
    if (rest == 0) return fmt::format("{}", whole);
    const std::int64_t common = std::gcd(rest, denominator);
    const std::string fraction = fmt::format("{}/{}", rest / common, denominator / common);
    return whole == 0 ? fraction : fmt::format("{} {}", whole, fraction);
}

std::string feet_inches_text(const Rounded& rounded, const LengthStyle& style) {
    const std::int64_t per_foot = 12 * rounded.denominator;
    const std::int64_t inch_parts = rounded.parts % per_foot;
    // 6'-0 1/2", not 6'-1/2": the zero keeps the hyphen from being read as a sign.
    std::string inches = inches_text(inch_parts, rounded.denominator);
    if (inch_parts != 0 && inch_parts < rounded.denominator) inches = "0 " + inches;
    return fmt::format("{}{}'-{}\"{}", rounded.negative ? "-" : "", rounded.parts / per_foot,
                       inches, style.unit == LengthUnit::us_foot ? " us-ft" : "");
}

/// Decimal text without the sign of a zero.
std::string decimal_text(double value, int decimals) {
    std::string text = fmt::format("{:.{}f}", value, decimals);
    if (text.front() == '-' && text.find_first_of("123456789") == std::string::npos) {
        text.erase(0, 1);
    }
    return text;
}

}  // namespace

double metres_per(LengthUnit unit) {
    return entry(unit).metres;
}

std::string_view to_word(LengthUnit unit) {
    return entry(unit).word;
}

std::optional<LengthUnit> length_unit_from_word(std::string_view word) {
    for (const auto& candidate : kUnits) {
        if (candidate.word == word) return candidate.unit;
    }
    return std::nullopt;
}

Result<double> parse_length(std::string_view text, LengthUnit unit, const Place& place) {
    const std::string plain = internal::normalise(text);
    std::string_view body = plain;
    const std::string_view word = to_word(unit);
    if (body.size() > word.size() && body.substr(body.size() - word.size()) == word) {
        const std::string_view front = body.substr(0, body.size() - word.size());
        const char last = front.back();
        // The m of "mm" and the ft of "us-ft" are other units.
        if (last == ' ' || last == '.' || last == '"' || last == '\'' ||
            (last >= '0' && last <= '9')) {
            body = front.substr(0, front.find_last_not_of(' ') + 1);
        }
    }

    if (const auto number = internal::whole_number(body)) {
        const double length_m = *number * metres_per(unit);
        if (!std::isfinite(length_m)) {
            return refuse(ErrorCode::not_finite, text, "a finite length", place);
        }
        return length_m;
    }
    if (is_foot(unit) && !body.empty()) {
        const bool negative = body.front() == '-';
        if (negative || body.front() == '+') body.remove_prefix(1);
        if (const auto read = read_feet_inches(body)) {
            if (!read->problem.empty()) {
                return refuse(ErrorCode::out_of_range, text, std::string(read->problem), place);
            }
            const double length_m = (read->feet + read->inches / 12.0) * metres_per(unit);
            if (!std::isfinite(length_m)) {
                return refuse(ErrorCode::not_finite, text, "a finite length", place);
            }
            return negative ? -length_m : length_m;
        }
    }
    return refuse(ErrorCode::not_a_number, text, expected_length(plain, unit), place);
}

std::string format_length(double length_m, const LengthStyle& style) {
    if (!std::isfinite(length_m)) return "unknown";
    if (style.feet_and_inches) {
        const Rounded rounded = round_to_fraction(length_m, style);
        if (rounded.fits) return feet_inches_text(rounded, style);
    }
    const UnitEntry& unit = entry(style.unit);
    return fmt::format("{} {}", decimal_text(length_m / unit.metres, unit.decimals), unit.word);
}

std::string format_small(double length_m, const LengthStyle& style) {
    if (!std::isfinite(length_m)) return "unknown";
    if (style.feet_and_inches) {
        const Rounded rounded = round_to_fraction(length_m, style);
        if (rounded.parts >= 12 * rounded.denominator || !rounded.fits) {
            return format_length(length_m, style);
        }
        if (rounded.parts == 0 && length_m != 0.0) {
            return fmt::format("under 1/{} in", rounded.denominator);
        }
        return fmt::format("{}{} in", rounded.negative ? "-" : "",
                           inches_text(rounded.parts, rounded.denominator));
    }
    const UnitEntry& unit =
        entry(style.unit == LengthUnit::metre ? LengthUnit::millimetre : style.unit);
    return fmt::format("{} {}", decimal_text(length_m / unit.metres, unit.small_decimals),
                       unit.word);
}

}  // namespace layproof::measure
