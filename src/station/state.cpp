#include "station/state.hpp"

#include <cmath>

namespace layproof::station {

ByState by_state(const SightGeometry& sight) {
    ByState out = ByState::Zero();
    const double sz = std::sin(sight.zenith_rad);
    const double cz = std::cos(sight.zenith_rad);
    const double rise = sight.slope_m * cz;
    out(0, state_east) = -1.0;
    out(1, state_north) = -1.0;
    out.block<2, 1>(0, state_orientation) = -sight.plan_m * sight.right;
    out(2, state_height) = -1.0;
    out.col(state_prism) = sight.along;
    out.col(state_scale) = sight.slope_m * sight.along;
    // Seen from an axis leaning east, what lies east looks higher and what is high looks west.
    out(2, state_tilt_east) = sight.plan_m * sight.ahead.x();
    out(0, state_tilt_east) = -rise;
    out(2, state_tilt_north) = sight.plan_m * sight.ahead.y();
    out(1, state_tilt_north) = -rise;
    out.block<2, 1>(0, state_index) = rise * sight.ahead;
    out(2, state_index) = -sight.slope_m * sz;
    out(2, state_rod) = 1.0;
    return out;
}

}  // namespace layproof::station
