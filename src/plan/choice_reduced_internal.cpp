#include "plan/choice_reduced_internal.hpp"

#include <algorithm>
#include <bit>
#include <numeric>
#include <unordered_map>

namespace layproof::plan::internal {
namespace {

using Row = std::span<const std::uint64_t>;

template <class Work>
void for_each_point(Row row, const Work& work) {
    for (std::size_t w = 0; w < row.size(); ++w)
        for (std::uint64_t rest = row[w]; rest != 0; rest &= rest - 1)
            work(w * 64 + static_cast<std::size_t>(std::countr_zero(rest)));
}

bool is_within(Row narrow, Row wide) {
    for (std::size_t w = 0; w < narrow.size(); ++w)
        if ((narrow[w] & ~wide[w]) != 0) return false;
    return true;
}

/// Places that prove something, the first one of those that prove the same.
std::vector<std::size_t> different_places(const CoverProblem& problem) {
    std::unordered_map<std::uint64_t, std::vector<std::size_t>> seen;
    std::vector<std::size_t> out;
    for (std::size_t p = 0; p < problem.places(); ++p) {
        const Row row = problem.row(p);
        std::uint64_t hash = 1469598103934665603ULL;
        std::uint64_t any = 0;
        for (const std::uint64_t w : row) {
            hash = (hash ^ w ^ (w >> 29U)) * 1099511628211ULL;
            any |= w;
        }
        if (any == 0) continue;
        auto& bucket = seen[hash];
        const bool is_known = std::any_of(bucket.begin(), bucket.end(), [&](std::size_t other) {
            return std::equal(row.begin(), row.end(), problem.row(other).begin());
        });
        if (is_known) continue;
        bucket.push_back(p);
        out.push_back(p);
    }
    return out;
}

}  // namespace

NumberLists holders_of(const NumberLists& lists, std::size_t count) {
    NumberLists out;
    out.start.assign(count + 1, 0);
    for (const std::uint32_t i : lists.items) ++out.start[i + 1];
    std::partial_sum(out.start.begin(), out.start.end(), out.start.begin());
    out.items.resize(lists.items.size());
    std::vector<std::size_t> next(out.start.begin(), out.start.end() - 1);
    for (std::size_t k = 0; k < lists.size(); ++k)
        for (const std::uint32_t i : lists.of(k))
            out.items[next[i]++] = static_cast<std::uint32_t>(k);
    return out;
}

Reduced reduce(const CoverProblem& problem) {
    const std::size_t point_count = problem.words * 64;
    const std::vector<std::size_t> places = different_places(problem);
    std::vector<std::size_t> sizes(places.size(), 0);
    std::vector<std::size_t> frequency(point_count, 0);
    for (std::size_t k = 0; k < places.size(); ++k)
        for_each_point(problem.row(places[k]), [&](std::size_t i) {
            ++sizes[k];
            ++frequency[i];
        });
    std::vector<std::size_t> order(places.size());
    std::iota(order.begin(), order.end(), 0U);
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return sizes[a] > sizes[b]; });

    // Largest first; whoever holds a whole set also holds its rarest point.
    Reduced out;
    std::vector<std::vector<std::size_t>> kept_with(point_count);
    for (const std::size_t k : order) {
        const Row row = problem.row(places[k]);
        std::size_t rarest = point_count;
        for_each_point(row, [&](std::size_t i) {
            if (rarest == point_count || frequency[i] < frequency[rarest]) rarest = i;
        });
        const auto& rivals = kept_with[rarest];
        if (std::any_of(rivals.begin(), rivals.end(),
                        [&](std::size_t other) { return is_within(row, problem.row(other)); }))
            continue;
        for_each_point(row, [&](std::size_t i) {
            out.points.items.push_back(static_cast<std::uint32_t>(i));
            kept_with[i].push_back(places[k]);
        });
        out.points.close();
        out.original.push_back(places[k]);
    }
    out.holders = holders_of(out.points, point_count);
    for (std::size_t i = 0; i < point_count; ++i)
        out.coverable += out.holders.of(i).empty() ? 0U : 1U;
    return out;
}

}  // namespace layproof::plan::internal
