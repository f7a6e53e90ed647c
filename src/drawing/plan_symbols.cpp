#include "drawing/plan_symbols.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/text/percent.hpp"

namespace layproof::drawing {

void draw_mark(SvgCanvas& canvas, Pixel at, bool used) {
    const double r = kMarkRadius;
    const Pixel top{at.x, at.y - r};
    const Pixel left{at.x - 0.87 * r, at.y + 0.5 * r};
    const Pixel right{at.x + 0.87 * r, at.y + 0.5 * r};
    if (used) {
        canvas.polygon({top, right, left}, {.width = 1.6, .fill = ink::kPaper});
        canvas.circle(at, 1.6, {.width = 0.0, .fill = ink::kText});
    } else {
        canvas.polygon({top, right, left},
                       {.colour = ink::kMuted, .width = 1.2, .fill = ink::kPaper});
        canvas.line({at.x - 1.25 * r, at.y + 0.55 * r}, {at.x + 1.25 * r, at.y - 0.8 * r},
                    {.width = 2.0});
    }
}

void draw_station(SvgCanvas& canvas, Pixel at) {
    const double r = kStationRadius;
    canvas.circle(at, r - 2.5, {.width = 1.8, .fill = ink::kPaper});
    canvas.circle(at, 1.5, {.width = 0.0, .fill = ink::kText});
    for (const double turn : {0.0, 1.0, 2.0, 3.0}) {
        const double x = turn == 1.0 ? 1.0 : (turn == 3.0 ? -1.0 : 0.0);
        const double y = turn == 0.0 ? -1.0 : (turn == 2.0 ? 1.0 : 0.0);
        canvas.line({at.x + x * (r - 2.5), at.y + y * (r - 2.5)},
                    {at.x + x * (r + 2.0), at.y + y * (r + 2.0)}, {.width = 1.8});
    }
}

void draw_point(SvgCanvas& canvas, Pixel at, PlanWord word, double radius) {
    const double r = radius;
    const double thin = std::clamp(0.3 * r, 0.7, 1.4);
    switch (word) {
        case PlanWord::proven:
            canvas.circle(at, r, {.width = 0.0, .fill = ink::kProven});
            break;
        case PlanWord::in_doubt:
            canvas.circle(at, r, {.colour = ink::kDoubt, .width = thin, .fill = ink::kPaper});
            canvas.half_disc(at, r, {.width = 0.0, .fill = ink::kDoubt});
            break;
        case PlanWord::fails: {
            const double s = r * 1.05;
            canvas.rectangle({at.x - s, at.y - s}, 2.0 * s, 2.0 * s,
                             {.colour = ink::kFails, .width = thin + 0.3, .fill = ink::kPaper});
            canvas.cross(at, s, {.colour = ink::kFails, .width = thin + 0.3});
            break;
        }
        case PlanWord::to_lay:
            canvas.circle(at, 0.75 * r,
                          {.colour = ink::kMuted, .width = thin, .fill = ink::kPaper});
            break;
    }
}

void draw_sight(SvgCanvas& canvas, Pixel from, Pixel to, PlanSightKind kind) {
    canvas.line(from, to,
                {.colour = ink::kLine,
                 .width = kind == PlanSightKind::control ? 1.0 : 1.2,
                 .dash = kind == PlanSightKind::control ? "" : "2 4"});
}

void draw_ellipse(SvgCanvas& canvas, Pixel at, double major, double minor, double azimuth_rad,
                  bool cut) {
    canvas.ellipse(
        at, major, minor, azimuth_rad,
        {.colour = ink::kEllipse, .width = 1.1, .dash = cut ? "5 3" : "", .fill = ink::kEllipse},
        0.1);
}

void draw_misfit(SvgCanvas& canvas, Pixel from, Pixel to, bool cut) {
    const double length = std::hypot(to.x - from.x, to.y - from.y);
    if (length < 0.5) return;
    const Pixel along{(to.x - from.x) / length, (to.y - from.y) / length};
    const Pixel across{-along.y, along.x};
    const auto at = [&](double forward, double sideways) {
        return Pixel{from.x + forward * along.x + sideways * across.x,
                     from.y + forward * along.y + sideways * across.y};
    };
    const double head = std::min(8.0, 0.6 * length);
    const Stroke stroke{.colour = ink::kMisfit, .width = 2.2};
    canvas.line(from, at(length - 0.8 * head, 0.0), stroke);
    canvas.polygon({to, at(length - head, 0.42 * head), at(length - head, -0.42 * head)},
                   {.width = 0.0, .fill = ink::kMisfit});
    if (!cut) return;
    for (const double forward : {0.5 * length - 2.0, 0.5 * length + 2.0}) {
        canvas.line(at(forward - 2.0, -6.0), at(forward + 2.0, 6.0),
                    {.colour = ink::kMisfit, .width = 1.4});
    }
}

void draw_grid_line(SvgCanvas& canvas, Pixel from, Pixel to) {
    canvas.line(from, to, {.colour = ink::kLine, .width = 0.7, .dash = "12 3 2 3"});
}

void draw_north(SvgCanvas& canvas, Pixel at, double height) {
    const double half = 0.22 * height;
    const double top = at.y - height;
    const double tail = at.y - 0.18 * height;
    canvas.polygon({{at.x, top}, {at.x, tail}, {at.x - half, at.y}},
                   {.width = 1.1, .fill = ink::kText});
    canvas.polygon({{at.x, top}, {at.x + half, at.y}, {at.x, tail}},
                   {.width = 1.1, .fill = ink::kPaper});
    canvas.text({at.x, top - 4.0}, "N", {.size = 13.0, .bold = true, .anchor = "middle"});
}

void draw_bar(SvgCanvas& canvas, Pixel at, double length) {
    canvas.rectangle({at.x, at.y}, 0.5 * length, 4.0, {.width = 0.0, .fill = ink::kText});
    canvas.rectangle({at.x, at.y}, length, 4.0, {.width = 1.0});
    for (const double x : {at.x, at.x + length}) {
        canvas.line({x, at.y - 3.0}, {x, at.y + 7.0}, {.width = 1.2});
    }
}

std::string to_text(PlanWord word) {
    switch (word) {
        case PlanWord::proven:
            return "proven";
        case PlanWord::in_doubt:
            return "in doubt";
        case PlanWord::fails:
            return "fails";
        case PlanWord::to_lay:
            break;
    }
    return "to lay";
}

std::string probability_text(const std::optional<double>& probability) {
    if (!probability || !std::isfinite(*probability)) return "";
    return short_percent(*probability);
}

}  // namespace layproof::drawing
