#include "record/fonts_internal.hpp"

#include <fontconfig/fontconfig.h>
#include <pango/pangofc-fontmap.h>

#include <array>

namespace layproof::record {
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

bool has_family(FcConfig* config, const char* family) {
    const FcFontSet* fonts = FcConfigGetFonts(config, FcSetSystem);
    if (fonts == nullptr) return false;
    for (int i = 0; i < fonts->nfont; ++i) {
        FcChar8* name = nullptr;
        if (FcPatternGetString(fonts->fonts[i], FC_FAMILY, 0, &name) == FcResultMatch &&
            std::string(reinterpret_cast<const char*>(name)) == family)
            return true;
    }
    return false;
}

}  // namespace

Result<std::unique_ptr<PangoFontMap, FreeObject>> record_fonts() {
    const std::unique_ptr<FcConfig, FreeConfig> config(FcConfigCreate());
    const bool built =
        config &&
        FcConfigParseAndLoadFromMemory(
            config.get(), reinterpret_cast<const FcChar8*>(kFontSettings), FcTrue) == FcTrue &&
        FcConfigBuildFonts(config.get()) == FcTrue;
    for (const char* family : std::array{"Inter", "Liberation Sans", "Liberation Mono"}) {
        if (!built || !has_family(config.get(), family))
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

}  // namespace layproof::record
