#include "paper/pdf/pdf_text_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "drawing/svg_canvas.hpp"

namespace layproof::paper {
namespace {

struct FreeFont {
    void operator()(PangoFontDescription* font) const { pango_font_description_free(font); }
};
struct FreeAttributes {
    void operator()(PangoAttrList* list) const { pango_attr_list_unref(list); }
};

using Attributes = std::unique_ptr<PangoAttrList, FreeAttributes>;

/// Figures of one width, so that columns of numbers stand one below the other.
Attributes figure_features() {
    Attributes out(pango_attr_list_new());
    pango_attr_list_insert(out.get(), pango_attr_font_features_new("tnum=1, calt=0"));
    return out;
}

void set_font(PangoLayout* layout, const char* family, double size, int weight) {
    const std::unique_ptr<PangoFontDescription, FreeFont> font(pango_font_description_new());
    pango_font_description_set_family_static(font.get(), family);
    pango_font_description_set_absolute_size(font.get(), size * PANGO_SCALE);
    pango_font_description_set_weight(font.get(), static_cast<PangoWeight>(weight));
    pango_layout_set_font_description(layout, font.get());
}

/// A figure and its unit stay on one line.
std::string unit_bound(std::string_view text) {
    constexpr std::string_view kNoBreak = "\u00A0";
    std::string out(text);
    for (const std::string_view unit : {" %", " mm", " ft"}) {
        for (std::size_t at = 0; (at = out.find(unit, at)) != std::string::npos;
             at += unit.size()) {
            const bool behind_digit = at > 0 && out[at - 1] >= '0' && out[at - 1] <= '9';
            if (behind_digit) out.replace(at, 1, kNoBreak);
        }
    }
    return out;
}

double line_width(PangoLayoutLine* line) {
    PangoRectangle box;
    pango_layout_line_get_extents(line, nullptr, &box);
    return static_cast<double>(box.width) / PANGO_SCALE;
}

void set_colour(cairo_t* cr, std::string_view colour) {
    const auto c = colour_of(colour);
    cairo_set_source_rgb(cr, c[0], c[1], c[2]);
}

int hex_digit(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    return 0;
}

}  // namespace

const FaceStyle& style_of(Face face) {
    static constexpr std::array<FaceStyle, kFaces> kStyles{{
        {kTextFamily, 21.0, PANGO_WEIGHT_SEMIBOLD, 26.0, drawing::ink::kText},
        {kTextFamily, 14.0, PANGO_WEIGHT_SEMIBOLD, 18.0, drawing::ink::kText},
        {kTextFamily, 11.0, PANGO_WEIGHT_SEMIBOLD, 14.5, drawing::ink::kText},
        {kTextFamily, 9.0, PANGO_WEIGHT_SEMIBOLD, 12.5, drawing::ink::kText},
        {kTextFamily, 9.0, PANGO_WEIGHT_NORMAL, 12.8, drawing::ink::kText},
        {kTextFamily, 9.0, PANGO_WEIGHT_SEMIBOLD, 12.8, drawing::ink::kText},
        {kTextFamily, 8.2, PANGO_WEIGHT_NORMAL, 11.4, drawing::ink::kMuted},
        {kTextFamily, 7.8, PANGO_WEIGHT_NORMAL, 10.4, drawing::ink::kText},
        {kTextFamily, 7.4, PANGO_WEIGHT_SEMIBOLD, 9.6, drawing::ink::kText},
        {kTextFamily, 7.4, PANGO_WEIGHT_NORMAL, 9.8, drawing::ink::kMuted},
        {kCodeFamily, 7.8, PANGO_WEIGHT_NORMAL, 10.8, drawing::ink::kText},
        {kTextFamily, 7.2, PANGO_WEIGHT_NORMAL, 9.6, drawing::ink::kMuted},
    }};
    return kStyles[static_cast<std::size_t>(face)];
}

std::array<double, 3> colour_of(std::string_view word) {
    std::array<double, 3> out{};
    if (word.size() != 7 || word[0] != '#') return out;
    for (std::size_t i = 0; i < 3; ++i)
        out[i] = (16 * hex_digit(word[1 + 2 * i]) + hex_digit(word[2 + 2 * i])) / 255.0;
    return out;
}

Result<TextSetter> TextSetter::make() {
    auto fonts = record_fonts();
    if (!fonts) return fonts.refusal();
    TextSetter out;
    out.fonts_ = std::move(*fonts);
    out.context_.reset(pango_font_map_create_context(out.fonts_.get()));
    // Screens round widths to pixels; paper does not. The language decides between look-alike
    // ideographs, so it is not the machine's.
    pango_context_set_round_glyph_positions(out.context_.get(), FALSE);
    pango_context_set_language(out.context_.get(), pango_language_from_string("en-us"));
    pango_context_set_base_dir(out.context_.get(), PANGO_DIRECTION_LTR);
    cairo_font_options_t* options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(out.context_.get(), options);
    cairo_font_options_destroy(options);
    out.layout_.reset(pango_layout_new(out.context_.get()));
    // A sentence runs from left to right even when it begins with a name that does not.
    pango_layout_set_auto_dir(out.layout_.get(), FALSE);
    const Attributes features = figure_features();
    pango_layout_set_attributes(out.layout_.get(), features.get());
    return out;
}

TextSetter::Layout TextSetter::layout_of(std::string_view text, Face face) {
    // A copy shares font and features.
    Layout& model = models_[static_cast<std::size_t>(face)];
    if (!model) {
        const FaceStyle& style = style_of(face);
        model.reset(pango_layout_new(context_.get()));
        pango_layout_set_auto_dir(model.get(), FALSE);
        set_font(model.get(), style.family, style.size, style.weight);
        const Attributes features = figure_features();
        pango_layout_set_attributes(model.get(), features.get());
        pango_layout_set_wrap(model.get(),
                              face == Face::code ? PANGO_WRAP_CHAR : PANGO_WRAP_WORD_CHAR);
    }
    Layout out(pango_layout_copy(model.get()));
    pango_layout_set_text(out.get(), text.data(), static_cast<int>(text.size()));
    return out;
}

const TextSetter::OneLine& TextSetter::one_line(std::string_view text, Face face) {
    auto& known = lines_[static_cast<std::size_t>(face)];
    const auto [at, is_new] = known.try_emplace(std::string(text));
    OneLine& line = at->second;
    if (!is_new) return line;
    line.layout = layout_of(text, face);
    line.width = line_width(pango_layout_get_line_readonly(line.layout.get(), 0));
    return line;
}

const TextSetter::Broken& TextSetter::broken(std::string_view text, Face face, double width,
                                             int most) {
    // At full size; a hair wider than asked, so that what fitted once fits again.
    const int units = static_cast<int>((width / factor_ + 0.01) * PANGO_SCALE);
    std::string key(text);
    key += fmt::format("\n{} {}", units, most);
    auto& known = broken_[static_cast<std::size_t>(face)];
    const auto [at, is_new] = known.try_emplace(std::move(key));
    Broken& out = at->second;
    if (!is_new) return out;
    out.layout = layout_of(unit_bound(text), face);
    pango_layout_set_width(out.layout.get(), units);
    out.lines = pango_layout_get_line_count(out.layout.get());
    if (out.lines > most) {
        pango_layout_set_height(out.layout.get(), -most);
        pango_layout_set_ellipsize(out.layout.get(), PANGO_ELLIPSIZE_END);
        out.lines = std::min(most, pango_layout_get_line_count(out.layout.get()));
    }
    return out;
}

/// Long texts are not shaped twice only to learn that they do not fit.
bool TextSetter::fits_one_line(std::string_view text, Face face, double width) {
    constexpr std::size_t kSurelyLong = 40;
    if (text.size() > kSurelyLong || face == Face::code) return false;
    return one_line(text, face).width * factor_ <= width + 0.01;
}

double TextSetter::width(std::string_view text, Face face) {
    return one_line(text, face).width * factor_;
}

double TextSetter::longest_word(std::string_view text, Face face) {
    double most = 0.0;
    std::size_t from = 0;
    while (from < text.size()) {
        const std::size_t to = std::min(text.find(' ', from), text.size());
        if (to > from) most = std::max(most, width(text.substr(from, to - from), face));
        from = to + 1;
    }
    return most;
}

int TextSetter::lines(std::string_view text, Face face, double width, int most) {
    if (text.empty()) return 0;
    if (fits_one_line(text, face, width)) return 1;
    return broken(text, face, width, most).lines;
}

void TextSetter::draw(cairo_t* cr, double x, double y, std::string_view text, Face face,
                      double width, int most, Align align) {
    if (text.empty()) return;
    const bool is_one = fits_one_line(text, face, width);
    PangoLayout* layout =
        is_one ? one_line(text, face).layout.get() : broken(text, face, width, most).layout.get();
    const int count = is_one ? 1 : broken(text, face, width, most).lines;
    const FaceStyle& style = style_of(face);
    set_colour(cr, style.colour);
    const double ascent = 0.5 * (style.leading + 0.72 * style.size) * factor_;
    for (int i = 0; i < count; ++i) {
        PangoLayoutLine* row = pango_layout_get_line_readonly(layout, i);
        const double left = align == Align::right ? x + width - line_width(row) * factor_ : x;
        cairo_save(cr);
        cairo_translate(cr, left, y + ascent + i * style.leading * factor_);
        cairo_scale(cr, factor_, factor_);
        cairo_move_to(cr, 0.0, 0.0);
        pango_cairo_show_layout_line(cr, row);
        cairo_restore(cr);
    }
}

void TextSetter::draw_line(cairo_t* cr, double x, double baseline, const std::string& text,
                           const char* family, double size, bool bold, std::string_view anchor,
                           std::string_view colour) {
    if (text.empty()) return;
    PangoLayout* layout = layout_.get();
    set_font(layout, family, size, bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_text(layout, text.data(), static_cast<int>(text.size()));
    pango_layout_set_width(layout, -1);
    pango_layout_set_height(layout, -1);
    pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_NONE);
    PangoLayoutLine* line = pango_layout_get_line_readonly(layout, 0);
    const double width = line_width(line);
    set_colour(cr, colour);
    cairo_move_to(cr,
                  anchor == "middle" ? x - 0.5 * width
                  : anchor == "end"  ? x - width
                                     : x,
                  baseline);
    pango_cairo_show_layout_line(cr, line);
}

}  // namespace layproof::paper
