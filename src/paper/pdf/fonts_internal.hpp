#pragma once
// The fonts of the record: a font map with settings of its own, so that what a user or machine has
// set up for its screen does not change a page.

#include <pango/pangocairo.h>

#include <memory>
#include <string>

#include "base/result.hpp"

namespace layproof::paper {

struct FreeObject {
    void operator()(void* object) const { g_object_unref(object); }
};

inline constexpr const char* kTextFamily =
    "Inter, Liberation Sans, DejaVu Sans, Droid Sans Fallback";
inline constexpr const char* kDrawingFamily =
    "Liberation Sans, DejaVu Sans, Droid Sans Fallback";  ///< of the widths in label_layout
inline constexpr const char* kCodeFamily = "Liberation Mono, DejaVu Sans Mono, Droid Sans Fallback";

/// Libraries and fonts with their versions: pages made with the same are the same.
std::string drawn_with();

/// cannot_read when the text fonts are not installed.
Result<std::unique_ptr<PangoFontMap, FreeObject>> record_fonts();

}  // namespace layproof::paper
