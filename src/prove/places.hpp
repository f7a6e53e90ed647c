#pragma once
// Is a mark where its sheet says, is a laid point within its tolerance, does a set-up fit: over
// everything that may be wrong in the whole job.
//
// What may be wrong shifts a place and widens its covariance: beliefs with weights that sum to one
// (NetworkDiagnosis::beliefs). A probability is the weighted sum of the probabilities under each
// belief; the place is their mean, and with d_b, C_b the deviation and covariance under belief b,
//     d = Σ w_b d_b,      C = Σ w_b (C_b + d_b d_bᵀ) − d dᵀ.

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <vector>

#include "adjust/tests.hpp"
#include "frame/mark.hpp"
#include "lay/tolerances.hpp"
#include "lay/verdict.hpp"
#include "network/site_network.hpp"
#include "network/site_network_causes.hpp"
#include "station/lay_prediction.hpp"

namespace layproof::prove {

/// How one set-up's sights fit the whole.
struct SetupFit {
    adjust::GlobalTest test;  ///< of its sights, with their redundancy rounded
    double ratio = 1.0;       ///< √(statistic / redundancy); 1 where next to nothing is redundant
    /// Proven when something is redundant and the test passes, else in doubt.
    station::Word word = station::Word::in_doubt;
};

SetupFit fit_of(const network::NetworkStation& setup);

struct MarkTolerance {
    double plan_m = 0.0;    ///< radius
    double height_m = 0.0;  ///< ±
};

struct MarkChance {
    double probability = 0.0;  ///< that it is within the tolerance of its sheet place
    /// Some other sight tells where it is; else it is never proven.
    bool is_checked = false;
    station::Word word = station::Word::in_doubt;
};

/// Plan and height are taken as independent. `point` is the mark's in the network and was sighted.
MarkChance chance_of(const network::NetworkPoint& point, const frame::Mark& mark,
                     const std::vector<network::PlaceBelief>& beliefs,
                     const MarkTolerance& tolerance, double confidence);

/// A laid point, as the whole job has it.
struct LaidQuestion {
    const network::NetworkInput& input;
    const network::SiteNetwork& network;
    const network::NetworkDiagnosis& diagnosis;
    int point = -1;                   ///< into the network's
    std::vector<std::size_t> sights;  ///< that laid it, into the network's; not empty
    double confidence = 0.95;
};

struct LaidAnswer {
    lay::PointVerdict verdict;
    Eigen::Vector3d place_m = Eigen::Vector3d::Zero();  ///< the mean, site coordinates
    /// A disturbance of its set-up came before it was laid: how probable that is, and where it then
    /// took the point.
    double probability_moved = 0.0;
    Eigen::Vector3d moved_by_m = Eigen::Vector3d::Zero();
    /// Of being within tolerance, had no set-up been disturbed.
    double probability_unmoved = 0.0;
    /// Into NetworkDiagnosis::suspects: what takes at least half of the probability that it lacks,
    /// by the likeliest of its moments; −1 where no single thing does.
    int doubted_by = -1;
    /// That half is taken by a disturbance which nothing measured later would show.
    bool doubted_by_unseen_bump = false;
};

/// The deviation is the mean over the beliefs, not that of a job in which nothing is wrong. Along
/// and across are of the first sight; its own error is the share that is not the station's.
LaidAnswer judge_laid(const LaidQuestion& question, const frame::DesignPoint& design,
                      const lay::PointTolerance& tolerance,
                      const std::vector<network::PlaceBelief>& beliefs);

/// Gives a verdict its word by a probability.
void judge_again(lay::PointVerdict& verdict, double probability);

}  // namespace layproof::prove
