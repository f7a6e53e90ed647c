#pragma once
// What the JSON of all acts has in common.

#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>

#include "acts/shared/verdict.hpp"

namespace layproof::acts::internal {

using Json = nlohmann::ordered_json;

inline constexpr double kMillimetre = 1000.0;

/// Rounded to `decimals`; null when not finite. Dividing by a power of ten gives the double nearest
/// to the decimal number, so no noise digits are printed.
inline Json fixed(double value, int decimals = 6) {
    if (!std::isfinite(value)) return nullptr;
    const double scale = std::pow(10.0, decimals);
    const double scaled = std::round(value * scale);
    if (std::abs(scaled) > 9e15) return value;
    return scaled / scale + 0.0;  // no negative zero
}

inline Json fixed(const std::optional<double>& value, double factor = 1.0, int decimals = 6) {
    return value ? fixed(*value * factor, decimals) : Json(nullptr);
}

template <class Range, class Make>
Json list(const Range& range, Make make) {
    Json out = Json::array();
    for (const auto& item : range) out.push_back(make(item));
    return out;
}

inline Json verdict_json(const Verdict& verdict) {
    return {{"word", station::to_word(verdict.word)},
            {"probability", fixed(verdict.probability)},
            {"because", verdict.because},
            {"next", verdict.next}};
}

}  // namespace layproof::acts::internal
