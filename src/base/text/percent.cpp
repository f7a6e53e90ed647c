#include "base/text/percent.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace layproof {
namespace {

/// Tenths of a percent, 0 to 1000. What a sum of doubles falls short of a tenth is given back.
double tenths(double probability) {
    return std::floor(std::clamp(probability, 0.0, 1.0) * 1000.0 + 1e-9);
}

}  // namespace

std::string percent(double probability) {
    const double p = std::clamp(probability, 0.0, 1.0) * 100.0;
    if (p < 0.1) return "less than 0.1 %";
    if (p > 99.9) return "more than 99.9 %";
    const double shown = tenths(probability) / 10.0;
    return fmt::format("{:.{}f} %", shown, shown == std::floor(shown) ? 0 : 1);
}

std::string short_percent(double probability) {
    const double shown = tenths(probability);
    if (shown >= 1000.0) return "over 99.9 %";
    if (shown < 1.0) return "under 0.1 %";
    return fmt::format("{:.1f} %", shown / 10.0);
}

}  // namespace layproof
