#include <algorithm>
#include <cstddef>
#include <utility>
#include <vector>

#include "acts/setup/forecast_all_internal.hpp"
#include "threads/threads.hpp"

namespace layproof::acts::internal {
namespace {

/// Fewer points than this are done before a second thread has begun.
constexpr std::size_t kWorthAThread = 1000;

/// Takes `next`, the forecast of the targets behind those of `all`, into it.
void append(const station::Forecast& next, station::Forecast& all) {
    if (next.weakest >= 0 && (all.weakest < 0 || next.lowest < all.lowest)) {
        all.weakest = static_cast<int>(all.points.size()) + next.weakest;
        all.lowest = next.lowest;
    }
    all.highest = std::max(all.highest, next.highest);
    all.proven += next.proven;
    if (next.word != all.word) all.word = station::Word::in_doubt;
    all.points.insert(all.points.end(), next.points.begin(), next.points.end());
}

}  // namespace

station::Forecast forecast_all(const station::Pose& pose,
                               const std::vector<station::LayTarget>& targets,
                               const measure::Instrument& instrument, double rod_height_m,
                               const std::vector<station::Belief>& beliefs, double confidence) {
    const auto part_of = [&](std::size_t from, std::size_t to) {
        const std::vector<station::LayTarget> some(
            targets.begin() + static_cast<std::ptrdiff_t>(from),
            targets.begin() + static_cast<std::ptrdiff_t>(to));
        return station::forecast(pose, some, instrument, rod_height_m, beliefs, confidence);
    };
    const std::size_t parts =
        std::clamp<std::size_t>(targets.size() / kWorthAThread, 1, threads::most());
    const auto begin_of = [&](std::size_t part) { return targets.size() * part / parts; };
    std::vector<station::Forecast> done(parts);
    threads::share(parts, [&](std::size_t, std::size_t k) {
        done[k] = part_of(begin_of(k), begin_of(k + 1));
    });
    station::Forecast all = std::move(done.front());
    for (std::size_t k = 1; k < parts; ++k) append(done[k], all);
    return all;
}

}  // namespace layproof::acts::internal
