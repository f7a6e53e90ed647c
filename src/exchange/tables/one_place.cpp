#include "exchange/tables/one_place.hpp"

#include <cmath>

namespace layproof::exchange {

std::uint64_t OnePlace::key(std::int64_t column, std::int64_t row) {
    // Two squares may share a key; the distance decides, so that costs time and nothing else.
    return static_cast<std::uint64_t>(column) * 0x9E3779B97F4A7C15ULL ^
           static_cast<std::uint64_t>(row);
}

std::optional<std::string> OnePlace::add(double east_m, double north_m,
                                         std::optional<double> height_m, const std::string& name) {
    const auto column = static_cast<std::int64_t>(std::floor(east_m / distance_m_));
    const auto row = static_cast<std::int64_t>(std::floor(north_m / distance_m_));
    for (std::int64_t i = -1; i <= 1; ++i) {
        for (std::int64_t j = -1; j <= 1; ++j) {
            const auto square = squares_.find(key(column + i, row + j));
            if (square == squares_.end()) continue;
            for (const Known& known : square->second) {
                const double apart_m = std::hypot(known.east_m - east_m, known.north_m - north_m);
                if (apart_m >= distance_m_) continue;
                const bool heights_differ = height_m && known.height_m &&
                                            std::abs(*height_m - *known.height_m) >= distance_m_;
                if (!heights_differ) return known.name;
            }
        }
    }
    squares_[key(column, row)].push_back({east_m, north_m, height_m, name});
    return std::nullopt;
}

}  // namespace layproof::exchange
