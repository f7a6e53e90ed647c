#include "record/svg_canvas_internal.hpp"

#include <fmt/format.h>

#include <cmath>
#include <iterator>
#include <numbers>

#include "record/xml_text.hpp"

namespace layproof::record {
namespace {

std::string stroke_attributes(const Stroke& stroke) {
    std::string text = fmt::format("fill=\"{}\"", stroke.fill);
    if (stroke.width <= 0.0) return text;
    text +=
        fmt::format(" stroke=\"{}\" stroke-width=\"{}\"", stroke.colour, svg_number(stroke.width));
    if (!stroke.dash.empty()) text += fmt::format(" stroke-dasharray=\"{}\"", stroke.dash);
    return text;
}

}  // namespace

std::string svg_number(double value) {
    if (!std::isfinite(value)) return "0";
    std::string text = fmt::format("{:.2f}", value);
    while (text.back() == '0') text.pop_back();
    if (text.back() == '.') text.pop_back();
    return text == "-0" ? "0" : text;
}

std::string SvgCanvas::finish(double width, double height, std::string_view title,
                              std::string_view description) {
    const std::string w = svg_number(width);
    const std::string h = svg_number(height);
    std::string document = fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{0}\" height=\"{1}\" "
        "viewBox=\"0 0 {0} {1}\" role=\"img\" aria-label=\"{2}\" "
        "font-family=\"Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif\">\n"
        "<title>{2}</title>\n<desc>{3}</desc>\n"
        "<rect width=\"{0}\" height=\"{1}\" fill=\"{4}\"/>\n",
        w, h, escape_xml(title), escape_xml(description), ink::kPaper);
    document += out_;
    document += "</svg>\n";
    out_.clear();
    return document;
}

void SvgCanvas::line(Pixel a, Pixel b, const Stroke& stroke) {
    fmt::format_to(std::back_inserter(out_), "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {}/>\n",
                   svg_number(a.x), svg_number(a.y), svg_number(b.x), svg_number(b.y),
                   stroke_attributes(stroke));
}

void SvgCanvas::rectangle(Pixel corner, double width, double height, const Stroke& stroke,
                          double opacity, double round) {
    fmt::format_to(std::back_inserter(out_),
                   "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {}", svg_number(corner.x),
                   svg_number(corner.y), svg_number(width), svg_number(height),
                   stroke_attributes(stroke));
    if (round > 0.0) out_ += fmt::format(" rx=\"{}\"", svg_number(round));
    if (opacity < 1.0) out_ += fmt::format(" fill-opacity=\"{}\"", svg_number(opacity));
    out_ += "/>\n";
}

void SvgCanvas::circle(Pixel centre, double radius, const Stroke& stroke) {
    fmt::format_to(std::back_inserter(out_), "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {}/>\n",
                   svg_number(centre.x), svg_number(centre.y), svg_number(radius),
                   stroke_attributes(stroke));
}

void SvgCanvas::ellipse(Pixel centre, double major, double minor, double azimuth_rad,
                        const Stroke& stroke, double fill_opacity) {
    fmt::format_to(std::back_inserter(out_),
                   "<ellipse rx=\"{}\" ry=\"{}\" transform=\"translate({} {}) rotate({})\" {} "
                   "fill-opacity=\"{}\"/>\n",
                   svg_number(minor), svg_number(major), svg_number(centre.x), svg_number(centre.y),
                   svg_number(azimuth_rad * 180.0 / std::numbers::pi), stroke_attributes(stroke),
                   svg_number(fill_opacity));
}

void SvgCanvas::polygon(std::initializer_list<Pixel> corners, const Stroke& stroke) {
    out_ += "<polygon points=\"";
    bool first = true;
    for (const Pixel& corner : corners) {
        if (!first) out_ += ' ';
        first = false;
        out_ += svg_number(corner.x) + "," + svg_number(corner.y);
    }
    fmt::format_to(std::back_inserter(out_), "\" stroke-linejoin=\"round\" {}/>\n",
                   stroke_attributes(stroke));
}

void SvgCanvas::path(std::string_view data, const Stroke& stroke) {
    fmt::format_to(std::back_inserter(out_), "<path d=\"{}\" {}/>\n", data,
                   stroke_attributes(stroke));
}

void SvgCanvas::text(Pixel at, std::string_view content, const TextStyle& style) {
    fmt::format_to(std::back_inserter(out_), "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"",
                   svg_number(at.x), svg_number(at.y), svg_number(style.size), style.colour);
    if (style.bold) out_ += " font-weight=\"bold\"";
    if (style.anchor != "start") out_ += fmt::format(" text-anchor=\"{}\"", style.anchor);
    if (style.turn_deg != 0.0) {
        out_ += fmt::format(" transform=\"rotate({} {} {})\"", svg_number(style.turn_deg),
                            svg_number(at.x), svg_number(at.y));
    }
    out_ += ">" + escape_xml(content) + "</text>\n";
}

void SvgCanvas::begin_group(std::string_view title, std::string_view kind) {
    out_ += fmt::format("<g data-kind=\"{}\"><title>{}</title>\n", kind, escape_xml(title));
}

void SvgCanvas::end_group() {
    out_ += "</g>\n";
}

}  // namespace layproof::record
