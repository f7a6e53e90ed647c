#include "paper/pdf/fonts_internal.hpp"

#include <fmt/format.h>
#include <fontconfig/fontconfig.h>
#include <pango/pangofc-fontmap.h>

#include <algorithm>
#include <array>
#include <optional>
#define POINTERHOLDER_TRANSITION 4  // qpdf: std::shared_ptr only
#include <qpdf/QPDF.hh>

namespace layproof::paper {
namespace {

/// Where Debian keeps fonts, and their index; nothing of the user's own.
constexpr const char* kFontSettings = R"(<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig>
  <dir>/usr/share/fonts</dir>
  <cachedir>/var/cache/fontconfig</cachedir>
  <match target="font">
    <edit name="hintstyle" mode="assign"><const>hintnone</const></edit>
    <edit name="hinting" mode="assign"><bool>false</bool></edit>
    <edit name="autohint" mode="assign"><bool>false</bool></edit>
    <edit name="antialias" mode="assign"><bool>true</bool></edit>
    <edit name="rgba" mode="assign"><const>none</const></edit>
  </match>
</fontconfig>
)";

struct FreeConfig {
    void operator()(FcConfig* config) const { FcConfigDestroy(config); }
};

using Config = std::unique_ptr<FcConfig, FreeConfig>;

/// The settings above with the fonts found; nothing when that fails.
Config record_config() {
    Config config(FcConfigCreate());
    if (!config ||
        FcConfigParseAndLoadFromMemory(
            config.get(), reinterpret_cast<const FcChar8*>(kFontSettings), FcTrue) != FcTrue ||
        FcConfigBuildFonts(config.get()) != FcTrue)
        return nullptr;
    return config;
}

/// Version of a family's regular face; nothing when it is not installed.
std::optional<int> family_version(FcConfig* config, const char* family) {
    const FcFontSet* fonts = FcConfigGetFonts(config, FcSetSystem);
    if (fonts == nullptr) return std::nullopt;
    std::optional<int> out;
    for (int i = 0; i < fonts->nfont; ++i) {
        FcChar8* name = nullptr;
        if (FcPatternGetString(fonts->fonts[i], FC_FAMILY, 0, &name) != FcResultMatch ||
            std::string(reinterpret_cast<const char*>(name)) != family)
            continue;
        int version = 0;
        FcPatternGetInteger(fonts->fonts[i], FC_FONTVERSION, 0, &version);
        out = std::max(out.value_or(0), version);
    }
    return out;
}

}  // namespace

namespace {

std::string look_what_draws() {
    std::string out = fmt::format("cairo {}, pango {}, qpdf {}", cairo_version_string(),
                                  pango_version_string(), QPDF::QPDFVersion());
    const Config config = record_config();
    if (!config) return out;
    for (const char* family : std::array{"Inter", "Liberation Sans", "Liberation Mono",
                                         "DejaVu Sans", "Droid Sans Fallback"}) {
        // Fontconfig keeps 16.16 fixed numbers.
        if (const auto version = family_version(config.get(), family))
            out += fmt::format(", {} {:.3f}", family, *version / 65536.0);
    }
    return out;
}

}  // namespace

std::string drawn_with() {
    // The fonts of a running program do not change.
    static const std::string words = look_what_draws();
    return words;
}

Result<std::unique_ptr<PangoFontMap, FreeObject>> record_fonts() {
    const Config config = record_config();
    for (const char* family : std::array{"Inter", "Liberation Sans", "Liberation Mono"}) {
        if (!config || !family_version(config.get(), family))
            return Refusal{ErrorCode::cannot_read,
                           {"/usr/share/fonts", 0, 0},
                           std::string("no font ") + family,
                           "the packages fonts-inter and fonts-liberation2"};
    }
    std::unique_ptr<PangoFontMap, FreeObject> map(
        pango_cairo_font_map_new_for_font_type(CAIRO_FONT_TYPE_FT));
    if (!map || !PANGO_IS_FC_FONT_MAP(map.get()))
        return Refusal{ErrorCode::cannot_read,
                       {"/usr/share/fonts", 0, 0},
                       "no FreeType fonts",
                       "Pango with FreeType"};
    pango_fc_font_map_set_config(PANGO_FC_FONT_MAP(map.get()), config.get());
    // Points are pixels of a PDF.
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(map.get()), 72.0);
    return map;
}

}  // namespace layproof::paper
