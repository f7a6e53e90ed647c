// The answers that the page draws and lists from: sheet, sights, inbox.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_place_shapes(Records& out) {
    out.push_back({"SheetMark",
                   {{"mark", text()},
                    {"east", or_null(number())},
                    {"north", or_null(number())},
                    {"height", or_null(number())},
                    {"sd_mm", or_null(number()), false, "the larger of east and north"},
                    {"from", or_null(text()), false, "name of the document"},
                    {"revision", text()},
                    {"is_moved", flag()}}});
    out.push_back({"SheetPoint",
                   {{"point", text()},
                    {"east", number()},
                    {"north", number()},
                    {"height", or_null(number())},
                    {"element", text()},
                    {"tolerance_plan_mm", or_null(number())},
                    {"tolerance_height_mm", or_null(number())}}});
    out.push_back({"SheetLine",
                   {{"line", text()},
                    {"kind", word({"straight", "offset", "radial", "curved"})},
                    {"path", list(pair(number())), false, "east, north"}}});
    out.push_back({"SheetStation",
                   {{"station", text()},
                    {"kind", word({"free", "occupied", "baseline"})},
                    {"mark", or_null(text())},
                    {"instrument_height_m", or_null(number())},
                    {"first", or_null(text()), false, "time of its first sight or set-up"},
                    {"last", or_null(text())},
                    {"sights", whole()},
                    {"pose", or_null(record("Pose"))},
                    {"word", or_null(verdict_word())}}});
}

void add_history_shapes(Records& out) {
    out.push_back({"SheetMoment",
                   {{"time", text(), false, "to ask for the job as of then"},
                    {"what", word({"take", "book", "decide", "merge"})},
                    {"says", text()},
                    {"facts", whole(), false, "added then"}}});
    out.push_back({"SheetDocument",
                   {{"name", text()},
                    {"role", text()},
                    {"digest", text()},
                    {"size", whole()},
                    {"taken", text()},
                    {"revision", text()}}});
    out.push_back({"SheetDecision",
                   {{"time", text()},
                    {"kind", word({"set-aside", "put-back", "accept", "mark-moved"})},
                    {"subject", text()},
                    {"reason", text()},
                    {"initials", text()}}});
    out.push_back({"SheetConflict", {{"says", text()}, {"settled", flag()}}});
    out.push_back(
        {"SheetChecked", {{"finding", text()}, {"says", text(), false, "value, sd and time"}}});
}

}  // namespace

void add_sheet_shapes(Records& out) {
    out.push_back({"SheetRequest", {absent("as_of", text())}, true});
    add_place_shapes(out);
    add_history_shapes(out);
    out.push_back({"SheetJob",
                   {{"id", text()},
                    {"title", text()},
                    {"file", text()},
                    {"unit", or_null(unit_word())},
                    {"facts", whole()},
                    {"head", text()}}});
    out.push_back(
        {"SheetAnswer",
         {{"act", word({"sheet"})},
          {"version", text()},
          {"job", record("SheetJob")},
          {"as_of", or_null(text())},
          {"marks", list(record("SheetMark"))},
          {"points", list(record("SheetPoint"))},
          {"grid", list(record("SheetLine"))},
          {"stations", list(record("SheetStation"))},
          {"moments", list(record("SheetMoment")), false, "of the whole job, whatever as_of"},
          {"documents", list(record("SheetDocument"))},
          {"decisions", list(record("SheetDecision"))},
          {"conflicts", list(record("SheetConflict"))},
          {"checked", list(record("SheetChecked")), false, "kept from field checks"}}});

    out.push_back({"SightsRequest", {absent("as_of", text()), {"station", text()}}, true});
    out.push_back({"AsideNote", {{"reason", text()}, {"initials", text()}, {"time", text()}}});
    out.push_back({"BookedSight",
                   {{"fact", text()},
                    {"target", text()},
                    {"which", whole(), false, "the n-th pointing to that target"},
                    {"purpose", word({"control", "check", "lay", "other"})},
                    {"face", or_null(word({"one", "two"}))},
                    {"time", or_null(text()), false, "as written"},
                    {"direction_deg", or_null(number())},
                    {"zenith_deg", or_null(number())},
                    {"slope_distance_m", or_null(number())},
                    {"horizontal_distance_m", or_null(number())},
                    {"target_height_m", or_null(number())},
                    {"note", text()},
                    {"set_aside", or_null(record("AsideNote"))}}});
    out.push_back({"SightsAnswer",
                   {{"act", word({"sights"})},
                    {"station", text()},
                    {"sights", list(record("BookedSight"))}}});

    out.push_back({"InboxRequest", {}, true});
    out.push_back({"InboxFile",
                   {{"name", text()},
                    {"time", text(), false, "of the file"},
                    {"taken", flag()},
                    {"role", or_null(text())},
                    {"says", text()}}});
    out.push_back({"InboxAnswer",
                   {{"act", word({"inbox"})},
                    {"folder", or_null(text())},
                    {"files", list(record("InboxFile"))}}});
}

}  // namespace layproof::acts::internal::shape
