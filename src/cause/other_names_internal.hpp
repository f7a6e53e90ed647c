#pragma once
// Explanations that exchange which mark a sight is to: solved anew, after a bound has thrown out
// those that cannot win.

#include <Eigen/Core>
#include <vector>

#include "cause/catalogue.hpp"
#include "station/misfit_model.hpp"
#include "station/prepared.hpp"

namespace layproof::cause::internal {

struct OtherNames {
    Cause cause{};  ///< names_swapped or wrong_name
    int mark_a = -1;
    int mark_b = -1;  ///< wrong_name: the sight was to b
    int sight = -1;
    double log_likelihood = 0.0;  ///< against the given model
    station::Pose pose;
    Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();  ///< model order
};

/// How many subjects each cause has is returned for sharing its frequency.
struct OtherNamesResult {
    std::vector<OtherNames> contenders;
    int swaps = 0;
    int wrong_names = 0;
};
/// `model` is the set-up as booked, at its own best pose.
OtherNamesResult other_names(const station::Prepared& setup, const station::MisfitModel& model);

}  // namespace layproof::cause::internal
