#pragma once
// What would help most when a station cannot prove all that is to be laid from it.
//
// Each aid is tried on paper: the pose covariance it would leave, or the laying errors it would
// change, and the forecast again. It is assumed that nothing is wrong (belief_of).
//   short rod      the rod held 0.1 m high
//   bipod          the bubble's standard deviation reduced to a quarter (engineering judgement)
//   another round  every used control sight once more: half the variance of its own error
//   sight a mark   one of the sheet's marks that no used sight is to
//   place a mark   a new mark, 1.5 mm per axis, at one of eight bearings at the mean distance of
//                  the marks used
// A new sight s has y = H·(pose error) + ν with H and the covariance R of lay_prediction.hpp (its
// own error and the mark's); C' = C − CHᵀ(HCHᵀ + R)⁻¹HC, which is the normal matrix with HᵀR⁻¹H
// added. First order; sight lines are not known here.
//
// Cost: places are compared by a quick figure (plan and height taken as independent, at most 120
// targets), only what is reported is forecast in full: below 3 ms for 40 targets.

#include <string>
#include <string_view>
#include <vector>

#include "frame/mark.hpp"
#include "station/lay_prediction.hpp"
#include "station/pose.hpp"
#include "station/prepared.hpp"

namespace layproof::station {

inline constexpr double kShortRod_m = 0.1;
inline constexpr double kBipodShare = 0.25;

enum class AidKind { short_rod, bipod, another_round, sight_mark, place_mark };

/// kebab-case word for JSON.
std::string_view to_word(AidKind kind);

struct Aid {
    AidKind kind{};
    std::string mark;          ///< sight_mark
    double azimuth_rad = 0.0;  ///< from the station: sight_mark, place_mark
    double distance_m = 0.0;
    int proven = 0;        ///< targets then proven
    double lowest = 0.0;   ///< probability of the weakest target then
    double average = 0.0;  ///< over the targets
};

struct AidQuestion {
    const Prepared& setup;
    const Pose& pose;
    const std::vector<frame::Mark>& marks;  ///< of the job
    const std::vector<LayTarget>& targets;
    double rod_height_m = 0.0;
    double confidence = 0.95;
};

struct Aids {
    Aid now;                ///< the figures without any aid
    std::vector<Aid> best;  ///< the best of each kind, most helpful first: proven, then lowest
};

/// Empty without targets.
Aids what_helps(const AidQuestion& question);

}  // namespace layproof::station
