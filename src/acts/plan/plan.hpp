#pragma once
// The act "plan": where do I stand, on which marks, how many set-ups?
//
// In: marks, points with tolerances, what stands on the floor, where nobody may stand, instrument
// and rods. Out: the fewest tripod positions that prove the wanted share of the points, with a
// proven bound; for each the marks to sight and the one to keep as a check; the map of what can be
// proven from where; what would help. Everything is told for a set-up at which nothing is wrong:
// what a point's verdict will then be, and how sure that is, before anything is measured
// (plan/outlook.hpp).
//
// A point counts for a place when it will be called proven there in at least `counts_from` of such
// set-ups. The wanted share is of all points; where fewer can be proven from anywhere, the set-ups
// prove all that can be, and the answer says what stands in the way of the others.
//
// Defaults (said in the answer): instrument of measure/instrument.hpp, tolerance 1/4 in (6.35 mm)
// in plan, axes 1.6 m over the floor, rod as stated or 1.5 m, clearance 50 mm, floor at the median
// height of the points, else of the marks, else 0.

#include <Eigen/Core>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "acts/shared/job_facts.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/verdict.hpp"
#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "measure/length.hpp"
#include "plan/choice.hpp"
#include "plan/reach.hpp"
#include "watch/ground.hpp"

namespace layproof::acts {

class Fields;

struct PlanRequest {
    exchange::Document marks, points;
    std::vector<exchange::Document> obstacles, no_go;
    std::optional<exchange::Document> instrument, causes;
    std::optional<exchange::Document> marks_map, points_map, obstacles_map;
    std::optional<measure::LengthUnit> unit;
    std::optional<measure::LengthStyle> show;
    double confidence = 0.95;   ///< above 0.5, below 1
    double share = 0.95;        ///< of the points, above 0, up to 1
    double counts_from = 0.8;   ///< 0.5 to 0.99
    double step_m = 0.5;        ///< of the lattice, 0.1 to 10
    double clearance_m = 0.05;  ///< 0 to 1
    double instrument_height_m = 1.6;
    double rod_m = 1.5;                ///< on points, 0 to 20
    std::optional<double> mark_rod_m;  ///< on marks; else rod_m
    int faces = 1;                     ///< 1 or 2
    std::optional<double> floor_m;
    double farthest_m = 100.0;  ///< sight to a point; one and a half times that to a mark
    watch::Ground ground = watch::Ground::slab;
    bool advice = true;
    bool explain = false;
    std::optional<JobFacts> facts;  ///< rows of a job, instead of marks, points, instrument
    Progress* progress = nullptr;
};

enum class PlanPointState { counted, in_doubt, never_in_sight, in_obstacle, out_of_reach };
std::string_view to_word(PlanPointState state);

/// What stands in the way of a point that is not counted.
enum class PlanPointWhy {
    none,      ///< it is counted
    covered,   ///< an obstacle stands on it
    no_place,  ///< nowhere may a tripod stand
    far,     ///< every place for a tripod is farther than the longest sight, or the sight too steep
    hidden,  ///< obstacles, from every place
    few_marks,  ///< seen only from places that see one mark at most
    two_marks,  ///< seen only from places that see two marks at most
    tolerance,  ///< seen with three marks or more, but instrument and rod are not good enough
};
std::string_view to_word(PlanPointWhy why);

struct PlanPointReport {
    std::string name;
    double east_m = 0.0, north_m = 0.0;
    PlanPointState state = PlanPointState::never_in_sight;
    int setup = -1;       ///< the one with the best chance, into PlanAnswer::setups
    double chance = 0.0;  ///< of being called proven at one of the set-ups
    double best = 0.0;    ///< of being called proven at the best place of the map
    PlanPointWhy why = PlanPointWhy::none;
    std::string says;  ///< why, in one sentence; empty when counted
};

struct PlanMarkReport {
    std::string name;
    double east_m = 0.0, north_m = 0.0;
    std::string under;  ///< obstacle over it; empty: none
    /// Chance of being named if moved, mean over the set-ups that sight it; nothing: none does.
    std::optional<double> naming;
};

struct PlanAlternate {
    double east_m = 0.0, north_m = 0.0;
    int proven = 0;  ///< points counted by all set-ups together with this one instead
};

struct PlanSetup {
    std::string name;  ///< "P1", in the order of the walk
    double east_m = 0.0, north_m = 0.0;
    std::string near;                ///< "98 ft east of H6", the nearest mark; may be empty
    std::vector<std::string> marks;  ///< to be sighted, in this order
    std::string check;               ///< mark to keep out of the solution as a check; may be empty
    int in_sight = 0;                ///< points
    double expected = 0.0;           ///< of them, proven on average
    int counted = 0;                 ///< of them, counted
    int first = 0;                   ///< of them, not counted by an earlier set-up
    double sd_plan_m = 0.0;          ///< of the station, in its weakest direction
    double nothing_wrong = 0.0;      ///< what the station will say on average
    double naming = 0.0;             ///< chance that a moved mark is named, mean over its marks
    std::optional<PlanAlternate> alternate;  ///< if this place is blocked
    double walk_m = 0.0;                     ///< from the one before
    std::vector<std::string> remarks;
};

struct PlanAdvice {
    /// "short-rod", "bipod", "better-angles", "two-faces", "all-together", "new-mark",
    /// "wider-tolerance"
    std::string aid;
    /// Points provable from anywhere then: what the plan says when it is made again with that
    /// change, or, on a large floor where only some places are asked, at least that many.
    int provable = 0;
    int gained = 0;                         ///< more than now
    std::optional<double> east_m, north_m;  ///< new mark, at the height of the floor
    std::optional<double> times_tolerance;  ///< all tolerances wider by that
    std::string says;
};

struct PlanAnswer {
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    double confidence = 0.95;
    double share = 0.95;
    double counts_from = 0.8;
    bool explain = false;
    Verdict verdict;  ///< proven: the wanted share is; probability: the expected share
    int points = 0;
    int wanted = 0;         ///< points that the share asks for
    int provable = 0;       ///< counted somewhere
    int counted = 0;        ///< by the set-ups together
    double expected = 0.0;  ///< share of all points proven on average at one of the set-ups
    std::vector<PlanSetup> setups;
    int at_least = 0;  ///< no fewer set-ups can do it
    int greedy = 0;
    double walk_m = 0.0;
    std::string certificate;  ///< the bound in words
    std::vector<PlanPointReport> point_reports;
    std::vector<PlanMarkReport> marks;
    plan::ReachMap map;
    int free_places = 0;
    std::vector<PlanAdvice> advice;  ///< most helpful first, wider tolerances last
    double floor_m = 0.0, rod_m = 0.0, mark_rod_m = 0.0;
    watch::Ground ground = watch::Ground::slab;
    double drift_m = 0.0;  ///< standard deviation per plan axis after an hour on that ground
    std::vector<plan::Prism> obstacles;
    std::vector<std::vector<Eigen::Vector2d>> no_go;
    std::vector<std::string> notices;
};

/// One tripod position, for dragging it about.
struct PlanPlace {
    double east_m = 0.0, north_m = 0.0;
    plan::Standing standing = plan::Standing::free;
    std::vector<std::string> marks;  ///< in sight
    std::vector<int> points;         ///< in sight, into PlanAnswer::point_reports
    std::vector<double> chance;      ///< of each
    double expected = 0.0;
    int counted = 0;
    std::optional<double> sd_plan_m;  ///< of the station; nothing when it cannot be placed
    std::string says;                 ///< in one sentence
};

/// A request read and made ready: the files, the site, the random numbers. Ask it from one thread
/// at a time; asking does not change its answers.
class PlanScene {
public:
    ~PlanScene();
    PlanScene(PlanScene&&) noexcept;
    struct Inside;
    explicit PlanScene(std::unique_ptr<Inside> inside);
    Inside& inside() const { return *inside_; }

private:
    std::unique_ptr<Inside> inside_;
};

/// Refuses as the readers do; no_marks, out_of_range for a figure of the request, value_missing
/// without points.
Result<PlanScene> open_plan(const PlanRequest& request);
/// The whole answer; `stopped` when the request's progress asks for it.
Result<PlanAnswer> run_plan(PlanScene& scene);
Result<PlanAnswer> run_plan(const PlanRequest& request);
/// What one place is worth: some milliseconds.
PlanPlace plan_position(PlanScene& scene, double east_m, double north_m);

/// docs/plan.md. What is not known is null.
std::string to_json(const PlanAnswer& answer);
void describe(Fields& f, const PlanAnswer& answer);
std::string to_json(const PlanPlace& place);
void describe(Fields& f, const PlanPlace& place);
std::string to_text(const PlanAnswer& answer);
/// The map with contours, obstacles, marks, points and set-ups.
std::string to_svg(const PlanAnswer& answer);
/// The set-ups as a table.
std::string setups_csv(const PlanAnswer& answer);

/// The wanted share is proven by the set-ups.
bool is_proven(const PlanAnswer& answer);

}  // namespace layproof::acts
