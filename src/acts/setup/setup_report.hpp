#pragma once
// What is known of one set-up: its pose, its sights and marks, what may be wrong, the points judged
// from it, and the verdict. Metres and radians; words carry their units.

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "acts/shared/job_cause.hpp"
#include "acts/shared/verdict.hpp"
#include "adjust/tests.hpp"
#include "measure/length.hpp"
#include "station/geometry.hpp"
#include "station/lay_prediction.hpp"
#include "station/pose.hpp"
#include "station/setup.hpp"
#include "station/solution.hpp"

namespace layproof::acts {

struct SightReport {
    std::string target;
    bool used = true;
    std::string why;  ///< why it is not used
    std::size_t mark = 0;
    station::SolvedSight figures;
};

struct MarkReport {
    std::string name;
    std::optional<double> east_m, north_m, height_m;  ///< as the sheet has it
    bool used = true;                                 ///< some sight to it carries the station
    bool is_under = false;                            ///< the instrument stands over it
    std::optional<double> off_east_m, off_north_m, off_height_m;
    Eigen::Matrix3d off_covariance = Eigen::Matrix3d::Zero();
};

/// One explanation inside an entry of the causes.
struct CauseMember {
    std::string cause;
    std::vector<std::string> subjects;
    double probability = 0.0;
    double log_evidence = 0.0;  ///< ln of what the data say against "nothing wrong"
    std::vector<std::pair<std::string, double>> estimate;
};

/// "A|B": the data cannot split them. A pair (both at once) has the word and subjects of its
/// leading member; `members` holds both.
struct CauseReport {
    std::string cause;
    std::vector<std::string> subjects;
    double probability = 0.0;
    std::vector<std::pair<std::string, double>>
        estimate;      ///< of the likeliest member; name with unit
    std::string next;  ///< what would split it or put it right
    std::string says;
    bool is_pair = false;
    std::vector<CauseMember> members;
};

/// The station if the likeliest explanation is taken as true and put right.
struct ExplainedReport {
    std::string cause;
    std::vector<std::string> subjects;
    station::Pose pose;
    station::Word word = station::Word::in_doubt;
    double probability = 0.0;  ///< of the weakest point, over everything that may be wrong
    int proven = 0;
    std::string says;
};

struct TrapReport {
    std::string trap;
    bool is_certain = false;
    std::string says;
};

struct NextSightReport {
    std::string target;
    std::string why;
    double gain = 0.0;   ///< bits about cause and pose
    std::string way;     ///< "again on the bipod", as a word of cause::Way
    std::string second;  ///< a tape's other end
};

struct PointReport {
    station::LayTarget target;
    station::PointForecast forecast;
};

struct RemarkReport {
    station::Remark remark;
    std::string says;
};

struct AidReport {
    std::string aid;
    std::string mark;
    int proven = 0;
    double lowest = 0.0;
    std::string says;
};

struct StationReport {
    std::string station;
    station::SetupKind kind = station::SetupKind::free;
    Verdict verdict;
    station::Pose pose;
    adjust::GlobalTest global_test;
    std::string fit;  ///< the global test in words
    std::vector<SightReport> sights;
    std::vector<MarkReport> marks;
    std::vector<CauseReport> causes;   ///< most probable first; always holds nothing-wrong
    std::vector<JobCause> job_causes;  ///< what all that is known of the job says about it
    std::optional<NextSightReport> next_sight;
    std::optional<ExplainedReport> explained;  ///< when something is likelier wrong than not
    std::vector<TrapReport> traps;
    std::string pose_is;  ///< how the pose was chosen
    std::vector<PointReport> points;
    int proven = 0;
    std::optional<double> circle_radius_m;  ///< when the points are the circle's
    double rod_height_m = 0.0;
    std::vector<station::Pose> others;  ///< further places that fit
    std::vector<RemarkReport> remarks;
    station::WeakDirection weak;
    std::string weakness;         ///< the same in words
    std::vector<AidReport> aids;  ///< most helpful first; empty when all is proven
    std::string if_kept_in;       ///< the solution with what was set aside, in words
    std::optional<double> collimation_rad, index_error_rad;
    int face_pairs = 0;
    int mark_count = 0;
    std::vector<std::string> notices;
};

}  // namespace layproof::acts
