#include "drawing/svg_canvas.hpp"

#include <fmt/format.h>

#include <cmath>
#include <iterator>
#include <numbers>
#include <utility>

#include "base/text/xml.hpp"

namespace layproof::drawing {
namespace {

std::string stroke_attributes(const Stroke& stroke) {
    std::string text = fmt::format("fill=\"{}\"", stroke.fill);
    if (stroke.width <= 0.0) return text;
    text +=
        fmt::format(" stroke=\"{}\" stroke-width=\"{}\"", stroke.colour, svg_number(stroke.width));
    if (!stroke.dash.empty()) text += fmt::format(" stroke-dasharray=\"{}\"", stroke.dash);
    return text;
}

/// Writes one shape after the other as an element.
struct SvgElements {
    std::string out;

    template <class... Values>
    void put(fmt::format_string<Values...> form, Values&&... values) {
        fmt::format_to(std::back_inserter(out), form, std::forward<Values>(values)...);
    }

    void operator()(const shape::Line& s) {
        put("<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {}/>\n", svg_number(s.a.x),
            svg_number(s.a.y), svg_number(s.b.x), svg_number(s.b.y), stroke_attributes(s.stroke));
    }
    void operator()(const shape::Rectangle& s) {
        put("<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {}", svg_number(s.corner.x),
            svg_number(s.corner.y), svg_number(s.width), svg_number(s.height),
            stroke_attributes(s.stroke));
        if (s.round > 0.0) put(" rx=\"{}\"", svg_number(s.round));
        if (s.opacity < 1.0) put(" fill-opacity=\"{}\"", svg_number(s.opacity));
        out += "/>\n";
    }
    void operator()(const shape::Circle& s) {
        put("<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {}/>\n", svg_number(s.centre.x),
            svg_number(s.centre.y), svg_number(s.radius), stroke_attributes(s.stroke));
    }
    void operator()(const shape::Ellipse& s) {
        put("<ellipse rx=\"{}\" ry=\"{}\" transform=\"translate({} {}) rotate({})\" {} "
            "fill-opacity=\"{}\"/>\n",
            svg_number(s.minor), svg_number(s.major), svg_number(s.centre.x),
            svg_number(s.centre.y), svg_number(s.azimuth_rad * 180.0 / std::numbers::pi),
            stroke_attributes(s.stroke), svg_number(s.fill_opacity));
    }
    void operator()(const shape::Polygon& s) {
        out += "<polygon points=\"";
        bool first = true;
        for (const Pixel& corner : s.corners) {
            if (!first) out += ' ';
            first = false;
            out += svg_number(corner.x) + "," + svg_number(corner.y);
        }
        put("\" stroke-linejoin=\"round\" {}/>\n", stroke_attributes(s.stroke));
    }
    void operator()(const shape::HalfDisc& s) {
        put("<path d=\"M{} {}a{} {} 0 0 0 {} 0z\" {}/>\n", svg_number(s.centre.x - s.radius),
            svg_number(s.centre.y), svg_number(s.radius), svg_number(s.radius),
            svg_number(2.0 * s.radius), stroke_attributes(s.stroke));
    }
    void operator()(const shape::Cross& s) {
        put("<path d=\"M{0} {1}L{2} {3}M{0} {3}L{2} {1}\" {4}/>\n", svg_number(s.centre.x - s.half),
            svg_number(s.centre.y - s.half), svg_number(s.centre.x + s.half),
            svg_number(s.centre.y + s.half), stroke_attributes(s.stroke));
    }
    void operator()(const shape::Text& s) {
        put("<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"", svg_number(s.at.x),
            svg_number(s.at.y), svg_number(s.style.size), s.style.colour);
        if (s.style.bold) out += " font-weight=\"bold\"";
        if (s.style.anchor != "start") put(" text-anchor=\"{}\"", s.style.anchor);
        if (s.style.turn_deg != 0.0)
            put(" transform=\"rotate({} {} {})\"", svg_number(s.style.turn_deg), svg_number(s.at.x),
                svg_number(s.at.y));
        out += ">" + escape_xml(s.content) + "</text>\n";
    }
    void operator()(const shape::BeginGroup& s) {
        put("<g data-kind=\"{}\"><title>{}</title>\n", s.kind, escape_xml(s.title));
    }
    void operator()(const shape::EndGroup&) { out += "</g>\n"; }
};

}  // namespace

std::string svg_number(double value) {
    if (!std::isfinite(value)) return "0";
    std::string text = fmt::format("{:.2f}", value);
    while (text.back() == '0') text.pop_back();
    if (text.back() == '.') text.pop_back();
    return text == "-0" ? "0" : text;
}

std::string to_svg(const Picture& picture) {
    SvgElements elements;
    elements.put(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}\" height=\"{1}\" "
        "viewBox=\"0 0 {0} {1}\" role=\"img\" aria-label=\"{2}\" "
        "font-family=\"Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif\">\n"
        "<title>{2}</title>\n<desc>{3}</desc>\n"
        "<rect width=\"{0}\" height=\"{1}\" fill=\"{4}\"/>\n",
        svg_number(picture.width), svg_number(picture.height), escape_xml(picture.title),
        escape_xml(picture.description), ink::kPaper);
    for (const Shape& one : picture.shapes) std::visit(elements, one);
    elements.out += "</svg>\n";
    return std::move(elements.out);
}

Picture SvgCanvas::finish(double width, double height, std::string_view title,
                          std::string_view description) {
    Picture picture{width, height, std::string(title), std::string(description),
                    std::move(shapes_)};
    shapes_.clear();
    return picture;
}

void SvgCanvas::line(Pixel a, Pixel b, const Stroke& stroke) {
    shapes_.push_back(shape::Line{a, b, stroke});
}

void SvgCanvas::rectangle(Pixel corner, double width, double height, const Stroke& stroke,
                          double opacity, double round) {
    shapes_.push_back(shape::Rectangle{corner, width, height, stroke, opacity, round});
}

void SvgCanvas::circle(Pixel centre, double radius, const Stroke& stroke) {
    shapes_.push_back(shape::Circle{centre, radius, stroke});
}

void SvgCanvas::ellipse(Pixel centre, double major, double minor, double azimuth_rad,
                        const Stroke& stroke, double fill_opacity) {
    shapes_.push_back(shape::Ellipse{centre, major, minor, azimuth_rad, stroke, fill_opacity});
}

void SvgCanvas::polygon(std::initializer_list<Pixel> corners, const Stroke& stroke) {
    shapes_.push_back(shape::Polygon{corners, stroke});
}

void SvgCanvas::outline(std::vector<Pixel> corners, const Stroke& stroke) {
    shapes_.push_back(shape::Polygon{std::move(corners), stroke});
}

void SvgCanvas::half_disc(Pixel centre, double radius, const Stroke& stroke) {
    shapes_.push_back(shape::HalfDisc{centre, radius, stroke});
}

void SvgCanvas::cross(Pixel centre, double half, const Stroke& stroke) {
    shapes_.push_back(shape::Cross{centre, half, stroke});
}

void SvgCanvas::text(Pixel at, std::string_view content, const TextStyle& style) {
    shapes_.push_back(shape::Text{at, std::string(content), style});
}

void SvgCanvas::begin_group(std::string_view title, std::string_view kind) {
    shapes_.push_back(shape::BeginGroup{std::string(title), std::string(kind)});
}

void SvgCanvas::end_group() {
    shapes_.push_back(shape::EndGroup{});
}

}  // namespace layproof::drawing
