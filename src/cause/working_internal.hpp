#pragma once
// What diagnose() worked with, kept for asking what to sight next.

#include <vector>

#include "cause/diagnose.hpp"
#include "cause/pattern_internal.hpp"
#include "station/misfit_model.hpp"

namespace layproof::cause {

struct Working {
    /// One explanation with one size, or an exchange of names.
    struct Held {
        double weight = 0.0;
        Cause cause = Cause::nothing_wrong;
        std::vector<std::string> subjects;
        internal::Pattern pattern;  ///< no rows for nothing-wrong and exchanged names
        internal::Vec sd = internal::Vec::Zero();  ///< of the amounts
        bool other_names = false;
        int mark_a = -1;  ///< exchanged names
        int mark_b = -1;
        int sight = -1;      ///< wrong-name: the one sight
        station::Pose pose;  ///< exchanged names: the pose then
        Eigen::Matrix4d pose_covariance = Eigen::Matrix4d::Zero();
    };
    station::MisfitModel model;
    station::Pose pose;      ///< of the model, site coordinates
    std::vector<Held> held;  ///< most probable first; weights sum to 1
};

}  // namespace layproof::cause
