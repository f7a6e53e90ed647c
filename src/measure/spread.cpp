#include "measure/spread.hpp"

#include <cmath>

namespace layproof::measure {

Spread spread_of(std::span<const double> values) {
    Spread spread;
    spread.count = static_cast<int>(values.size());
    if (values.empty()) return spread;
    const double count = static_cast<double>(values.size());
    // Relative to the first value: the sum of large near-equal numbers would round.
    double sum = 0.0;
    for (const double value : values) sum += value - values.front();
    spread.mean = values.front() + sum / count;
    if (values.size() < 2) return spread;
    double squares = 0.0;
    for (const double value : values) {
        const double deviation = (value - values.front()) - sum / count;
        squares += deviation * deviation;
    }
    spread.sd = std::sqrt(squares / (count - 1.0));
    spread.sd_of_mean = *spread.sd / std::sqrt(count);
    return spread;
}

}  // namespace layproof::measure
