// What people type into the page, and what the page is told while it is open.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_read_shapes(Records& out) {
    out.push_back(
        {"ReadFields",
         {absent("direction", text()), absent("zenith", text()), absent("slope_distance", text()),
          absent("horizontal_distance", text()), absent("target_height", text()),
          absent("instrument_height", text()), absent("east", text()), absent("north", text()),
          absent("height", text()), absent("time", text()), absent("temperature", text()),
          absent("pressure", text())},
         true});
    out.push_back(
        {"ReadRequest", {{"fields", record("ReadFields")}, absent("unit", unit_word())}, true});
    out.push_back({"ReadField",
                   {{"ok", flag()},
                    {"value", or_null(number()), false, "radians, metres, seconds, K, hPa"},
                    {"shown", text(), false, "as it was understood"},
                    {"says", text(), false, "why not"},
                    {"hint", text(), false, "what would be taken"}}});
    out.push_back(
        {"ReadAnswer", {{"act", word({"read"})}, {"fields", by_name(record("ReadField"))}}});
}

void add_book_shapes(Records& out) {
    out.push_back({"BookSight",
                   {{"station", text()},
                    {"target", text()},
                    absent("direction", text()),
                    absent("zenith", text()),
                    absent("slope_distance", text()),
                    absent("horizontal_distance", text()),
                    absent("target_height", text()),
                    absent("face", text()),
                    absent("purpose", text()),
                    absent("time", text()),
                    absent("note", text())},
                   true});
    out.push_back({"BookSetup",
                   {{"station", text()},
                    {"kind", text()},
                    absent("mark", text()),
                    absent("instrument_height", text()),
                    absent("time", text()),
                    absent("temperature", text()),
                    absent("pressure", text())},
                   true});
    out.push_back({"BookMark",
                   {{"mark", text()},
                    {"east", text()},
                    {"north", text()},
                    absent("height", text()),
                    absent("role", text())},
                   true});
    out.push_back({"BookPoint",
                   {{"point", text()},
                    {"east", text()},
                    {"north", text()},
                    absent("height", text()),
                    absent("element", text())},
                   true});
    out.push_back({"BookRequest",
                   {{"unit", unit_word(), false, "of lengths that are typed without one"},
                    absent("sight", record("BookSight")),
                    absent("setup", record("BookSetup")),
                    absent("mark", record("BookMark")),
                    absent("point", record("BookPoint"))},
                   true});
    out.push_back(
        {"BookAnswer",
         {{"act", word({"book"})}, {"fact", text()}, {"says", text()}, {"notices", list(text())}}});
}

}  // namespace

void add_page_shapes(Records& out) {
    add_read_shapes(out);
    add_book_shapes(out);
    out.push_back({"PairRequest", {{"code", text()}}, true});
    out.push_back({"PairAnswer", {{"token", text()}}});
    out.push_back({"JobEvent", {{"facts", whole()}, {"head", text()}, {"time", text()}}});
    out.push_back({"WorkEvent",
                   {{"work", text()},
                    {"says", text()},
                    {"done", number(), false, "0 to 1"},
                    {"ended", flag()}}});
}

}  // namespace layproof::acts::internal::shape
