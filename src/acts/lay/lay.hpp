#pragma once
// The act "lay": where does each point go from here, and where is it now?
//
// In: what the act "station" takes, and the lines of the building grid. Out: for every station the
// figures by which each point is laid, and for every point that was sighted with purpose lay where
// it is against its design and tolerance. All stations count together: a point sighted from two of
// them has one place, and the marks that both share are not counted twice.
//
// The element of a point names its tolerances ("AR1 + AR6a", or a word of the table); behind a
// colon stands its group ("AR1 + AR5: G3"). Points of one element and group are one group: a row on
// spacing that the element names by its id (AR1) then judges every two of its points, rows on group
// spacing, build-up and offset (AR2, AR3, AR4) judge the centres of groups; a point without a
// group is a centre itself. Centres are neighbours along each grid line that passes through them
// within 10 mm; without grid lines each has its nearest two.
//
// Every point is set out from every station, unless points were chosen by name
// (StationRequest::only_points), or stations × points are more than 100,000: then each station sets
// out the points that were sighted from it, which a notice says. Tape distances are between the
// points set out, or from the chosen ones to their neighbours.
//
// Points are judged over everything that may be wrong in the whole job: acts/belief/job_belief.hpp.
//
// As found: a sight with purpose other to a point's name gives the ground there, for cut and fill;
// without one the height as laid does.

#include <optional>
#include <string>
#include <vector>

#include "acts/points/lay_point.hpp"
#include "acts/shared/job_cause.hpp"
#include "acts/station/station.hpp"
#include "lay/building_grid.hpp"
#include "lay/report.hpp"
#include "lay/setting_out.hpp"
#include "lay/tape.hpp"
#include "lay/tolerances.hpp"
#include "watch/ground.hpp"

namespace layproof::acts {

struct LayRequest {
    StationRequest station;
    std::optional<exchange::Document> grid;      ///< lines of the building grid; else the job's
    std::optional<double> rod_height_m;          ///< for setting out, 0 to 20; else the station's
    watch::Ground ground = watch::Ground::slab;  ///< that the tripods stand on
    bool anyway = false;                         ///< set out although a gross cause stands
};

/// How one point is laid from one station.
struct SetOut {
    std::size_t point = 0;                   ///< into LayAnswer::points
    std::optional<lay::SettingOut> figures;  ///< nothing when the station has no pose for it
};

struct LayStation {
    StationReport station;
    double rod_height_m = 0.0;
    std::vector<SetOut> setting_out;  ///< in the order of the points
    /// Nothing is set out: the station fails, or files are wrong, and nobody asked all the same.
    bool is_withheld = false;
    int laid = 0;                 ///< points sighted from here
    std::optional<double> holds;  ///< probability that it stood still, where its checks tell
};

struct LaidReport {
    std::size_t point = 0;  ///< into LayAnswer::points
    lay::PointReport figures;
};

struct RuleReport {
    std::string what;  ///< the row's quantity: "spacing of any two rods in a group"
    lay::RuleVerdict figures;
    std::string because;
};

struct LayAnswer {
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    double confidence = 0.95;
    bool explain = false;
    bool is_chosen = false;          ///< points were chosen by name
    std::optional<Verdict> verdict;  ///< nothing while no point is laid
    std::vector<LayPoint> points;
    std::vector<LayStation> stations;
    std::vector<LaidReport> laid;  ///< in the order of the points file
    std::vector<JobCause> causes;  ///< a gross one first, then likeliest first
    int proven = 0, in_doubt = 0, fails = 0;
    std::optional<double> last_laid_s;  ///< UTC, of the latest lay sight that has a time
    std::vector<RuleReport> rules;
    std::vector<lay::TapeDistance> tape;  ///< into points
    lay::BuildingGrid grid;
    std::vector<std::string> notices;
};

/// Refuses as run_station and read_grid_lines do; target_unknown for a point laid that the points
/// file does not hold. Without
/// points the stations are placed and nothing is set out.
Result<LayAnswer> run_lay(const LayRequest& request);

/// One JSON document with a line end: docs/lay.md. What is not known is null.
std::string to_json(const LayAnswer& answer);
void describe(Fields& f, const LayAnswer& answer);
/// Plain text, verdict first.
std::string to_text(const LayAnswer& answer);
/// The setting-out list of one station as CSV, lengths in the unit of the job.
std::string setting_out_csv(const LayAnswer& answer, const LayStation& station);
/// All points laid as CSV.
std::string as_laid_csv(const LayAnswer& answer);
/// Design points, points laid with deviation and verdict, and setting-out figures as LandXML 1.2:
/// docs/formats.md.
std::string as_laid_landxml(const LayAnswer& answer);
/// Design points, points laid and grid lines as DXF.
std::string as_laid_dxf(const LayAnswer& answer);
/// The plan of each station, in the order of the answer.
std::vector<std::string> to_svg(const LayAnswer& answer);

/// Every point laid and every rule is proven; true while nothing is laid.
bool is_proven(const LayAnswer& answer);

}  // namespace layproof::acts
