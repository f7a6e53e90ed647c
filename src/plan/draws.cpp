#include "plan/draws.hpp"

#include <algorithm>
#include <numeric>

#include "adjust/tests.hpp"
#include "base/random.hpp"

namespace layproof::plan {

Draws::Draws(int count, int marks, std::uint64_t seed)
    : count_(std::max(count, 0)), marks_(std::max(marks, 0)) {
    z_.resize(static_cast<std::size_t>(count_) * static_cast<std::size_t>(marks_));
    Random random(seed);
    std::vector<int> order(static_cast<std::size_t>(count_));
    for (int mark = 0; mark < marks_; ++mark)
        for (int axis = 0; axis < 3; ++axis) {
            std::iota(order.begin(), order.end(), 0);
            for (int i = count_ - 1; i > 0; --i)
                std::swap(order[static_cast<std::size_t>(i)],
                          order[static_cast<std::size_t>(random.below(i + 1))]);
            for (int i = 0; i < count_; ++i) {
                // The open interval: a stretch has its middle at the least.
                const double within = std::max(random.uniform(), 1e-9);
                z_[static_cast<std::size_t>(i * marks_ + mark)][axis] =
                    adjust::normal_quantile((order[static_cast<std::size_t>(i)] + within) / count_);
            }
        }
}

}  // namespace layproof::plan
