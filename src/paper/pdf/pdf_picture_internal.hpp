#pragma once
// Draws a picture's shapes with Cairo.

#include <cairo.h>

#include "drawing/picture.hpp"
#include "paper/pdf/pdf_text_internal.hpp"

namespace layproof::paper {

/// The picture's upper left corner at the origin of `cr`, one pixel one unit. What is not finite
/// is drawn as 0.
void draw_picture(cairo_t* cr, const drawing::Picture& picture, TextSetter& text);

/// The sign of a verdict about (x, y).
void draw_sign(cairo_t* cr, double x, double y, drawing::PlanWord word, double radius,
               TextSetter& text);

}  // namespace layproof::paper
