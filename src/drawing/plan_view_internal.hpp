#pragma once
// Where a plan lies on its sheet, and how metres become pixels there: at one scale for the site and
// at a larger one for misfits and ellipses.

#include "drawing/label_layout_internal.hpp"
#include "drawing/svg_canvas.hpp"
#include "drawing/svg_plan.hpp"

namespace layproof::drawing {

/// A position that can be drawn: finite and not beyond 1e9 m.
bool drawable(double east_m, double north_m);
bool drawable(const PlanVector& v);
bool drawable(const PlanEllipse& e);

/// A mark's misfit if it can be drawn.
const PlanVector* drawable_misfit(const PlanMark& mark);

double length_of(const PlanVector& v);

/// What the plan must hold, in metres: marks, stations and points, or else the grid lines.
struct Extent {
    double west = 0.0;
    double east = 0.0;
    double south = 0.0;
    double north = 0.0;
    bool empty = true;

    void add(double east_m, double north_m);
};

Extent extent_of(const PlanDrawing& drawing);

struct PlanView {
    Box frame;
    Pixel middle;  ///< of what is shown, at (east_m, north_m)
    double east_m = 0.0;
    double north_m = 0.0;
    double pixels_per_m = 1.0;
    double small_pixels_per_m = 1.0;  ///< misfits and ellipses
    double longest_small = 1.0;       ///< pixels; longer misfits and ellipses are cut

    Pixel at(double e_m, double n_m) const {
        return {middle.x + (e_m - east_m) * pixels_per_m,
                middle.y - (n_m - north_m) * pixels_per_m};
    }

    struct Tip {
        Pixel at;
        bool cut = false;
    };
    /// End of a mark's misfit arrow.
    Tip tip(const PlanMark& mark, const PlanVector& misfit) const;
};

/// The frame's height follows from the site's shape within bounds. Its margins grow until misfits
/// and ellipses stay inside.
PlanView fit_view(const PlanDrawing& drawing, double left, double top, double width);

}  // namespace layproof::drawing
