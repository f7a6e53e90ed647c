#pragma once
// Places that prove what lies near them on an invented floor, with some points hidden.

#include <Eigen/Core>
#include <cstdint>
#include <vector>

#include "base/random.hpp"

namespace layproof::test_support {

using Bits = std::vector<std::uint64_t>;

inline Bits invented_cover(Random& random, std::size_t places, std::size_t points, double reach,
                           double hidden) {
    const std::size_t words = (points + 63) / 64;
    Bits out(places * words, 0);
    std::vector<Eigen::Vector2d> at;
    for (std::size_t i = 0; i < points; ++i)
        at.emplace_back(random.uniform(0, 60), random.uniform(0, 90));
    for (std::size_t p = 0; p < places; ++p) {
        const Eigen::Vector2d here(random.uniform(0, 60), random.uniform(0, 90));
        for (std::size_t i = 0; i < points; ++i)
            if ((at[i] - here).norm() < reach && random.uniform() > hidden)
                out[p * words + i / 64] |= std::uint64_t{1} << (i % 64);
    }
    return out;
}

}  // namespace layproof::test_support
