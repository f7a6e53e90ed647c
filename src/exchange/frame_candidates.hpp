#pragma once
// Which map projection, foot or factor would explain the scale that two sets of coordinates show.
//
// For each coordinate system the point scale and, with the height, the elevation factor of the site
// are worked out and put to frame::explain_scale. Systems that cannot be opened or are not defined
// at the site explain nothing. The answer is ordered by how near the ratio is; explanations that
// need no coordinate system come once, with an empty name.

#include <span>
#include <string>
#include <vector>

#include "exchange/projected_frame.hpp"
#include "frame/scale_ratio.hpp"

namespace layproof::exchange {

struct FrameExplanation {
    std::string frame;  ///< its name; empty: none is needed
    frame::ScaleExplanation explanation;
};

std::vector<FrameExplanation> explain_by_frames(double ratio, double sd_ppm, const Geographic& site,
                                                double ellipsoid_height_m,
                                                std::span<const std::string> definitions);

}  // namespace layproof::exchange
