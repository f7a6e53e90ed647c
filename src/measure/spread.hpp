#pragma once
// Mean and experimental standard deviation of repeated values of one quantity.

#include <optional>
#include <span>

namespace layproof::measure {

struct Spread {
    int count = 0;
    double mean = 0.0;                 ///< 0 without values
    std::optional<double> sd;          ///< of one value, divisor n − 1; nothing below two values
    std::optional<double> sd_of_mean;  ///< sd / √n
};

/// Two passes, so that values of 2,000,000 with a spread of 1e-3 keep six figures of it (JCGM
/// 100:2008, 4.2). Finite input only. Angles must not lie across 0/360° (take differences first).
Spread spread_of(std::span<const double> values);

}  // namespace layproof::measure
