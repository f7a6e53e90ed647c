#pragma once
// Collects the shapes of a picture. Numbers go out with two decimals, so that the text is the same
// everywhere and never holds a number that is not finite.

#include <initializer_list>
#include <string>
#include <string_view>

#include "drawing/picture.hpp"

namespace layproof::drawing {

/// One calm palette; every colour has its own darkness, so that a grey copy still tells them apart.
namespace ink {
inline constexpr std::string_view kText = "#1c2530";
inline constexpr std::string_view kMuted = "#56616d";
inline constexpr std::string_view kLine = "#8b96a1";
inline constexpr std::string_view kFaint = "#d3d9de";
inline constexpr std::string_view kTint = "#f3f5f4";
inline constexpr std::string_view kPaper = "#ffffff";
inline constexpr std::string_view kProven = "#1f5f7a";
inline constexpr std::string_view kDoubt = "#8a6420";
inline constexpr std::string_view kFails = "#6d1f4a";
inline constexpr std::string_view kMisfit = "#9c2f63";
inline constexpr std::string_view kEllipse = "#3d6b61";
}  // namespace ink

/// "12.35", "-0.5", "0"; what is not finite is written as 0.
std::string svg_number(double value);

class SvgCanvas {
public:
    /// The whole picture around what was drawn so far; the canvas is empty afterwards. The size is
    /// often known only when all is drawn.
    Picture finish(double width, double height, std::string_view title,
                   std::string_view description);

    void line(Pixel a, Pixel b, const Stroke& stroke);
    void rectangle(Pixel corner, double width, double height, const Stroke& stroke,
                   double opacity = 1.0, double round = 0.0);
    void circle(Pixel centre, double radius, const Stroke& stroke);
    /// `azimuth_rad` of the major axis, clockwise from the top.
    void ellipse(Pixel centre, double major, double minor, double azimuth_rad, const Stroke& stroke,
                 double fill_opacity);
    void polygon(std::initializer_list<Pixel> corners, const Stroke& stroke);
    void outline(std::vector<Pixel> corners, const Stroke& stroke);
    void half_disc(Pixel centre, double radius, const Stroke& stroke);
    void cross(Pixel centre, double half, const Stroke& stroke);
    void text(Pixel at, std::string_view content, const TextStyle& style);
    /// What follows until end_group() carries this title, shown by viewers and read aloud.
    void begin_group(std::string_view title, std::string_view kind);
    void end_group();

private:
    std::vector<Shape> shapes_;
};

}  // namespace layproof::drawing
