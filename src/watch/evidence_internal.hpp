#pragma once
// The batch form of the day: all checks and re-sight differences at once, what each change does to
// them, and how probable each explanation is.

#include <Eigen/Core>
#include <vector>

#include "infer/linear_evidence.hpp"
#include "watch/timeline_internal.hpp"

namespace layproof::watch::internal {

using ByPose = Eigen::Matrix<double, 3, 4>;

/// A check, or a re-sight less its laying: value = by_pose x(t) − by_pose_laid x(t laid) +
/// by_constant c + errors. Constants: the state beyond the pose (6), then three per mark.
struct Observation {
    int event = -1;
    int moment = 0;
    int rows = 0;
    Eigen::Vector3d value = Eigen::Vector3d::Zero();
    ByPose by_pose = ByPose::Zero();
    Eigen::MatrixXd by_constant;
    Eigen::Matrix3d by_rod = Eigen::Matrix3d::Zero();
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();
    int mark = -1;   ///< check
    int point = -1;  ///< re-sight
    int laid_moment = -1;
    ByPose by_pose_laid = ByPose::Zero();
    Eigen::Matrix3d laid_own = Eigen::Matrix3d::Zero();
};

/// One change at one place in the day, b = B·∇ on the stacked rows.
struct Pattern {
    Change change = Change::bump;
    int stretch = -1;      ///< bump
    int mark = -1;         ///< mark changes
    int observation = -1;  ///< rods; mark changes: the first check that shows it
    int from_event = -1;
    int to_event = -1;
    int first_shown = -1;  ///< first observation it touches; −1: none
    Eigen::MatrixXd rows;  ///< n × 4
    struct Size {
        Eigen::Vector4d variance = Eigen::Vector4d::Zero();
        double odds = 0.0;
    };
    std::vector<Size> sizes;
};

/// One start, and none, one or two changes with their sizes.
struct Member {
    int start = 0;
    int pattern = -1;
    int size = -1;
    int second = -1;
    int second_size = -1;
    double weight = 0.0;
    double log_evidence = 0.0;  ///< against nothing from the same start
    double prior = 0.0;         ///< start × odds
};

/// Of a member's amounts: pattern's, then second's.
using Amount = infer::AmountFit<8>;

struct Evidence {
    std::vector<Observation> observations;  ///< in order of time
    std::vector<int> first_row;
    int rows = 0;
    std::vector<Pattern> patterns;
    std::vector<cause::JointBelief> starts;
    std::vector<Member> members;            ///< all, weights sum to one
    std::vector<Eigen::MatrixXd> root;      ///< per start: lower root of V
    std::vector<Eigen::VectorXd> whitened;  ///< per start: L⁻¹(z − mean)
    std::vector<double> log_likelihood;     ///< per start, nothing changed, without the 2π
};

Evidence weigh(const Day& day, const WatchOptions& options, const Timeline& timeline);

/// A window of the whitened innovations: what observation k says beyond all before it.
double innovation_statistic(const Evidence& evidence, std::size_t observation);

Amount amount_of(const Evidence& evidence, const Member& member);

}  // namespace layproof::watch::internal
