#pragma once
// What watch() worked with, kept for asking what to sight next and when to check.

#include <vector>

#include "watch/scenario_internal.hpp"

namespace layproof::watch {

struct DayState {
    /// A point under one order of laying and bump.
    struct PointPart {
        std::size_t scenario = 0;
        double share = 1.0;  ///< of the scenario
        bool moved = false;
        bool before_here = false;  ///< the bump of its own stretch lies before it
        double within = 0.0;       ///< probability of being within tolerance
        Eigen::Vector3d mean = Eigen::Vector3d::Zero();
        Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
    };
    internal::Timeline timeline;
    internal::Evidence evidence;
    std::vector<internal::Scenario> scenarios;  ///< weights sum to one
    std::vector<std::vector<PointPart>> points;
};

}  // namespace layproof::watch
