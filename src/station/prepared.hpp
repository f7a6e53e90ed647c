#pragma once
// One set-up made ready to be solved: its control sights reduced and matched with their marks, all
// coordinates relative to the centroid of the marks sighted, so that 2,000,000 ft lose nothing.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "frame/mark.hpp"
#include "measure/instrument.hpp"
#include "measure/sight.hpp"
#include "measure/sight_model.hpp"
#include "station/setup.hpp"

namespace layproof::station {

/// Everything booked about one set-up.
struct StationInput {
    Setup setup;
    measure::Instrument instrument;
    std::vector<frame::Mark> marks;      ///< all marks of the job
    std::vector<measure::Sight> sights;  ///< of this station, in the order booked
    double scale_factor = 1.0;           ///< grid distance / ground distance
    std::vector<int> set_aside;          ///< indices into sights: kept, shown, not used

    bool operator==(const StationInput&) const = default;
};

/// A mark that this set-up uses. Components that are not known are not observed.
struct UsedMark {
    std::string name;
    Eigen::Vector3d given_m = Eigen::Vector3d::Zero();  ///< east, north, height relative to origin
    Eigen::Vector3d sd_m = Eigen::Vector3d::Zero();
    bool has_plan = false;
    bool has_height = false;
    int input_index = -1;  ///< into StationInput::marks
};

/// A control sight: one pointing, or two faces put together.
struct ControlSight {
    measure::ReducedSight reduced;
    int mark = -1;  ///< into Prepared::marks
    bool used = true;
    std::vector<int> booked;  ///< indices into StationInput::sights
    std::string why_not_used;
};

struct Prepared {
    Setup setup;
    measure::Instrument instrument;
    double scale_factor = 1.0;
    Eigen::Vector3d origin_m = Eigen::Vector3d::Zero();
    std::vector<UsedMark> marks;
    std::vector<ControlSight> sights;       ///< in the order booked
    int occupied_mark = -1;                 ///< into marks; −1 for a free set-up
    bool has_height = true;                 ///< the station's height can be found
    std::optional<double> collimation_rad;  ///< from two-face pairs, mean
    std::optional<double> index_error_rad;
    int face_pairs = 0;
    std::vector<std::string> notices;  ///< what was left out and why, one sentence each
};

/// Reduces and matches. Refuses (place of the sight): target_unknown, no_sights, too_few_marks,
/// setup_unknown, setup_incomplete.
Result<Prepared> prepare(const StationInput& input);

}  // namespace layproof::station
