#pragma once
// What the scale between two lists means: no scale, the wrong foot, a unit, a map's factor or one
// that nothing here explains, each with its probability.
//
// Model: exactly one candidate holds. The scale seen is normal about the candidate's ratio with the
// standard deviation of the fit (at least 0.1 ppm) and of the candidate. Priors are the frequencies
// of vet/trap.hpp: foot-kind shared by the two feet, wrong-unit by the 18 pairs of units, nine
// tenths of grid-for-ground by the factors offered and one tenth by a scale of unknown origin (its
// three sizes; all of it when no factor is offered); two mistakes at once have the product over
// that of "nothing wrong". Probabilities sum to one.
//
// A ratio or sd that is not finite, or a ratio not above zero, gives an empty answer.

#include <span>
#include <string>
#include <vector>

#include "frame/scale_ratio.hpp"

namespace layproof::vet {

struct ScaleCandidate {
    std::string frame;  ///< the coordinate system it takes; empty: none
    frame::ScaleExplanation explanation;
    double sd_ppm = 0.0;  ///< of the ratio itself: a factor changes over a site
};

struct ScaleBelief {
    ScaleCandidate candidate;
    bool is_unknown = false;  ///< the scale of unknown origin; candidate then says only the ratio
    double probability = 0.0;
};

/// Most probable first; those below `smallest` are left out.
std::vector<ScaleBelief> weigh_scales(double ratio, double sd_ppm,
                                      std::span<const ScaleCandidate> candidates,
                                      double smallest = 0.001);

}  // namespace layproof::vet
