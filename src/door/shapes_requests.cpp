// What the acts are asked, field by field.

#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "acts/shared/describe_shared.hpp"
#include "door/shapes_internal.hpp"

namespace layproof::acts::internal {
namespace asked {
namespace {

Shape of_kind(ShapeKind kind) {
    Shape out;
    out.kind = kind;
    return out;
}
Shape text() {
    return of_kind(ShapeKind::text);
}
Shape number() {
    return of_kind(ShapeKind::number);
}
Shape whole() {
    return of_kind(ShapeKind::whole);
}
Shape flag() {
    return of_kind(ShapeKind::flag);
}
Shape word(Words words) {
    Shape out = of_kind(ShapeKind::word);
    out.words.assign(words.begin(), words.end());
    return out;
}
Shape record(std::string name) {
    Shape out = of_kind(ShapeKind::record);
    out.record = std::move(name);
    return out;
}
Shape list(Shape of) {
    Shape out = of_kind(ShapeKind::list);
    out.of.push_back(std::move(of));
    return out;
}
Shape by_name(Shape of) {
    Shape out = of_kind(ShapeKind::by_name);
    out.of.push_back(std::move(of));
    return out;
}
Shape pair(Shape of) {
    Shape out = of_kind(ShapeKind::pair);
    out.of.push_back(std::move(of));
    return out;
}
ShapeField absent(std::string name, Shape shape, std::string says = {}) {
    return {std::move(name), std::move(shape), true, std::move(says)};
}

Shape unit_word() {
    return word(kUnitWords);
}

using Records = std::vector<ShapeRecord>;

void add_common(Records& out) {
    out.push_back({"SetAside",
                   {{"station", text()},
                    {"target", text()},
                    absent("which", whole(), "the n-th pointing, from 1; 0 or absent: all"),
                    {"reason", text()}},
                   true});
}

void add_station(Records& out) {
    out.push_back({"StationRequest",
                   {absent("as_of", text()), absent("station", text(), "only this set-up"),
                    absent("points", list(text()), "only these"),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing"),
                    absent("explain", flag())},
                   true});
}

void add_lay(Records& out) {
    out.push_back(
        {"LayRequest",
         {absent("as_of", text()), absent("station", text(), "only this set-up"),
          absent("points", list(text()), "only these"),
          absent("rod_height_m", number(), "for setting out"), absent("ground", word(kGroundWords)),
          absent("anyway", flag(), "set out although the station fails"),
          absent("set_aside", list(record("SetAside")), "to try; decides nothing")},
         true});
}

void add_watch(Records& out) {
    out.push_back({"WatchRequest",
                   {absent("as_of", text()), absent("station", text(), "only this set-up"),
                    absent("ground", word(kGroundWords)), absent("check_every_min", number()),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing")},
                   true});
}

void add_vet(Records& out) {
    out.push_back(
        {"VetRequest",
         {absent("as_of", text()), absent("tolerance_plan_mm", number(), "of a mark; else 6.35"),
          absent("tolerance_height_mm", number(), "else 12.7")},
         true});
}

void add_prove(Records& out) {
    out.push_back({"ProveRequest",
                   {absent("as_of", text()), absent("ground", word(kGroundWords)),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing")},
                   true});
}

void add_record(Records& out) {
    out.push_back({"RecordRequest", {absent("as_of", text())}, true});
}

void add_plan(Records& out) {
    out.push_back({"PlanDrawn",
                   {{"kind", word({"outline", "no-go"})},
                    {"path", list(pair(number())), false, "corners, in the unit of the job"},
                    absent("bottom", number(), "a height; else the floor's foundation"),
                    absent("top", number(), "a height; else the sky")},
                   true});
    out.push_back({"PlanRequest",
                   {absent("as_of", text()),
                    absent("share", number(), "of the points that is wanted; else 0.95"),
                    absent("step_m", number(), "between places; else 0.5"),
                    absent("instrument_height_m", number(), "else 1.6"),
                    absent("rod_m", number(), "else 1.5"), absent("two_faces", flag()),
                    absent("ground", word(kGroundWords)),
                    absent("files", list(text()), "digests of files of obstacles that were sent"),
                    absent("drawn", list(record("PlanDrawn"))),
                    absent("advice", flag(), "what would help; else true")},
                   true});
    out.push_back({"PlaceRequest",
                   {{"plan", record("PlanRequest")}, {"east", number()}, {"north", number()}},
                   true});
}

void add_tools(Records& out) {
    out.push_back({"ToolsTable",
                   {{"check", word({"faces", "sets", "line", "base", "turns"})},
                    absent("digest", text(), "of a file that was sent"),
                    absent("rows", list(by_name(text())), "column to text, as typed")},
                   true});
    out.push_back({"ToolsRequest",
                   {{"tool", word({"instrument", "rod"})},
                    {"tables", list(record("ToolsTable"))},
                    absent("unit", unit_word(), "of lengths that state none; else the job's"),
                    absent("radius_m", number(), "working radius; else 30"),
                    absent("tolerance_plan_mm", number(), "else 6.35"),
                    absent("base_sd_mm", number(), "of a known base; else 0.5")},
                   true});
}

void add_read(Records& out) {
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
}

void add_book(Records& out) {
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
}

void add_page(Records& out) {
    out.push_back({"PairRequest", {{"code", text()}}, true});
}

void add_job(Records& out) {
    out.push_back({"TakeFile",
                   {{"digest", text(), false, "of a file sent before"},
                    {"role", word(kRoleWords)},
                    absent("unit", unit_word(), "of lengths whose column states none"),
                    absent("map", by_name(text()), "which column of the file each field is"),
                    absent("revision", text()),
                    absent("note", text())},
                   true});
    out.push_back({"TakeRequest", {{"files", list(record("TakeFile"))}}, true});
    out.push_back({"DecideRequest",
                   {{"kind", word(kDecisionWords)},
                    {"subject", text(), false, "\"S1:H3\", \"S1:H3#2\", a fact's id, or a mark"},
                    {"reason", text()},
                    {"initials", text()}},
                   true});
    out.push_back({"PreviewRequest",
                   {{"digest", text()},
                    absent("role", word(kRoleWords)),
                    absent("unit", unit_word()),
                    absent("map", by_name(text()))},
                   true});
    out.push_back({"StopRequest", {{"work", text()}}, true});
}

void add_sheet(Records& out) {
    out.push_back({"SheetRequest", {absent("as_of", text())}, true});
    out.push_back({"SightsRequest", {absent("as_of", text()), {"station", text()}}, true});
    out.push_back({"InboxRequest", {}, true});
}

}  // namespace
}  // namespace asked

std::vector<ShapeRecord> request_shapes() {
    std::vector<ShapeRecord> out;
    asked::add_common(out);
    asked::add_station(out);
    asked::add_lay(out);
    asked::add_watch(out);
    asked::add_vet(out);
    asked::add_prove(out);
    asked::add_record(out);
    asked::add_plan(out);
    asked::add_tools(out);
    asked::add_read(out);
    asked::add_book(out);
    asked::add_page(out);
    asked::add_job(out);
    asked::add_sheet(out);
    return out;
}

}  // namespace layproof::acts::internal
