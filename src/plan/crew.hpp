#pragma once
// What a set-up is planned with: marks, instrument, rods, and how they will be used.

#include <Eigen/Core>
#include <string>
#include <vector>

#include "cause/cause_table.hpp"
#include "frame/mark.hpp"
#include "measure/angle.hpp"
#include "measure/instrument.hpp"

namespace layproof::plan {

/// A control mark known in plan. Without a height it carries the plan only.
struct ControlMark {
    std::string name;
    Eigen::Vector3d at_m = Eigen::Vector3d::Zero();  ///< site; the mark itself, not its prism
    Eigen::Vector3d sd_m = Eigen::Vector3d::Zero();
    bool has_height = true;
};

/// The marks that can be planned with: those with a plan position.
std::vector<ControlMark> control_marks(const std::vector<frame::Mark>& marks);

/// Sight limits are common practice without a source.
struct Crew {
    measure::Instrument instrument;
    double instrument_height_m = 1.6;  ///< axes over the floor
    double mark_rod_m = 1.5;           ///< target height on marks
    double lay_rod_m = 1.5;            ///< target height on points
    int faces = 1;                     ///< in which each mark is sighted
    double confidence = 0.95;
    cause::CauseTable causes;
    double nearest_m = 2.0;  ///< shortest sight in plan
    double farthest_mark_m = 150.0;
    double farthest_point_m = 100.0;
    double steepest_rad = 60.0 * measure::kRadPerDeg;  ///< from level: the instrument's limit
    double room_m = 0.6;                               ///< a tripod from its obstacles, in plan
};

}  // namespace layproof::plan
