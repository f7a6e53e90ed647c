#pragma once
// The plan of a set-up as one SVG text: where the marks, the station and the points are, how the
// marks misfit, how well everything is known, and which points are proven.
//
// Plain data in, text out; decides nothing, reads nothing, the same text for the same data. East is
// to the right, north up. Misfits and ellipses are far smaller than the site, so they are drawn at
// a scale of their own with a bar of their own; the plan has its bar too. Words and shapes carry
// every meaning, so the sheet can be printed in black. No script, no font file, no ids, nothing
// outside the text is referred to: it can stand in a file or inside a page.
//
// Degenerate: anything may be empty; one place only is shown as a plan two metres wide; coordinates
// that are not finite or beyond 1e9 m are left out and counted on the sheet; misfits and ellipses
// that are not finite are left out; a misfit far larger than the others is cut and says so. Names
// may hold any bytes: what XML cannot hold becomes U+FFFD. Names of points are thinned where they
// would collide, never those of marks and stations. Cost: 40 points 1 ms, 2,000 points 0.1 to 0.2
// s.

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "drawing/picture.hpp"
#include "measure/length.hpp"

namespace layproof::drawing {

struct PlanEllipse {
    double semi_major_m = 0.0;
    double semi_minor_m = 0.0;
    double azimuth_rad = 0.0;  ///< of the major axis, clockwise from north
};

struct PlanVector {
    double east_m = 0.0;
    double north_m = 0.0;
};

struct PlanMark {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    bool used = true;  ///< false: set aside
    /// From the position on the sheet to where the sights put the mark.
    std::optional<PlanVector> misfit;
    /// 95 %, drawn at the tip of the misfit, or about the mark without one.
    std::optional<PlanEllipse> ellipse_95;
};

struct PlanStation {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    std::optional<PlanEllipse> ellipse_95;
};

enum class PlanSightKind { control, check };

/// By position in the lists of stations and marks; a sight to nothing is not drawn.
struct PlanSight {
    std::size_t station = 0;
    std::size_t mark = 0;
    PlanSightKind kind = PlanSightKind::control;
};

/// to_lay: no verdict yet.
enum class PlanWord { to_lay, proven, in_doubt, fails };

struct PlanPoint {
    std::string name;
    double east_m = 0.0;
    double north_m = 0.0;
    PlanWord word = PlanWord::to_lay;
    std::optional<double> probability;  ///< of being within tolerance, 0 to 1
};

struct PlanGridLine {
    std::string name;
    double from_east_m = 0.0;
    double from_north_m = 0.0;
    double to_east_m = 0.0;
    double to_north_m = 0.0;
};

struct PlanDrawing {
    std::string title;
    std::vector<std::string> job_lines;  ///< under the title
    std::string remark;                  ///< in a frame of its own, such as "Invented data"
    std::vector<std::string> cautions;
    std::vector<PlanMark> marks;
    std::vector<PlanStation> stations;
    std::vector<PlanSight> sights;
    std::vector<PlanPoint> points;
    std::vector<PlanGridLine> grid_lines;  ///< cut at the edge of what else is drawn
    measure::LengthStyle style;
    /// Text keeps its size, so ask for the width of the screen or paper: 320 to 2400, others are
    /// brought into that range. Below 720 the key stands under the plan, else beside it.
    double width_px = 960.0;
};

Picture draw_plan(const PlanDrawing& drawing);
/// The same as SVG.
std::string draw_plan_svg(const PlanDrawing& drawing);

}  // namespace layproof::drawing
