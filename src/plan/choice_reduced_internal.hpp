#pragma once
// A cover problem without what cannot be in a best answer.
//
// Places that prove nothing, places that prove the same as an earlier one, and places whose points
// another place proves too are left out; a best answer without them exists always.

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "plan/choice.hpp"

namespace layproof::plan::internal {

/// Lists of numbers in one row.
struct NumberLists {
    std::vector<std::size_t> start{0};
    std::vector<std::uint32_t> items;

    std::size_t size() const { return start.size() - 1; }
    std::span<const std::uint32_t> of(std::size_t k) const {
        return std::span(items).subspan(start[k], start[k + 1] - start[k]);
    }
    void close() { start.push_back(items.size()); }
    void clear() {
        start.assign(1, 0);
        items.clear();
    }
};

/// Who holds each of `count` numbers, in rising order.
NumberLists holders_of(const NumberLists& lists, std::size_t count);

struct Reduced {
    std::vector<std::size_t> original;  ///< place of each candidate, largest first
    NumberLists points;                 ///< of each candidate
    NumberLists holders;                ///< candidates of each point
    std::size_t coverable = 0;          ///< points that some candidate proves

    std::size_t size() const { return original.size(); }
    std::size_t point_count() const { return holders.size(); }
};

Reduced reduce(const CoverProblem& problem);

}  // namespace layproof::plan::internal
