#pragma once
// The act "vet": is the control I was handed fit to lay from, and does everything speak the same
// language?
//
// In: one or more sheets of marks (the first is the one to lay from), drawing positions of the same
// marks, tapes, levels and sights of any set-ups. Out: for each mark a verdict, and what may be
// wrong with the lists or the ground, with the probability of each; what these data could not show.
// Model: vet/vet.hpp and docs/methods/vet.md. Metres inside; units appear only in the words, in
// JSON and in the text.
//
// Defaults (said in the answer): tolerance in plan 1/4 in (6.35 mm), in height 1/2 in (12.7 mm);
// instrument figures of measure/instrument.hpp; tapes 3 mm, levels 1.5 mm.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "acts/shared/job_cause.hpp"
#include "acts/shared/job_facts.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/site_request.hpp"
#include "acts/shared/verdict.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "frame/grid_line.hpp"
#include "frame/site_building.hpp"
#include "job/job.hpp"
#include "measure/length.hpp"
#include "vet/match.hpp"
#include "vet/vet.hpp"

namespace layproof::acts {

class Fields;

class SolvedJobs;

struct VetRequest {
    std::vector<exchange::Document> marks;     ///< sheets, the one to lay from first
    std::vector<exchange::Document> drawings;  ///< columns of marks or of points
    std::vector<exchange::Document> tapes;
    std::vector<exchange::Document> levels;  ///< height differences, or runs as read
    std::optional<exchange::Document> sights, setups, instrument;
    std::optional<exchange::Document> marks_map, sights_map, setups_map, points_map;
    std::optional<measure::LengthUnit> unit;
    std::optional<measure::LengthStyle> show;
    double scale_factor = 1.0;
    std::optional<double> tolerance_plan_m, tolerance_height_m;  ///< else the job's, the default
    double confidence = 0.95;
    bool explain = false;
    /// Match lists whose names do not fit by their geometry; without it that is done where a list
    /// shares fewer than two names with the first.
    bool match = false;
    SiteRequest site;  ///< for GeoJSON, IFC on the map, and what would explain a scale
    /// Lines of a building grid in the coordinates of the first drawing (else of the second list):
    /// the answer has them in the site's.
    std::optional<exchange::Document> grid, grid_map;
    Progress* progress = nullptr;        ///< may be null
    std::shared_ptr<SolvedJobs> solved;  ///< as of StationRequest; may be null
    /// Of a job file: sights and set-ups, one list for each sheet and drawing that was taken,
    /// tapes, levels and tolerances.
    std::optional<JobFacts> facts;
    std::vector<network::MarkList> job_lists;
    std::vector<network::Tape> job_tapes;
    std::vector<network::LevelRise> job_levels;
    std::vector<network::LevelRun> job_runs;
    std::optional<double> job_tolerance_plan_m, job_tolerance_height_m;
};

struct VetList {
    std::string name;
    bool is_drawing = false;
    std::string revision;
    int marks = 0;
    std::optional<measure::LengthUnit> unit;
};

struct VetExplanation {
    std::string cause;  ///< "A|B" when the evidence cannot split them
    std::vector<std::string> subjects;
    std::string says;
    std::string next;
};

struct VetTrap {
    std::string says;  ///< what it would take to see it; what it shows here
};

struct VetMark {
    std::string because;
    std::string next;
};

struct VetMatch {
    std::string list;
    vet::ListMatch figures;
    std::string says;
};

/// What the scale between a list and the first may be.
struct VetScale {
    std::string kind;   ///< "none", "foot", "unit", "factor", "unknown"
    std::string frame;  ///< coordinate system it takes; empty: none
    std::string says;
    double ratio = 1.0;
    double off_ppm = 0.0;
    double probability = 0.0;
};

/// A list laid on the first by the marks they share, as a building is laid on its site.
struct VetFit {
    std::string list;
    std::vector<std::string> marks;
    bool is_mirrored = false;   ///< east of the list was turned round before fitting
    frame::SiteFit held, free;  ///< scale 1; scale as the marks would like it
    Eigen::Vector2d shift_m = Eigen::Vector2d::Zero();  ///< of the middle of its marks, held
    std::vector<VetScale> scales;  ///< most probable first; empty when no scale is determined
    bool is_alike = false;         ///< the same frame: no turn, shift or scale worth a word
    std::string says;
};

struct VetAnswer {
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    double confidence = 0.95;
    bool explain = false;
    double tolerance_plan_m = 0.0, tolerance_height_m = 0.0;
    Verdict verdict;
    std::vector<VetList> lists;
    vet::Vetting figures;
    std::vector<VetMark> marks;                ///< as figures.marks
    std::vector<VetExplanation> explanations;  ///< as figures.explanations
    std::vector<JobCause> job_causes;          ///< what all sights say, where there are some
    std::vector<VetTrap> traps;                ///< as figures.traps
    std::vector<VetMatch> matches;
    std::vector<VetFit> fits;                 ///< each further list against the first
    std::vector<frame::GridLine> grid_lines;  ///< of the request's grid, in the site
    std::string geojson;  ///< marks with their words; empty without a coordinate system
    std::vector<std::string> notices;
};

/// Refuses as the readers do and as open_site does; out_of_range for a figure of the request;
/// no_marks without a sheet; value_missing for a grid without a list to carry it; stopped.
Result<VetAnswer> run_vet(const VetRequest& request);

/// What a job knows of its control: one list for each document with marks (newest first) and for
/// each drawing, the sights and set-ups that count, tapes and levels that are not set aside, its
/// tolerances and its place on the map. A job without sights is taken too. What an earlier call
/// filled in is replaced.
Result<Done> fill_from_job(const job::Job& job, const job::AsOf& as_of, VetRequest& request);

/// One JSON document with a line end: docs/vet.md. What is not known is null.
std::string to_json(const VetAnswer& answer);
void describe(Fields& f, const VetAnswer& answer);
/// Plain text, verdict first.
std::string to_text(const VetAnswer& answer);
/// VetAnswer::grid_lines as a file of grid lines, ready for "lay" and "job take".
std::string grid_csv(const VetAnswer& answer);
/// The plan of the marks.
std::string to_svg(const VetAnswer& answer);

bool is_proven(const VetAnswer& answer);

}  // namespace layproof::acts
