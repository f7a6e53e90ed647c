#include "drawing/plan_view_internal.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <optional>
#include <vector>

namespace layproof::drawing {
namespace {

constexpr double kFarthest_m = 1e9;
constexpr double kSmallestSite_m = 2.0;
// What is this many times the median is cut, so that the ordinary ones can still be seen.
constexpr double kFarOff = 25.0;

struct Margins {
    double left, top, right, bottom;
};

PlanView with_margins(const PlanDrawing& d, double left, double top, double width,
                      const Margins& margins) {
    const Extent extent = extent_of(d);
    const double range_e = std::max(extent.east - extent.west, kSmallestSite_m);
    const double range_n = std::max(extent.north - extent.south, kSmallestSite_m);
    const double inner_width = width - margins.left - margins.right;
    const double inner_height =
        std::clamp(inner_width * range_n / range_e, 0.5 * inner_width, 1.15 * inner_width);
    PlanView view;
    view.frame = {left, top, left + width, top + inner_height + margins.top + margins.bottom};
    view.middle = {left + margins.left + 0.5 * inner_width, top + margins.top + 0.5 * inner_height};
    view.east_m = extent.west + 0.5 * (extent.east - extent.west);
    view.north_m = extent.south + 0.5 * (extent.north - extent.south);
    view.pixels_per_m = std::min(inner_width / range_e, inner_height / range_n);
    return view;
}

/// Length of the largest misfit or ellipse that is drawn whole; 0 when there is none.
double reference_length(const PlanDrawing& d) {
    std::vector<double> sizes;
    for (const auto& m : d.marks) {
        if (const auto* misfit = drawable_misfit(m)) sizes.push_back(length_of(*misfit));
        if (m.ellipse_95 && drawable(*m.ellipse_95)) sizes.push_back(m.ellipse_95->semi_major_m);
    }
    for (const auto& s : d.stations) {
        if (s.ellipse_95 && drawable(*s.ellipse_95)) sizes.push_back(s.ellipse_95->semi_major_m);
    }
    if (sizes.empty()) return 0.0;
    std::sort(sizes.begin(), sizes.end());
    const double median = sizes[sizes.size() / 2];
    if (median <= 0.0) return sizes.back();
    return *std::prev(std::upper_bound(sizes.begin(), sizes.end(), kFarOff * median));
}

/// Widens `margins` by what a disc about a place sticks out of the frame.
void make_room(Margins& margins, const PlanView& view, Pixel at, double radius) {
    constexpr double kRim = 6.0;
    const double reach = radius + kRim;
    margins.left += std::max(0.0, view.frame.left - (at.x - reach));
    margins.right += std::max(0.0, at.x + reach - view.frame.right);
    margins.top += std::max(0.0, view.frame.top - (at.y - reach));
    margins.bottom += std::max(0.0, at.y + reach - view.frame.bottom);
}

}  // namespace

bool drawable(double east_m, double north_m) {
    return std::abs(east_m) <= kFarthest_m && std::abs(north_m) <= kFarthest_m;
}

bool drawable(const PlanVector& v) {
    return drawable(v.east_m, v.north_m);
}

bool drawable(const PlanEllipse& e) {
    return e.semi_major_m >= 0.0 && e.semi_major_m <= kFarthest_m && e.semi_minor_m >= 0.0 &&
           e.semi_minor_m <= kFarthest_m && std::isfinite(e.azimuth_rad);
}

const PlanVector* drawable_misfit(const PlanMark& mark) {
    return mark.misfit && drawable(*mark.misfit) ? &*mark.misfit : nullptr;
}

double length_of(const PlanVector& v) {
    return std::hypot(v.east_m, v.north_m);
}

void Extent::add(double east_m, double north_m) {
    if (!drawable(east_m, north_m)) return;
    west = empty ? east_m : std::min(west, east_m);
    east = empty ? east_m : std::max(east, east_m);
    south = empty ? north_m : std::min(south, north_m);
    north = empty ? north_m : std::max(north, north_m);
    empty = false;
}

Extent extent_of(const PlanDrawing& drawing) {
    Extent extent;
    for (const auto& m : drawing.marks) extent.add(m.east_m, m.north_m);
    for (const auto& s : drawing.stations) extent.add(s.east_m, s.north_m);
    for (const auto& p : drawing.points) extent.add(p.east_m, p.north_m);
    if (!extent.empty) return extent;
    for (const auto& g : drawing.grid_lines) {
        extent.add(g.from_east_m, g.from_north_m);
        extent.add(g.to_east_m, g.to_north_m);
    }
    return extent;
}

PlanView::Tip PlanView::tip(const PlanMark& mark, const PlanVector& misfit) const {
    const Pixel from = at(mark.east_m, mark.north_m);
    const double off_m = length_of(misfit);
    const bool cut = off_m * small_pixels_per_m > longest_small;
    const double scale = cut ? longest_small / off_m : small_pixels_per_m;
    return {{from.x + scale * misfit.east_m, from.y - scale * misfit.north_m}, cut};
}

PlanView fit_view(const PlanDrawing& drawing, double left, double top, double width) {
    const double even = std::clamp(0.09 * width, 34.0, 64.0);
    Margins margins{even, even, even, even};
    PlanView view = with_margins(drawing, left, top, width, margins);
    const double longest = 12.0 + 0.12 * std::min(width, view.frame.bottom - view.frame.top);
    const double reference_m = reference_length(drawing);
    const double small =
        reference_m > 0.0 ? longest / std::max(reference_m, 1e-9) : view.pixels_per_m;

    // Wider margins shrink the site and bring the marks inwards; a few rounds settle it.
    for (int round = 0; round < 6; ++round) {
        view.small_pixels_per_m = small;
        view.longest_small = longest * (1.0 + 1e-9);
        Margins wanted = margins;
        const auto room_for = [&](Pixel at, const std::optional<PlanEllipse>& e) {
            const double radius =
                e && drawable(*e) ? std::min(e->semi_major_m * small, longest) : 0.0;
            Margins grown = margins;
            make_room(grown, view, at, radius);
            wanted = {std::max(wanted.left, grown.left), std::max(wanted.top, grown.top),
                      std::max(wanted.right, grown.right), std::max(wanted.bottom, grown.bottom)};
        };
        for (const auto& m : drawing.marks) {
            if (!drawable(m.east_m, m.north_m)) continue;
            const auto* misfit = drawable_misfit(m);
            room_for(misfit ? view.tip(m, *misfit).at : view.at(m.east_m, m.north_m), m.ellipse_95);
        }
        for (const auto& s : drawing.stations) {
            if (drawable(s.east_m, s.north_m)) {
                room_for(view.at(s.east_m, s.north_m), s.ellipse_95);
            }
        }
        const double growth = wanted.left + wanted.top + wanted.right + wanted.bottom -
                              (margins.left + margins.top + margins.right + margins.bottom);
        if (growth < 0.5 || wanted.left + wanted.right > 0.6 * width) break;
        margins = wanted;
        view = with_margins(drawing, left, top, width, margins);
    }
    view.small_pixels_per_m = small;
    view.longest_small = longest * (1.0 + 1e-9);
    return view;
}

}  // namespace layproof::drawing
