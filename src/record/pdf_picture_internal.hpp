#pragma once
// Draws a picture's shapes with Cairo.

#include <cairo.h>

#include "record/pdf_text_internal.hpp"
#include "record/picture.hpp"

namespace layproof::record {

/// The picture's upper left corner at the origin of `cr`, one pixel one unit. What is not finite
/// is drawn as 0.
void draw_picture(cairo_t* cr, const Picture& picture, TextSetter& text);

/// The sign of a verdict about (x, y).
void draw_sign(cairo_t* cr, double x, double y, PlanWord word, double radius, TextSetter& text);

}  // namespace layproof::record
