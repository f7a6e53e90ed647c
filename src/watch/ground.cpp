#include "watch/ground.hpp"

#include <algorithm>
#include <array>

#include "measure/angle.hpp"

namespace layproof::watch {
namespace {

constexpr std::array<std::string_view, 4> kWords{"slab", "soil", "deck", "steel"};
constexpr double kSecondsPerHour = 3600.0;

}  // namespace

std::string_view to_word(Ground ground) {
    return kWords[static_cast<std::size_t>(ground)];
}

std::optional<Ground> ground_from_word(std::string_view word) {
    for (std::size_t i = 0; i < kWords.size(); ++i)
        if (kWords[i] == word) return static_cast<Ground>(i);
    return std::nullopt;
}

DriftRate drift_rate(Ground ground) {
    constexpr double as = measure::kRadPerArcsec;
    switch (ground) {
        case Ground::slab:
            return {0.0003, 0.0002, 3.0 * as};
        case Ground::soil:
            return {0.0010, 0.0010, 8.0 * as};
        case Ground::deck:
            return {0.0010, 0.0015, 10.0 * as};
        case Ground::steel:
            return {0.0007, 0.0007, 8.0 * as};
    }
    return {};
}

Eigen::Vector4d variance_per_second(const DriftRate& rate) {
    const auto square = [](double x) { return std::max(x, 0.0) * std::max(x, 0.0); };
    const double plan = square(rate.position_m);
    return Eigen::Vector4d(plan, plan, square(rate.orientation_rad), square(rate.height_m)) /
           kSecondsPerHour;
}

}  // namespace layproof::watch
