#pragma once
// A solved set-up: pose, covariance, and what every sight says about it.
//
// Model: unknown are the pose and each mark (a weighted unknown with the sheet's covariance, or
// held where its standard deviation is 0). Observations: directions, zenith angles, distances with
// the covariance of measure/sight_model.hpp. Solved by adjust::solve to 1e-10 m; variance factor 1.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "adjust/tests.hpp"
#include "station/pose.hpp"
#include "station/prepared.hpp"

namespace layproof::station {

/// One figure for each part of a sight; absent parts hold nothing.
struct PartFigures {
    std::optional<double> direction;
    std::optional<double> zenith;
    std::optional<double> distance;
};

struct SolvedSight {
    PartFigures residual;      ///< adjusted minus observed: rad, rad, m
    PartFigures standardised;  ///< residual over its own standard deviation
    PartFigures redundancy;    ///< 0 nothing checks it, 1 fully checked
    PartFigures detectable;    ///< smallest error found with 80 % power at α 0.001: rad, rad, m
    /// Smallest shift of the target that is found with 80 % power at α 0.001 whatever its
    /// direction, in metres; nothing where some direction cannot be found at all.
    std::optional<double> detectable_m;
    /// What a shift of that size, not found, would do to the station's plan position.
    std::optional<double> undetected_effect_m;
};

struct SolvedMark {
    Eigen::Vector3d adjusted_m = Eigen::Vector3d::Zero();  ///< relative to the origin
    /// Where the sights put the mark minus where the sheet puts it, from its own sights and the
    /// pose of the solution; components that are not known are nothing.
    std::optional<double> off_east_m, off_north_m, off_height_m;
    Eigen::Matrix3d off_covariance = Eigen::Matrix3d::Zero();  ///< of one such misfit
};

struct Solution {
    Pose pose;  ///< site coordinates (origin added)
    adjust::GlobalTest global_test;
    std::vector<SolvedSight> sights;  ///< as Prepared::sights; unused ones have residuals only
    std::vector<SolvedMark> marks;    ///< as Prepared::marks
    int iterations = 0;
};

/// The best solution first; further ones when the sights allow several places that cannot be told
/// apart (objective within 25 of the best).
struct Solved {
    Solution best;
    std::vector<Pose> others;
    std::vector<double> others_statistic;
};

/// Refuses with not_solvable when the sights leave the pose open (which direction is said).
Result<Solved> solve_station(const Prepared& setup);

}  // namespace layproof::station
