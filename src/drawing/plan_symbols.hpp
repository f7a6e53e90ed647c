#pragma once
// The signs of the plan, drawn alike on the plan and in its key. Each has its own shape; colour
// only helps.
//   mark, used        triangle with a dot          mark, set aside   broken triangle, struck
//   through station           ring in four ticks           point to lay      small open ring proven
//   full disc                    in doubt          ring, lower half full fails             square
//   with a cross

#include <optional>
#include <string>

#include "drawing/svg_canvas.hpp"
#include "drawing/svg_plan.hpp"

namespace layproof::drawing {

inline constexpr double kMarkRadius = 7.5;
inline constexpr double kStationRadius = 8.0;

void draw_mark(SvgCanvas& canvas, Pixel at, bool used);
void draw_station(SvgCanvas& canvas, Pixel at);
void draw_point(SvgCanvas& canvas, Pixel at, PlanWord word, double radius);
void draw_sight(SvgCanvas& canvas, Pixel from, Pixel to, PlanSightKind kind);
/// `cut`: larger in truth, in a broken line.
void draw_ellipse(SvgCanvas& canvas, Pixel at, double major, double minor, double azimuth_rad,
                  bool cut);
/// An arrow; `cut` puts two strokes across it: longer in truth.
void draw_misfit(SvgCanvas& canvas, Pixel from, Pixel to, bool cut);
void draw_grid_line(SvgCanvas& canvas, Pixel from, Pixel to);
/// Half as wide as high; `at` is its foot.
void draw_north(SvgCanvas& canvas, Pixel at, double height);
/// Two halves, dark and light, with end strokes; its left end is at `at`.
void draw_bar(SvgCanvas& canvas, Pixel at, double length);

/// "proven", "in doubt", "fails", "to lay".
std::string to_text(PlanWord word);

/// "97.3 %", cut and not rounded to a tenth; empty for nothing or not a number.
std::string probability_text(const std::optional<double>& probability);

}  // namespace layproof::drawing
