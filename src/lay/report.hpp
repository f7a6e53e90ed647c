#pragma once
// What a crew and a record need about laid points: the verdict with its reason in one sentence and
// the next thing to do.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "frame/mark.hpp"
#include "lay/as_laid.hpp"
#include "lay/building_grid.hpp"
#include "lay/groups.hpp"
#include "lay/mixture.hpp"
#include "lay/move_words.hpp"
#include "lay/tolerances.hpp"
#include "lay/verdict.hpp"

namespace layproof::lay {

/// Everything that is common to the points of one report.
struct ReportQuestion {
    const SetupSet& setups;
    const BuildingGrid& grid;
    measure::LengthStyle style;
    double confidence = kUsualConfidence;
};

/// One laid point.
struct PointReport {
    std::string point;
    std::vector<std::string> stations;  ///< it was sighted from
    LaidPlace laid;
    PointVerdict verdict;
    std::optional<GridPosition> design_grid;  ///< where it should be, by the grid
    std::vector<LineOffset> laid_offsets;     ///< where it is, from the nearest line of each family
    /// Deviation along each of those lines' across axis: as laid minus design, right positive.
    std::vector<double> across_lines_m;
    Move move;  ///< what the rod or mark must do
    std::string because;
    std::string next;
};

/// How a verdict came about: the place it is about, and from where it was sighted.
struct VerdictPlace {
    LaidPlace laid;  ///< place_m: the place as believed
    std::vector<std::string> stations;
    std::optional<Eigen::Vector2d> instrument_m;  ///< of the first, for the words of a move
};
/// The same for a verdict that others have found.
PointReport report_verdict(const PointVerdict& verdict, const VerdictPlace& where,
                           const frame::DesignPoint& design, const BuildingGrid& grid,
                           const measure::LengthStyle& style);

PointReport report_point(const LaidPlace& laid, const frame::DesignPoint& design,
                         const PointTolerance& tolerance, const ReportQuestion& question);

/// One sentence: what was found against what limit, and how sure that is.
std::string because_words(const PointVerdict& verdict, const measure::LengthStyle& style);
/// The same of a rule between points.
std::string because_words(const RuleVerdict& rule, const measure::LengthStyle& style);

/// What would clear it: nothing, the move, a better sight, or a better station. A point that would
/// be proven if it sat on its design place is moved; otherwise the larger part of the variance says
/// whether the sight or the station is to be made better.
std::string next_words(const PointVerdict& verdict, const Move& move);

/// Verdict over points: fails if any fails, proven if all are, else in doubt.
struct PointsSummary {
    station::Word word = station::Word::in_doubt;
    int proven = 0;
    int in_doubt = 0;
    int fails = 0;
    int weakest = -1;  ///< index of the lowest probability among the judged
};
PointsSummary summary_of(std::span<const PointReport> reports);

}  // namespace layproof::lay
