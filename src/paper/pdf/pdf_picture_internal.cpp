#include "paper/pdf/pdf_picture_internal.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "drawing/plan_symbols.hpp"

namespace layproof::paper {
namespace {

double shown(double value) {
    return std::isfinite(value) ? std::clamp(value, -1e6, 1e6) : 0.0;
}

/// "5 4", as the palette writes dashes: digits, points and blanks.
std::vector<double> dash_lengths(std::string_view dash) {
    std::vector<double> out;
    double value = 0.0;
    double place = 0.0;
    bool open = false;
    const auto close = [&] {
        if (open) out.push_back(value);
        value = 0.0;
        place = 0.0;
        open = false;
    };
    for (const char c : dash) {
        if (c >= '0' && c <= '9') {
            open = true;
            if (place > 0.0) {
                value += (c - '0') * place;
                place *= 0.1;
            } else {
                value = 10.0 * value + (c - '0');
            }
        } else if (c == '.') {
            place = 0.1;
        } else {
            close();
        }
    }
    close();
    return out;
}

struct CairoShapes {
    cairo_t* cr;
    TextSetter& text;

    void ink_in(std::string_view colour, double opacity) const {
        const auto c = colour_of(colour);
        if (opacity < 1.0)
            cairo_set_source_rgba(cr, c[0], c[1], c[2], opacity);
        else
            cairo_set_source_rgb(cr, c[0], c[1], c[2]);
    }

    /// Fills and strokes the path as the stroke says.
    void paint(const drawing::Stroke& stroke, double opacity = 1.0) const {
        const bool fills = stroke.fill != "none" && !stroke.fill.empty();
        const bool strokes = stroke.width > 0.0;
        if (fills) {
            ink_in(stroke.fill, opacity);
            if (strokes)
                cairo_fill_preserve(cr);
            else
                cairo_fill(cr);
        }
        if (!strokes) {
            cairo_new_path(cr);
            return;
        }
        ink_in(stroke.colour, 1.0);
        cairo_set_line_width(cr, shown(stroke.width));
        const std::vector<double> dashes = dash_lengths(stroke.dash);
        cairo_set_dash(cr, dashes.data(), static_cast<int>(dashes.size()), 0.0);
        cairo_stroke(cr);
        cairo_set_dash(cr, nullptr, 0, 0.0);
    }
    void move(drawing::Pixel p) const { cairo_move_to(cr, shown(p.x), shown(p.y)); }
    void go(drawing::Pixel p) const { cairo_line_to(cr, shown(p.x), shown(p.y)); }

    void operator()(const drawing::shape::Line& s) const {
        move(s.a);
        go(s.b);
        paint(s.stroke);
    }
    void operator()(const drawing::shape::Rectangle& s) const {
        const double w = shown(s.width);
        const double h = shown(s.height);
        const double r = std::min({shown(s.round), 0.5 * w, 0.5 * h});
        const double x = shown(s.corner.x);
        const double y = shown(s.corner.y);
        if (r > 0.0) {
            const double quarter = 0.5 * std::numbers::pi;
            cairo_new_sub_path(cr);
            cairo_arc(cr, x + w - r, y + r, r, -quarter, 0.0);
            cairo_arc(cr, x + w - r, y + h - r, r, 0.0, quarter);
            cairo_arc(cr, x + r, y + h - r, r, quarter, 2.0 * quarter);
            cairo_arc(cr, x + r, y + r, r, 2.0 * quarter, 3.0 * quarter);
            cairo_close_path(cr);
        } else {
            cairo_rectangle(cr, x, y, w, h);
        }
        paint(s.stroke, s.opacity);
    }
    void operator()(const drawing::shape::Circle& s) const {
        cairo_new_sub_path(cr);
        cairo_arc(cr, shown(s.centre.x), shown(s.centre.y), shown(s.radius), 0.0,
                  2.0 * std::numbers::pi);
        cairo_close_path(cr);
        paint(s.stroke);
    }
    void operator()(const drawing::shape::Ellipse& s) const {
        // A circle scaled to nothing has no path.
        const double minor = std::max(shown(s.minor), 1e-3);
        const double major = std::max(shown(s.major), 1e-3);
        cairo_save(cr);
        cairo_translate(cr, shown(s.centre.x), shown(s.centre.y));
        cairo_rotate(cr, shown(s.azimuth_rad));
        cairo_scale(cr, minor, major);
        cairo_new_sub_path(cr);
        cairo_arc(cr, 0.0, 0.0, 1.0, 0.0, 2.0 * std::numbers::pi);
        cairo_close_path(cr);
        cairo_restore(cr);
        paint(s.stroke, s.fill_opacity);
    }
    void operator()(const drawing::shape::Polygon& s) const {
        if (s.corners.empty()) return;
        move(s.corners.front());
        for (std::size_t i = 1; i < s.corners.size(); ++i) go(s.corners[i]);
        cairo_close_path(cr);
        paint(s.stroke);
    }
    void operator()(const drawing::shape::HalfDisc& s) const {
        cairo_new_sub_path(cr);
        cairo_arc(cr, shown(s.centre.x), shown(s.centre.y), shown(s.radius), 0.0, std::numbers::pi);
        cairo_close_path(cr);
        paint(s.stroke);
    }
    void operator()(const drawing::shape::Cross& s) const {
        const double h = s.half;
        move({s.centre.x - h, s.centre.y - h});
        go({s.centre.x + h, s.centre.y + h});
        move({s.centre.x - h, s.centre.y + h});
        go({s.centre.x + h, s.centre.y - h});
        paint(s.stroke);
    }
    void operator()(const drawing::shape::Text& s) const {
        cairo_save(cr);
        cairo_translate(cr, shown(s.at.x), shown(s.at.y));
        if (s.style.turn_deg != 0.0)
            cairo_rotate(cr, shown(s.style.turn_deg) * std::numbers::pi / 180.0);
        text.draw_line(cr, 0.0, 0.0, settable(s.content), kDrawingFamily, shown(s.style.size),
                       s.style.bold, s.style.anchor, s.style.colour);
        cairo_restore(cr);
    }
    void operator()(const drawing::shape::BeginGroup&) const {}
    void operator()(const drawing::shape::EndGroup&) const {}
};

}  // namespace

void draw_picture(cairo_t* cr, const drawing::Picture& picture, TextSetter& text) {
    cairo_save(cr);
    cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
    const CairoShapes shapes{cr, text};
    for (const drawing::Shape& one : picture.shapes) std::visit(shapes, one);
    cairo_restore(cr);
}

void draw_sign(cairo_t* cr, double x, double y, drawing::PlanWord word, double radius,
               TextSetter& text) {
    drawing::SvgCanvas canvas;
    drawing::draw_point(canvas, {x, y}, word, radius);
    draw_picture(cr, canvas.finish(0.0, 0.0, "", ""), text);
}

}  // namespace layproof::paper
