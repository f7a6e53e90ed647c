#pragma once
// A station's day as a strip, for the acts that draw one.

#include "acts/watch/watch.hpp"
#include "drawing/day_strip.hpp"

namespace layproof::acts::internal {

/// A station's day. Of its report only the name is looked at.
drawing::DayStrip strip_of(const WatchStation& station, const measure::LengthStyle& style);

}  // namespace layproof::acts::internal
