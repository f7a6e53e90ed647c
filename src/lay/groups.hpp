#pragma once
// Figures between laid points, each judged with what the points share: rod to rod, group to group,
// offset from a line, and the build-up along a line through many groups.
//
// A group's centre is a place like any other (centre_of). All figures are linearised at the places
// as sighted (mixture.hpp):
//   distance      d = |b − a|, derivative the unit vector from a to b. Second order ⟂²/(2d) is left
//                 out: 0.02 mm for 2 mm across at 0.1 m
//   spacing       (b − a) · u along a direction u, sign kept
//   line offset   across the line, to the right of its sense
// Two places that are sums of the same points (a centre and one of its points) would need their
// common own errors; they are taken as independent, which overstates the variance of a difference.

#include <Eigen/Core>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "base/result.hpp"
#include "frame/grid_line.hpp"
#include "lay/as_laid.hpp"
#include "lay/tolerances.hpp"
#include "lay/verdict.hpp"

namespace layproof::lay {

enum class RuleKind { distance, spacing, line_offset };
/// "distance", "spacing", "line-offset".
std::string_view to_word(RuleKind kind);

/// One figure between points against its limit.
struct RuleVerdict {
    RuleKind kind = RuleKind::distance;
    std::string from;
    std::string to;  ///< a point, or the line's name
    double design_m = 0.0;
    double measured_m = 0.0;
    FigureVerdict verdict;     ///< of measured minus design
    std::string tolerance_id;  ///< of the table's row, if it came from there
    std::string source_words;
    bool from_memory = false;
};

struct RuleQuestion {
    const SetupSet& setups;
    Limits limits;
    double confidence = kUsualConfidence;
};

/// Plan distance of two places against the design's. Nothing where the places lie closer than five
/// standard deviations of their difference: then a distance is no linear figure.
std::optional<RuleVerdict> distance_rule(const LaidPlace& a, const LaidPlace& b, double design_m,
                                         const RuleQuestion& question);

/// (b − a) along a plan direction against the design's. Nothing for a direction without length.
std::optional<RuleVerdict> spacing_rule(const LaidPlace& a, const LaidPlace& b,
                                        const Eigen::Vector2d& direction, double design_m,
                                        const RuleQuestion& question);

/// Offset of a place from a line, against the design's (0 on the line), right positive.
RuleVerdict line_offset_rule(const LaidPlace& place, const frame::GridLine& line, double design_m,
                             const RuleQuestion& question);

/// A laid place with its design position.
struct LaidAgainst {
    LaidPlace laid;
    Eigen::Vector2d design_m = Eigen::Vector2d::Zero();
};

/// Every two points of a group (bolt to bolt) against their design distances.
std::vector<RuleVerdict> all_distances(std::span<const LaidAgainst> points,
                                       const RuleQuestion& question);

/// Neighbours in the order given (group to group along a row).
std::vector<RuleVerdict> neighbour_distances(std::span<const LaidAgainst> centres,
                                             const RuleQuestion& question);

/// Build-up along a line: for every two centres the spacing along it against the design's, within
/// what `row` allows for their design distance (limits of `question` are not used). Centres in any
/// order; pairs closer than 0.01 m along the line are left out. Refuses as limits_of.
Result<std::vector<RuleVerdict>> build_up(std::span<const LaidAgainst> centres,
                                          const frame::GridLine& line, const ToleranceRow& row,
                                          const RuleQuestion& question);

/// The verdict of many rules that must all hold: fails if any fails, proven if all are, else in
/// doubt; `weakest` is the least probable. Each is judged alone: no probability is given for all.
struct RulesSummary {
    station::Word word = station::Word::in_doubt;
    int weakest = -1;
    int proven = 0;
    int fails = 0;
};
RulesSummary summary_of(std::span<const RuleVerdict> rules);

}  // namespace layproof::lay
