#pragma once
// What moved in a whole job, and everything that may be wrong in it, each with its probability over
// all explanations it stands in.
//
// A diagnosis (network/site_network_causes.hpp) weighs sets of suspects: one mark that moved is a
// suspect for each gap between its sightings. Here a mark is one thing again: its probability is
// the sum over its gaps. How far it moved is the mixture over the explanations that put the move on
// the likelier side of its first sighting: with p_e the probability of explanation e, m_e and C_e
// the mean and covariance of its amount,
//     m = Σ p_e m_e / Σ p_e,      C = Σ p_e (C_e + m_e m_eᵀ) / Σ p_e − m mᵀ.

#include <Eigen/Core>
#include <cstddef>
#include <vector>

#include "network/site_network.hpp"
#include "network/site_network_causes.hpp"

namespace layproof::prove {

/// A cause less probable than this is not listed, and a move below 2.5 times it neither
/// (engineering judgement, no source).
inline constexpr double kListedFrom = 0.02;
inline constexpr std::size_t kMostCauses = 8;

/// A mark (or a point that was laid) that moved between two sightings, or is not where its sheet
/// says.
struct Move {
    int point = -1;          ///< into SiteNetwork::points
    bool is_height = false;  ///< in height; else in plan
    double probability = 0.0;
    int suspect = -1;        ///< the likeliest gap, into NetworkDiagnosis::suspects
    Eigen::VectorXd amount;  ///< m: the height, or east and north
    Eigen::MatrixXd covariance;
    /// Set-ups that used it as control where it no longer was, from the earliest gap whose
    /// probability is a twentieth of the move's; in order.
    std::vector<int> setups;
    /// Points laid from these; in the order of the set-ups and their sights.
    std::vector<int> points;
};

/// Likeliest first.
std::vector<Move> moves_of(const network::SiteNetwork& network,
                           const network::NetworkDiagnosis& diagnosis);

/// One thing that may be wrong; its gaps are one.
struct LikelyCause {
    int suspect = -1;          ///< the likeliest gap
    double probability = 0.0;  ///< over all explanations that it is part of
    Eigen::VectorXd amount;    ///< in the likeliest explanation that holds it: m, rad or ratio
};

/// Likeliest first, at most kMostCauses.
std::vector<LikelyCause> causes_of(const network::NetworkDiagnosis& diagnosis);

}  // namespace layproof::prove
