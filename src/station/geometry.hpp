#pragma once
// Why a set-up is weak, as facts that words can be made of. Weak geometry is an answer, not an
// error.

#include <string>
#include <vector>

#include "station/prepared.hpp"
#include "station/solution.hpp"

namespace layproof::station {

enum class RemarkKind {
    two_marks_only,     ///< swapped names or swapped axes would fit perfectly
    danger_circle,      ///< directions only, station on or near the circle through the marks
    marks_in_line,      ///< the marks lie in a line
    narrow_fan,         ///< all sights within a narrow angle
    one_sided,          ///< all sights within half the horizon
    no_check,           ///< nothing is left over: a wrong figure cannot show
    several_solutions,  ///< more than one place fits
    steep_sight,        ///< a sight so steep that plumb and axis tilt rule it
    no_height,          ///< the station's height cannot be found
};

/// kebab-case word for JSON.
std::string_view to_word(RemarkKind kind);

struct Remark {
    RemarkKind kind{};
    double angle_rad = 0.0;  ///< fan width, gap, steepness; 0 where it means nothing
    double amount_m = 0.0;   ///< distance from the danger circle, scatter across the line, …
    std::vector<std::string> subjects;  ///< marks
};

/// The plan direction in which the station is weakest, with its standard deviations.
struct WeakDirection {
    double azimuth_rad = 0.0;  ///< [0, π)
    double major_m = 0.0;
    double minor_m = 0.0;
};

struct Geometry {
    std::vector<Remark> remarks;  ///< most serious first
    WeakDirection weak;
    int mark_count = 0;  ///< different marks used, with plan
};

/// Thresholds (common practice, no source): fan below 30°, one side when the largest gap exceeds
/// 180°, marks in line when their scatter across is below 1/20 of that along, danger circle when
/// the station's distance from it is below 1/10 of its radius, steep above 45° from level.
Geometry judge_geometry(const Prepared& setup, const Solved& solved);

}  // namespace layproof::station
