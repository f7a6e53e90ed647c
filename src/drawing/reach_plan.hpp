#pragma once
// The plan of where to stand: what can be proven from every place as bands with contours, over it
// what stands on the floor, no-go areas, marks, points and the set-ups with their walk.
//
// Plain data in, a picture out; decides nothing. East is to the right, north up. Bands are told by
// their darkness and by the numbers of the key, set-ups by their name, so the sheet can be printed
// in black. Degenerate: anything may be empty; what is not finite is left out.

#include <string>
#include <vector>

#include "drawing/picture.hpp"
#include "measure/length.hpp"

namespace layproof::drawing {

struct ReachOutline {
    std::vector<double> east_m, north_m;  ///< corners; empty: round
    double centre_east_m = 0.0, centre_north_m = 0.0;
    double radius_m = 0.0;
    bool is_no_go = false;
    bool is_low = false;  ///< can be looked over
};

struct ReachPlace {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
};

struct ReachPoint {
    double east_m = 0.0;
    double north_m = 0.0;
    bool is_counted = false;  ///< proven by the set-ups shown
};

struct ReachDrawing {
    std::string title;
    std::vector<std::string> job_lines;
    std::vector<std::string> cautions;
    double west_m = 0.0, south_m = 0.0, step_m = 0.5;
    int columns = 0, rows = 0;
    /// Points proven from each place, east fastest; negative where nobody can stand.
    std::vector<float> proven;
    std::vector<ReachOutline> obstacles;
    std::vector<ReachPlace> marks;
    std::vector<ReachPlace> setups;  ///< in the order of the walk
    std::vector<ReachPoint> points;
    measure::LengthStyle style;
    double width_px = 960.0;  ///< 320 to 2400
};

Picture draw_reach(const ReachDrawing& drawing);

}  // namespace layproof::drawing
