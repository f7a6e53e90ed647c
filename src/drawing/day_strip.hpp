#pragma once
// The day of a set-up as one SVG text: set-ups, checks, points laid and sighted again along the
// hours, and the stretch in which the instrument probably moved.
//
// Plain data in, text out; decides nothing. Time runs to the right. Every meaning is carried by a
// shape and a word, colour only helps; the doubt band is hatched, so that it survives a grey copy.
// No script, no font file, no ids. Same text for the same data.
//
// Degenerate: anything may be empty; times that are not finite are left out and counted on the
// sheet; one moment only is shown as an hour about it. Points that share a few minutes are stacked;
// a stack that does not fit ends in a number. Names may hold any bytes.

#include <optional>
#include <string>
#include <vector>

#include "drawing/svg_plan.hpp"

namespace layproof::drawing {

struct StripSetup {
    std::string name;
    double from_s = 0.0;
    double to_s = 0.0;
};

struct StripCheck {
    std::string mark;
    double time_s = 0.0;
    bool good = true;
    std::string detail;  ///< such as "11 mm off"; shown where the check is not good
};

struct StripLaying {
    std::string point;
    double time_s = 0.0;
    PlanWord word = PlanWord::to_lay;
};

struct StripResight {
    std::string name;
    double time_s = 0.0;
};

/// Where a move probably lies.
struct StripBand {
    double from_s = 0.0;
    double to_s = 0.0;
    std::string text;  ///< such as "moved in here: 97 %"
};

struct DayStrip {
    std::string title;
    std::vector<std::string> job_lines;
    std::string remark;  ///< verdict in one sentence
    std::vector<std::string> cautions;
    std::vector<std::string> sight_first;  ///< what to sight, in order
    std::vector<StripSetup> setups;
    std::vector<StripCheck> checks;
    std::vector<StripLaying> layings;
    std::vector<StripResight> resights;
    std::vector<StripBand> bands;
    std::optional<double> next_check_s;
    double utc_offset_s = 0.0;  ///< of the site's clock
    double width_px = 960.0;    ///< 320 to 2400
};

Picture draw_day_strip(const DayStrip& strip);
/// The same as SVG.
std::string draw_day_strip_svg(const DayStrip& strip);

}  // namespace layproof::drawing
