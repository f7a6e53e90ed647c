#pragma once
// Whether map projections are there. PROJ is a part of the program (late/part.hpp): without it
// ProjectedFrame::open refuses with cannot_read, and projected_systems_at knows no system.

#include <optional>

#include "base/result.hpp"

namespace layproof::exchange {

/// Why no map projection is known; nothing when all is there.
std::optional<Refusal> lacks_maps();

}  // namespace layproof::exchange
