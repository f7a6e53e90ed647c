#pragma once
// Sets text on a Cairo page, in lines of equal distance whatever fonts a line needs.

#include <cairo.h>
#include <pango/pangocairo.h>

#include <array>
#include <memory>
#include <string>
#include <string_view>
#include <unordered_map>

#include "base/result.hpp"
#include "paper/paper.hpp"
#include "paper/pdf/fonts_internal.hpp"
#include "paper/settable.hpp"

namespace layproof::paper {

enum class Face {
    title,
    section,
    heading,
    small_heading,
    body,
    strong,
    quiet,
    table,
    table_strong,
    table_quiet,
    code,
    foot
};
inline constexpr std::size_t kFaces = 12;

struct FaceStyle {
    const char* family;
    double size;     ///< points
    int weight;      ///< PANGO_WEIGHT_…
    double leading;  ///< points from line to line
    std::string_view colour;
};
const FaceStyle& style_of(Face face);

/// "#1c2530" into the three parts, 0 to 1.
std::array<double, 3> colour_of(std::string_view word);

class TextSetter {
public:
    static Result<TextSetter> make();

    /// Width in points when set in one line.
    double width(std::string_view text, Face face);
    /// Width of its longest word.
    double longest_word(std::string_view text, Face face);
    /// Number of lines in this width; at most `most`.
    int lines(std::string_view text, Face face, double width, int most);
    double height(std::string_view text, Face face, double width, int most) {
        return lines(text, face, width, most) * style_of(face).leading;
    }

    /// Sets the text with its upper left corner at (x, y). More than `most` lines end in "…".
    void draw(cairo_t* cr, double x, double y, std::string_view text, Face face, double width,
              int most, Align align = Align::left);
    /// One line whose baseline starts, is centred or ends at the place.
    void draw_line(cairo_t* cr, double x, double baseline, const std::string& text,
                   const char* family, double size, bool bold, std::string_view anchor,
                   std::string_view colour);

    /// Sets a table's face smaller by this much, 0.5 to 1.
    void shrink(double factor) { factor_ = factor; }
    double factor() const { return factor_; }

private:
    TextSetter() = default;
    using Layout = std::unique_ptr<PangoLayout, FreeObject>;
    /// A text in one line at its full size, shaped once.
    struct OneLine {
        Layout layout;
        double width = 0.0;
    };
    const OneLine& one_line(std::string_view text, Face face);
    Layout layout_of(std::string_view text, Face face);
    /// A text in several lines, broken once.
    struct Broken {
        Layout layout;
        int lines = 0;
    };
    const Broken& broken(std::string_view text, Face face, double width, int most);
    bool fits_one_line(std::string_view text, Face face, double width);

    std::unique_ptr<PangoFontMap, FreeObject> fonts_;
    std::unique_ptr<PangoContext, FreeObject> context_;
    Layout layout_;
    std::array<std::unordered_map<std::string, OneLine>, kFaces> lines_;
    std::array<std::unordered_map<std::string, Broken>, kFaces> broken_;
    std::array<Layout, kFaces> models_;
    double factor_ = 1.0;
};

}  // namespace layproof::paper
