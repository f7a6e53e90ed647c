#pragma once
// A drawing as a list of shapes, so that one drawing goes out as SVG and into a PDF alike. Made by
// svg_plan and day_strip; units are pixels, y runs down.

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace layproof::drawing {

struct Pixel {
    double x = 0.0;
    double y = 0.0;
};

/// Colours and dashes are words that live as long as the program.
struct Stroke {
    std::string_view colour = "#1c2530";
    double width = 1.0;
    std::string_view dash = {};  ///< "5 4", or empty for an unbroken line
    std::string_view fill = "none";
};

struct TextStyle {
    double size = 13.0;
    std::string_view colour = "#1c2530";
    bool bold = false;
    std::string_view anchor = "start";  ///< start, middle or end
    double turn_deg = 0.0;
};

namespace shape {
struct Line {
    Pixel a, b;
    Stroke stroke;
};
struct Rectangle {
    Pixel corner;
    double width = 0.0, height = 0.0;
    Stroke stroke;
    double opacity = 1.0;  ///< of the fill
    double round = 0.0;
};
struct Circle {
    Pixel centre;
    double radius = 0.0;
    Stroke stroke;
};
struct Ellipse {
    Pixel centre;
    double major = 0.0, minor = 0.0;
    double azimuth_rad = 0.0;  ///< of the major axis, clockwise from the top
    Stroke stroke;
    double fill_opacity = 1.0;
};
struct Polygon {
    std::vector<Pixel> corners;
    Stroke stroke;
};
/// The lower half of a disc.
struct HalfDisc {
    Pixel centre;
    double radius = 0.0;
    Stroke stroke;
};
/// The two diagonals of a square of half width `half`.
struct Cross {
    Pixel centre;
    double half = 0.0;
    Stroke stroke;
};
struct Text {
    Pixel at;
    std::string content;
    TextStyle style;
};
struct BeginGroup {
    std::string title;  ///< shown by viewers and read aloud
    std::string kind;
};
struct EndGroup {};
}  // namespace shape

using Shape =
    std::variant<shape::Line, shape::Rectangle, shape::Circle, shape::Ellipse, shape::Polygon,
                 shape::HalfDisc, shape::Cross, shape::Text, shape::BeginGroup, shape::EndGroup>;

struct Picture {
    double width = 0.0;
    double height = 0.0;
    std::string title;
    std::string description;
    std::vector<Shape> shapes;
};

/// The picture as one SVG document; what is not finite is written as 0.
std::string to_svg(const Picture& picture);

}  // namespace layproof::drawing
