#pragma once
// How fast an instrument wanders, by what its tripod stands on.
//
// Model: random walk; the standard deviation grows with the root of the hours. The figures are
// engineering judgement, no source: tripods on a slab hold, on soil they settle and turn, on a deck
// and on steel people and sun move the ground itself.

#include <Eigen/Core>
#include <optional>
#include <string_view>

namespace layproof::watch {

enum class Ground { slab, soil, deck, steel };

std::string_view to_word(Ground ground);
std::optional<Ground> ground_from_word(std::string_view word);

/// Standard deviations after one hour; after t hours times √t.
struct DriftRate {
    double position_m = 0.0;  ///< per plan axis
    double height_m = 0.0;
    double orientation_rad = 0.0;
};

/// | ground | position | height | orientation |
/// | ------ | -------- | ------ | ----------- |
/// | slab   | 0.3 mm   | 0.2 mm | 3"          |
/// | soil   | 1.0 mm   | 1.0 mm | 8"          |
/// | deck   | 1.0 mm   | 1.5 mm | 10"         |
/// | steel  | 0.7 mm   | 0.7 mm | 8"          |
DriftRate drift_rate(Ground ground);

/// Variance gained per second; order east, north, orientation, height. Negative rates count as 0.
Eigen::Vector4d variance_per_second(const DriftRate& rate);

}  // namespace layproof::watch
