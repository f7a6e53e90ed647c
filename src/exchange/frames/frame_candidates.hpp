#pragma once
// Every scale that a foot, a unit or a map projection at the site could put between two sets of
// coordinates; vet/scale_belief.hpp says which of them is likely.
//
// For each coordinate system the point scale and, with the height, the elevation factor of the site
// are worked out, and from the site's radius and the height's standard deviation how far that
// factor may be off. Systems that cannot be opened or are not defined at the site explain nothing.
// Systems of one point scale (within 0.02 ppm: realisations of one datum) are one candidate, which
// names the first and counts the others. What needs no coordinate system stands first, with an
// empty name.

#include <span>
#include <string>
#include <vector>

#include "exchange/frames/projected_frame.hpp"
#include "frame/scale_ratio.hpp"
#include "vet/scale_belief.hpp"

namespace layproof::exchange {

struct SitePlace {
    Geographic position;
    double ellipsoid_height_m = 0.0;
    double height_sd_m = 0.0;
    double radius_m = 0.0;  ///< of the site: its factors change by so much of the way
};

std::vector<vet::ScaleCandidate> scale_candidates_at(const SitePlace& site,
                                                     std::span<const std::string> definitions,
                                                     const frame::SetNames& names = {});

}  // namespace layproof::exchange
