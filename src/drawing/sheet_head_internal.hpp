#pragma once
// What stands over a drawing: title, lines about the job, a remark, cautions.

#include <string>
#include <vector>

#include "drawing/svg_canvas.hpp"

namespace layproof::drawing {

/// The sheet that is drawn on, in pixels.
struct SheetWidth {
    double width = 0.0;
    double pad = 0.0;
    bool is_wide = false;  ///< room for a larger title
};

/// Draws the head from `y` downwards and returns where it ends. A caution has a thick bar on its
/// left, a remark a broken frame.
double draw_sheet_head(SvgCanvas& canvas, const SheetWidth& sheet, double y,
                       const std::string& title, const std::vector<std::string>& job_lines,
                       const std::string& remark, const std::vector<std::string>& cautions);

}  // namespace layproof::drawing
