#pragma once
// Which marks moved: congruency of two epochs, and the sets of marks that a whole job accuses.
//
// Congruency (Pelzer, Niemeier): of the differences d between two epochs with covariance C, for all
// points T = dᵀC⁺d ~ χ²(h), for one T = d_pᵀC_pp⁻¹d_p ~ χ²(2); with an estimated variance factor
// T/h ~ F. C⁺ is the pseudo-inverse, so that free networks in one datum can be compared. A single
// point's test smears: what moved pulls the datum of those that did not. So which marks moved is
// not read from it, but from competing sets (infer/change_sets.hpp), as diagnose_network weighs
// them.

#include <Eigen/Core>
#include <vector>

#include "network/site_network_causes.hpp"

namespace layproof::network {

struct Congruency {
    double statistic = 0.0;        ///< T of all points
    int rank = 0;                  ///< h
    std::vector<double> of_point;  ///< T of each point alone
};

/// `difference` and `covariance` hold `size` numbers per point. Directions with less than 1e-9 of
/// the largest variance count as not measured.
Congruency congruency(const Eigen::VectorXd& difference, const Eigen::MatrixXd& covariance,
                      int size = 2);

/// A rigid body at two epochs: shift of its centre and its turn, with their tests.
struct RigidMotion {
    Eigen::Vector2d shift_m = Eigen::Vector2d::Zero();
    double shift_statistic = 0.0;  ///< ~ χ²(2)
    double turn_rad = 0.0;         ///< mean change of the directions from the centre, clockwise
    double turn_sd_rad = 0.0;
    double turn_statistic = 0.0;  ///< turn / sd ~ N(0, 1)
};
/// Coordinates in the order of the points, two each (second axis: the one that directions count
/// from); covariances of each epoch. At least two points apart.
RigidMotion rigid_motion(const std::vector<Eigen::Vector2d>& first,
                         const std::vector<Eigen::Vector2d>& second,
                         const Eigen::MatrixXd& first_covariance,
                         const Eigen::MatrixXd& second_covariance);

/// Sets of points that moved in plan (or in height), whatever their gaps; most probable first, the
/// empty set among them. What else is wrong in a job is summed over.
struct MovedSet {
    std::vector<int> points;  ///< into SiteNetwork::points, ascending
    double probability = 0.0;
};
std::vector<MovedSet> moved_sets(const NetworkDiagnosis& diagnosis, bool in_height = false);

}  // namespace layproof::network
