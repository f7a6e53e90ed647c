#include "cli/lengths.hpp"

#include <array>

namespace layproof::cli {

std::optional<measure::LengthStyle> read_style(const std::string& text) {
    measure::LengthStyle style;
    constexpr std::string_view kFeetInches = "ft-in";
    if (text.starts_with(kFeetInches)) {
        style.unit = measure::LengthUnit::foot;
        style.feet_and_inches = true;
        if (text == kFeetInches) return style;
        for (const int denominator : {2, 4, 8, 16, 32, 64}) {
            if (text == std::string(kFeetInches) + ":" + std::to_string(denominator)) {
                style.denominator = denominator;
                return style;
            }
        }
        return std::nullopt;
    }
    const auto unit = measure::length_unit_from_word(text);
    if (!unit || *unit == measure::LengthUnit::millimetre || *unit == measure::LengthUnit::inch)
        return std::nullopt;
    style.unit = *unit;
    return style;
}

std::optional<double> read_typed_length(const std::string& text,
                                        std::optional<measure::LengthUnit> unit) {
    using measure::LengthUnit;
    const auto says = [&](std::string_view word) {
        return text.size() > word.size() && text.ends_with(word);
    };
    if (says("us-ft")) {
        unit = LengthUnit::us_foot;
    } else if (says("mm")) {
        unit = LengthUnit::millimetre;
    } else if (says("m")) {
        unit = LengthUnit::metre;
    } else if (says("in")) {
        unit = LengthUnit::inch;
    } else if (says("ft") || (!unit && text.find_first_of("'\"") != std::string::npos)) {
        unit = LengthUnit::foot;
    }
    if (!unit) return std::nullopt;
    const auto length = measure::parse_length(text, *unit, {});
    if (!length) return std::nullopt;
    return *length;
}

}  // namespace layproof::cli
