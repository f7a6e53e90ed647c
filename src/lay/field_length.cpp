#include "lay/field_length.hpp"

#include <fmt/format.h>

#include <cmath>

namespace layproof::lay {
namespace {

using measure::LengthUnit;

constexpr double kFootStep = 0.005;
constexpr double kInchStep = 0.05;
constexpr double kMetreStep_m = 0.001;
constexpr double kInMetres_m = 1.0;  ///< from here on metric moves are given in metres

bool is_metric(const measure::LengthStyle& style) {
    return style.unit == LengthUnit::metre || style.unit == LengthUnit::millimetre;
}

int usual_denominator(int denominator) {
    for (const int known : {2, 4, 8, 16, 32, 64}) {
        if (denominator == known) return known;
    }
    return 16;
}

}  // namespace

double step_of(const measure::LengthStyle& style) {
    if (style.feet_and_inches) {
        const double foot =
            style.unit == LengthUnit::us_foot ? measure::kMetresPerUsFoot : measure::kMetresPerFoot;
        return foot / 12.0 / usual_denominator(style.denominator);
    }
    if (is_metric(style)) return kMetreStep_m;
    return (style.unit == LengthUnit::inch ? kInchStep : kFootStep) *
           measure::metres_per(style.unit);
}

bool rounds_to_zero(double length_m, const measure::LengthStyle& style) {
    return !(std::abs(length_m) >= 0.5 * step_of(style)) || !std::isfinite(length_m);
}

std::string field_length(double length_m, const measure::LengthStyle& style) {
    if (!std::isfinite(length_m)) return "unknown";
    const double step = step_of(style);
    const double rounded = std::round(std::abs(length_m) / step) * step;
    if (style.feet_and_inches) return measure::format_small(rounded, style);
    if (is_metric(style)) {
        return rounded < kInMetres_m ? fmt::format("{:.0f} mm", rounded / kMetreStep_m)
                                     : fmt::format("{:.3f} m", rounded);
    }
    const int decimals = style.unit == LengthUnit::inch ? 2 : 3;
    return fmt::format("{:.{}f} {}", rounded / measure::metres_per(style.unit), decimals,
                       measure::to_word(style.unit));
}

}  // namespace layproof::lay
