#pragma once
// One explanation of the day, smoothed: the pose at any event under it.

#include <Eigen/Core>
#include <vector>

#include "watch/evidence_internal.hpp"
#include "watch/smoother.hpp"

namespace layproof::watch::internal {

/// The state at one event, under one order of event and bump.
struct Part {
    double share = 1.0;       ///< of the scenario
    bool moved = false;       ///< a bump lies before the event
    bool moved_here = false;  ///< one in the event's own stretch
    station::State mean = station::State::Zero();
    station::StateCovariance covariance = station::StateCovariance::Zero();
};

struct Scenario {
    Member member;
    double weight = 0.0;
    std::vector<int> place;             ///< constant → component of the chain's state, −1: none
    std::vector<int> place_of_point;    ///< re-sighted point → first of its three components
    Chain chain;                        ///< one step per moment
    std::vector<Eigen::Vector4d> bump;  ///< per stretch: variance of the bump in it, or zero
    std::vector<bool> has_bump;
    Amount amount;
    /// Constants without variance keep this mean.
    Eigen::VectorXd constants;
};

Scenario make_scenario(const Day& day, const WatchOptions& options, const Timeline& timeline,
                       const Evidence& evidence, const Member& member);

/// Mean and covariance of (pose at moment, six other states, pose at the next moment). In the open
/// stretch the last four are zero.
struct Bridge {
    Eigen::Matrix<double, 14, 1> mean = Eigen::Matrix<double, 14, 1>::Zero();
    Eigen::Matrix<double, 14, 14> covariance = Eigen::Matrix<double, 14, 14>::Zero();
};
Bridge bridge_of(const Scenario& scenario, std::size_t stretch);

/// Weights of the two ends and the variance left between them. `bump_before`: the bump of the
/// stretch, if there is one, lies before the event.
struct Between {
    Eigen::Vector4d later = Eigen::Vector4d::Zero();  ///< share of the next moment's pose
    Eigen::Vector4d variance = Eigen::Vector4d::Zero();
};
Between between(const Scenario& scenario, const Timeline& timeline, const Eigen::Vector4d& rate,
                const Entry& entry, bool bump_before);

/// All orders possible at an event (one or two).
std::vector<Part> parts_at(const Scenario& scenario, const Timeline& timeline,
                           const Eigen::Vector4d& rate, const Bridge& bridge, const Entry& entry);

/// Mean shift of the pose by the bumps that lie before the event, `moved_here`: also the one in its
/// own stretch.
Eigen::Vector4d shift_before(const Scenario& scenario, const Evidence& evidence, const Entry& entry,
                             bool moved_here);

}  // namespace layproof::watch::internal
