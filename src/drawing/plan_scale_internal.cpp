#include "drawing/plan_scale_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace layproof::drawing {
namespace {

using measure::LengthUnit;

bool is_metric(LengthUnit unit) {
    return unit == LengthUnit::metre || unit == LengthUnit::millimetre;
}

/// 1, 2 or 5 times a power of ten, not above `most`.
double round_number(double most) {
    const double clamped = std::clamp(most, 1e-6, 1e12);
    const double power = std::pow(10.0, std::floor(std::log10(clamped) + 1e-12));
    for (const double step : {5.0, 2.0, 1.0}) {
        if (step * power <= clamped * (1.0 + 1e-12)) return step * power;
    }
    return power;
}

std::string plain(double value) {
    const int decimals = value >= 1.0 ? 0 : static_cast<int>(std::ceil(-std::log10(value) - 1e-9));
    return fmt::format("{:.{}f}", value, std::clamp(decimals, 0, 9));
}

struct InchStep {
    double inches;
    const char* text;
};

constexpr std::array<InchStep, 14> kInchSteps{{{1.0 / 64.0, "1/64 in"},
                                               {1.0 / 32.0, "1/32 in"},
                                               {1.0 / 16.0, "1/16 in"},
                                               {1.0 / 8.0, "1/8 in"},
                                               {1.0 / 4.0, "1/4 in"},
                                               {1.0 / 2.0, "1/2 in"},
                                               {1.0, "1 in"},
                                               {2.0, "2 in"},
                                               {3.0, "3 in"},
                                               {6.0, "6 in"},
                                               {12.0, "1 ft"},
                                               {24.0, "2 ft"},
                                               {60.0, "5 ft"},
                                               {120.0, "10 ft"}}};

}  // namespace

double site_unit_m(const measure::LengthStyle& style) {
    if (is_metric(style.unit)) return 1.0;
    return style.unit == LengthUnit::us_foot ? measure::kMetresPerUsFoot : measure::kMetresPerFoot;
}

std::string site_unit_word(const measure::LengthStyle& style) {
    if (is_metric(style.unit)) return "m";
    return style.unit == LengthUnit::us_foot ? "us-ft" : "ft";
}

RoundLength round_site_length(double most_m, const measure::LengthStyle& style) {
    const double unit = site_unit_m(style);
    const double value = round_number(most_m / unit);
    return {value * unit, plain(value) + " " + site_unit_word(style)};
}

RoundLength round_small_length(double most_m, const measure::LengthStyle& style) {
    if (is_metric(style.unit)) {
        const double mm = round_number(most_m * 1e3);
        if (mm >= 1000.0) return round_site_length(most_m, style);
        return {mm * 1e-3, plain(mm) + " mm"};
    }
    if (!style.feet_and_inches && style.unit != LengthUnit::inch) {
        return round_site_length(most_m, style);
    }
    const double inch_m = site_unit_m(style) / 12.0;
    if (most_m >= 20.0 * 12.0 * inch_m || most_m < inch_m / 64.0) {
        return round_site_length(most_m, style);
    }
    const InchStep* best = kInchSteps.data();
    for (const InchStep& step : kInchSteps) {
        if (step.inches * inch_m <= most_m * (1.0 + 1e-12)) best = &step;
    }
    return {best->inches * inch_m, best->text};
}

std::string coordinate_text(double in_unit, double step, const measure::LengthStyle& style) {
    const int decimals =
        step >= 1.0 ? 0 : std::clamp(static_cast<int>(std::ceil(-std::log10(step) - 1e-9)), 0, 6);
    std::string digits = fmt::format("{:.{}f}", std::abs(in_unit), decimals);
    const std::size_t whole = std::min(digits.find('.'), digits.size());
    std::string text;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (whole > 4 && i > 0 && i < whole && (whole - i) % 3 == 0) text += "\u00A0";
        text += digits[i];
    }
    const bool is_zero = text.find_first_not_of("0.") == std::string::npos;
    const std::string sign = in_unit < 0.0 && !is_zero ? "−" : "";
    return sign + text + "\u00A0" + site_unit_word(style);
}

}  // namespace layproof::drawing
