#pragma once
// The lines of the building grid in a drawing: LINE and straight polyline pieces on grid layers,
// named by the text or attribute at one of their ends.
//
// A grid layer has "grid", "axis", "axes" or "raster" in its name, or is one of those given. A
// label is a text of at most 6 letters, digits, points, primes and hyphens on such a layer; it
// reaches as far as the circle around it (its bubble) or four text heights. It names the piece
// whose end is nearest and which points at it. Pieces in one line with a named one belong to it;
// with two labels of one name the line is taken once.

#include <string>
#include <vector>

#include "exchange/dxf/dxf_drawing.hpp"

namespace layproof::exchange {

struct DrawingGrid {
    std::vector<frame::GridLine> lines;  ///< metres; by name, numbers by value
    int unnamed = 0;                     ///< pieces on grid layers without a label
    int curved = 0;
};

DrawingGrid grid_of(const Drawing& drawing, double metres_per_unit, const std::string& file,
                    const std::vector<std::string>& layers = {});

}  // namespace layproof::exchange
