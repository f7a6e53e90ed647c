#pragma once
// Indices of the mathematics (int, −1 for none) into containers.

#include <cstddef>
#include <cstdint>

namespace layproof {

/// `index` must not be negative.
constexpr std::size_t at(std::int64_t index) {
    return static_cast<std::size_t>(index);
}

}  // namespace layproof
