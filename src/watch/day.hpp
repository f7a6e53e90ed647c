#pragma once
// One set-up from the moment it stood until the end of its day: what was known at the start, the
// checks, the points laid, and the laid points sighted again.
//
// All figures are metres at the target, worked out from the nominal pose (the one the crew worked
// from): p = nominal position + R(nominal orientation)·polar vector. With x(t) the state of the
// instrument against the nominal pose (station/state.hpp) and B = ∂(p − true place)/∂state,
//     check     p − sheet            = B x(t) + (∂misfit/∂mark)·(true mark − sheet) + own error
//     laying    p − design position  = D + B x(t) + own error,  D the true deviation of the point
//     re-sight  the same, later, for the same D
// Times are UTC seconds; any order in the lists.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "cause/cause_table.hpp"
#include "cause/joint_belief.hpp"
#include "station/lay_prediction.hpp"
#include "station/misfit_model.hpp"
#include "station/pose.hpp"
#include "station/prepared.hpp"
#include "watch/ground.hpp"

namespace layproof::watch {

/// What the set-up knew about pose and marks together.
using Start = cause::JointBeliefs;

/// Only a pose, no marks: for a set-up whose sights are not at hand.
Start start_of(const station::Pose& pose);
/// A mark that is not in the start yet, known only from its sheet; its index.
int add_mark(Start& start, const std::string& name, const Eigen::Vector3d& sd_m);

/// Rows 0 to `rows` − 1 count; one to three.
struct Check {
    std::string mark;
    int mark_index = -1;  ///< into Start::marks
    double time_s = 0.0;
    int rows = 0;
    Eigen::Vector3d misfit_m = Eigen::Vector3d::Zero();
    station::ByState by_state = station::ByState::Zero();
    Eigen::Matrix3d by_mark = Eigen::Matrix3d::Zero();  ///< also the effect of a shifted rod
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();
};

struct LaidPoint {
    station::LayTarget target;  ///< design position and tolerance
    double time_s = 0.0;
    Eigen::Vector3d deviation_m = Eigen::Vector3d::Zero();  ///< zero: laid to the wanted readings
    station::ByState by_state = station::ByState::Zero();
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();
    bool has_height = false;
};

struct Resight {
    int point = -1;  ///< into Day::points
    double time_s = 0.0;
    Eigen::Vector3d deviation_m = Eigen::Vector3d::Zero();
    station::ByState by_state = station::ByState::Zero();
    Eigen::Matrix3d own = Eigen::Matrix3d::Zero();
    bool has_height = false;
};

struct Day {
    Start start;
    bool has_height = true;  ///< of the pose
    double setup_time_s = 0.0;
    std::optional<double> end_time_s;  ///< none: the last event
    std::vector<Check> checks;
    std::vector<LaidPoint> points;
    std::vector<Resight> resights;
};

/// The check sights of a set-up (purpose check, not set aside), in the order booked. `setup`:
/// prepare(input), which keeps them out of the solution; its marks are those of joint_beliefs().
/// Sights that say nothing are left out. Refuses a check without a time (value_missing).
Result<std::vector<Check>> checks_of(const station::StationInput& input,
                                     const station::Prepared& setup, const station::Pose& nominal);

/// A check from one sight. `model`: misfit_model(setup, nominal pose) with the sight used; nothing
/// where it was not. mark_index is into setup.marks.
std::optional<Check> check_of(const station::Prepared& setup, const station::MisfitModel& model,
                              int sight, double time_s);

/// Puts a check into the day. Its mark is found by name among those of the start, or added with its
/// sheet's standard deviations.
void add_check(Day& day, Check check, const Eigen::Vector3d& mark_sd_m);

/// A check yet to be taken: what it would see, for planning.
Check planned_check(const station::Pose& nominal, const std::string& mark,
                    const Eigen::Vector3d& place_m, bool with_height,
                    const measure::Instrument& instrument, double rod_height_m);

/// A point laid. With `deviation_m` it was measured after it was marked, and what the hand did is
/// seen; without, it was set to the wanted readings.
LaidPoint laid_point(const station::Pose& nominal, const station::LayTarget& target,
                     const measure::Instrument& instrument, double rod_height_m, double time_s,
                     const std::optional<Eigen::Vector3d>& deviation_m = std::nullopt);

Resight resight_of(const station::Pose& nominal, const station::LayTarget& target, int point,
                   const measure::Instrument& instrument, double rod_height_m, double time_s,
                   const Eigen::Vector3d& deviation_m);

}  // namespace layproof::watch
