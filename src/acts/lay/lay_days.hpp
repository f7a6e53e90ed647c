#pragma once
// The act "lay" for those who also show the day of every station: both are computed once.

#include <optional>
#include <vector>

#include "acts/lay/lay.hpp"
#include "acts/watch/watch.hpp"

namespace layproof::acts::internal {

/// As the stations of the answer. Nothing where the day was refused, which a notice says. The
/// station's report stands in the answer and not in the day.
using LayDays = std::vector<std::optional<WatchStation>>;

/// run_lay; with `days`, the day of every station is kept there, of those without a point laid too.
Result<LayAnswer> lay_with_days(const LayRequest& request, LayDays* days);

}  // namespace layproof::acts::internal
