#pragma once
// The sentences of a day.

#include <string>

#include "acts/watch/watch.hpp"

namespace layproof::acts::internal {

/// "between 10:02 and 11:02", "after 11:02".
std::string move_when(const watch::MoveTime& move, const WatchStation& station);
/// "by 7.1 mm north-east, turned 61\""; empty for an amount that rounds to nothing.
std::string amount_words(const watch::PoseVector& amount, bool turns,
                         const measure::LengthStyle& style);

/// "point A5", "mark H3".
std::string resight_words(const watch::NextResight& next);

Verdict verdict_of(const WatchStation& station, const WatchAnswer& answer);

}  // namespace layproof::acts::internal
