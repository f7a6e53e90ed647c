#include "infer/pairs.hpp"

#include <numeric>

namespace layproof::infer {

std::vector<std::size_t> choose_seeds(std::span<const double> log_weights,
                                      std::span<const double> log_evidences, std::size_t by_weight,
                                      std::size_t by_evidence) {
    std::vector<std::size_t> out;
    const auto take = [&](std::span<const double> by, std::size_t count) {
        std::vector<std::size_t> order(by.size());
        std::iota(order.begin(), order.end(), std::size_t{0});
        count = std::min(count, order.size());
        std::partial_sort(
            order.begin(), order.begin() + static_cast<std::ptrdiff_t>(count), order.end(),
            [&](std::size_t a, std::size_t b) { return by[a] != by[b] ? by[a] > by[b] : a < b; });
        for (std::size_t i = 0; i < count; ++i)
            if (std::find(out.begin(), out.end(), order[i]) == out.end()) out.push_back(order[i]);
    };
    take(log_weights, by_weight);
    take(log_evidences, by_evidence);
    return out;
}

}  // namespace layproof::infer
