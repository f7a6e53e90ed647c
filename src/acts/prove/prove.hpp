#pragma once
// The act "prove": the whole job in one adjustment. What was laid is where, which marks hold, which
// moved and when, and what is in doubt because of it.
//
// In: what the act "station" takes (all set-ups, days and crews), tapes and levels between points:
// those of the job and those of the request.
// Every control and check sight counts, and every lay sight to a point of the points file; sights
// with purpose other count unless they are to such a point (they give the ground there, not the
// mark). Marks are weighted by their sheets. Model: network/site_network.hpp and
// docs/methods/network.md; what may be wrong, marks that moved included:
// network/site_network_causes.hpp and docs/methods/movement.md.
//
// Points are judged over everything that may be wrong in the whole job, each with its probability
// (JCGM 106): acts/belief/job_belief.hpp.
//
// The verdict of the whole: proven when every point laid is proven; fails when one fails; else in
// doubt. Without a point laid it is about the marks.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "acts/lay/lay.hpp"
#include "acts/shared/job_cause.hpp"
#include "acts/shared/levelled.hpp"
#include "acts/station/station.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "network/site_network.hpp"
#include "watch/ground.hpp"

namespace layproof::acts {

struct ProveRequest {
    StationRequest station;
    /// Beside those of the job. Levels: height differences, or runs as read; told by the columns.
    std::vector<exchange::Document> tapes, levels;
    std::optional<exchange::Document> grid;      ///< lines of the building grid; else the job's
    watch::Ground ground = watch::Ground::slab;  ///< that the tripods stand on
};

/// One figure of a sight against the adjustment.
struct ProveSight {
    std::string target;
    std::string purpose;  ///< "control", "check", "lay", "other"
    std::string time;     ///< with the site's offset; empty when unknown
    int pointings = 1;    ///< 2: both faces
    bool used = true;
    std::string why;                ///< why it is not used
    station::PartFigures residual;  ///< adjusted minus observed: rad, rad, m
    station::PartFigures standardised, redundancy;
};

struct ProveSetup {
    std::string station;
    station::SetupKind kind = station::SetupKind::free;
    std::string over;                ///< the point it stands over; empty for a free set-up
    bool is_placed = false;          ///< false: it hangs on nothing
    std::string from_time, to_time;  ///< of its sights; empty when unknown
    station::Pose pose;
    station::Word word = station::Word::in_doubt;           ///< of its fit
    std::string fit;                                        ///< in words
    double statistic = 0.0, redundancy = 0.0, ratio = 1.0;  ///< ratio: √(statistic / redundancy)
    std::vector<ProveSight> sights;
    int laid = 0;                 ///< points sighted with purpose lay
    std::optional<double> holds;  ///< probability that it stood still, where its checks tell
    std::string watched;          ///< what its checks say; empty without
};

struct ProveMark {
    std::string name;
    std::optional<double> east_m, north_m, height_m;  ///< as the sheet has it
    Eigen::Vector3d sheet_sd_m = Eigen::Vector3d::Zero();
    bool is_sighted = false;
    station::Word word = station::Word::in_doubt;  ///< is it where the sheet says, now
    double probability = 0.0;  ///< that it is where the sheet said, and did not move since
    std::string condition;     ///< one sentence
    /// Place by all sights less the sheet's, the sheet's figures of this mark left out.
    std::optional<double> off_east_m, off_north_m, off_height_m;
    Eigen::Matrix3d off_covariance = Eigen::Matrix3d::Zero();
    std::optional<double> adjusted_east_m, adjusted_north_m, adjusted_height_m;
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();  ///< of the adjusted place
    int sights = 0, setups = 0;
};

/// A mark (or a point laid) that moved, or is not where its sheet says.
struct ProveMove {
    std::string point;
    bool is_height = false;  ///< the height; else the plan
    double probability = 0.0;
    bool before_all = false;    ///< before its first sighting: the sheet is wrong, or it moved
    std::string after, before;  ///< times or set-ups of the sightings between which it moved
    Eigen::Vector3d shift_m = Eigen::Vector3d::Zero();
    Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
    std::string says;
    std::vector<std::string> setups;  ///< that used it as control after it moved
    std::vector<std::string> points;  ///< laid from these: to be looked at again
};

struct ProvePoint {
    std::size_t point = 0;      ///< into ProveAnswer::points: design and tolerance
    lay::PointVerdict verdict;  ///< over everything that may be wrong
    Eigen::Vector3d as_laid_m = Eigen::Vector3d::Zero();  ///< site coordinates
    bool has_height = false;
    std::vector<std::string> stations;
    int sights = 0;
    std::string laid_time;  ///< of the first sight; empty when unknown
    std::optional<lay::GridPosition> design_grid;
    std::string because, next;
    std::string in_doubt_by;  ///< "H4 moved", "S2 may have moved"; empty when nothing
};

struct ProveLine {  ///< a tape or a level between points
    std::string kind, from, to;
    std::string by;  ///< of a level: "run R1", or its file and line
    double value_m = 0.0, sd_m = 0.0, residual_m = 0.0, standardised = 0.0, redundancy = 0.0;
    bool used = false;
};

struct ProveComponent {
    std::string group;
    int figures = 0;
    double redundancy = 0.0, ratio = 1.0, ratio_sd = 0.0;
};

struct ProveAnswer {
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    double confidence = 0.95;
    bool explain = false;
    std::string job;  ///< name of the job or of the sights file
    Verdict verdict;
    std::vector<LayPoint> points;  ///< all of the points file
    std::vector<ProvePoint> laid;  ///< in the order of the points file
    int proven = 0, in_doubt = 0, fails = 0;
    std::vector<ProveMark> marks;    ///< in the order of the sheet
    std::vector<ProveSetup> setups;  ///< in the order of the sights
    std::vector<ProveMove> moves;    ///< likeliest first
    std::vector<JobCause> causes;    ///< a gross one first, then likeliest first
    double nothing_wrong = 0.0;      ///< probability that nothing is
    std::vector<ProveLine> lines;
    std::vector<ProveRun> runs;
    std::vector<ProveLoop> loops;    ///< those that do not fit first
    std::vector<std::string> loose;  ///< what hangs on nothing, one sentence each
    adjust::GlobalTest global_test;
    std::string fit;  ///< the global test in words
    int unknowns = 0, observations = 0;
    std::vector<ProveComponent> components;
    lay::BuildingGrid grid;
    std::vector<std::string> notices;
};

/// Refuses as the readers do; target_unknown for a lay sight to a point that the points file does
/// not hold (where there is a points file); no_sights, not_solvable.
Result<ProveAnswer> run_prove(const ProveRequest& request);

/// One JSON document with a line end: docs/prove.md. What is not known is null.
std::string to_json(const ProveAnswer& answer);
void describe(Fields& f, const ProveAnswer& answer);
/// Plain text, verdict first.
std::string to_text(const ProveAnswer& answer);
/// All points laid as CSV.
std::string prove_points_csv(const ProveAnswer& answer);
/// Runs and closures of levels as CSV; empty without any.
std::string prove_levels_csv(const ProveAnswer& answer);
/// The plan of the whole job.
std::string to_svg(const ProveAnswer& answer);

bool is_proven(const ProveAnswer& answer);

}  // namespace layproof::acts
