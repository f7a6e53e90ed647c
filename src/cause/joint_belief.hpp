#pragma once
// What a set-up knows about the instrument and its marks together, under each explanation.
//
// The pose of a set-up is found from marks whose sheet errors are unknown, so pose and marks are
// correlated; a later check to the same mark must not take the sheet's error for news. For each
// explanation kept by diagnose() (B ∇ with ∇ ~ N(0, S), W = (Σ + B S Bᵀ)⁻¹, pose δ flat):
//     δ̂ = (AᵀWA)⁻¹AᵀW y,   u | y: mean C W (y − A δ̂), covariance P − C W Cᵀ + (CWA) Q (CWA)ᵀ,
// u being marks and amounts with prior covariance P and covariance C with y, Q = (AᵀWA)⁻¹
// (universal kriging; textbook). Names exchanged put the station elsewhere by metres, outside the
// linear model; their probability is `elsewhere` and the other weights sum to one without it.

#include <Eigen/Core>
#include <string>
#include <vector>

#include "cause/diagnose.hpp"
#include "station/pose.hpp"
#include "station/prepared.hpp"

namespace layproof::cause {

/// Normal. Order: the state (station/state.hpp, against the nominal pose), then true place minus
/// sheet in east, north, height of each mark.
struct JointBelief {
    double weight = 1.0;
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
};

struct JointBeliefs {
    std::vector<std::string> marks;
    std::vector<JointBelief> beliefs;  ///< most probable first; weights sum to one
    double elsewhere = 0.0;            ///< probability of exchanged names
};

/// `nominal`: the pose the crew works from. Where the sights carry nothing beyond the pose, the
/// beliefs of the diagnosis with the marks as on the sheet, uncorrelated.
JointBeliefs joint_beliefs(const station::Prepared& setup, const Diagnosis& diagnosis,
                           const station::Pose& nominal);

}  // namespace layproof::cause
