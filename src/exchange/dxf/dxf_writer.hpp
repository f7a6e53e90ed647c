#pragma once

#include "exchange/tables/outgoing.hpp"

namespace layproof::exchange {

/// DXF (R12, ASCII; other characters as \U+). Points are inserts of the block LP_POINT with the
/// attributes NAME, HEIGHT and, of laid ones, WORD and OFF (east, north, height in millimetres), on
/// the layers LP-MARK, LP-DESIGN, LP-LAID-PROVEN, LP-LAID-IN-DOUBT, LP-LAID-FAILS and LP-LAID;
/// grid lines are lines with their names on LP-GRID. $INSUNITS and $MEASUREMENT say the unit. Lost:
/// sights, set-ups, setting-out figures, standard deviations and tolerances, marks without plan.
Written write_dxf(const Outgoing& out);

}  // namespace layproof::exchange
