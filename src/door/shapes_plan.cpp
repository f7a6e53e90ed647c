// Where to stand: the request and answer of the act "plan", and of one place of it.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_plan_request_shapes(Records& out) {
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
                    absent("ground", word({"slab", "soil", "deck", "steel"})),
                    absent("files", list(text()), "digests of files of obstacles that were sent"),
                    absent("drawn", list(record("PlanDrawn"))),
                    absent("advice", flag(), "what would help; else true")},
                   true});
    out.push_back({"PlaceRequest",
                   {{"plan", record("PlanRequest")}, {"east", number()}, {"north", number()}},
                   true});
    out.push_back({"PlaceAnswer",
                   {{"act", word({"plan-position"})},
                    {"east_m", or_null(number())},
                    {"north_m", or_null(number())},
                    {"standing", word({"free", "no-go", "no-room", "inside-obstacle"})},
                    {"marks", list(text()), false, "in sight"},
                    {"points", list(whole()), false, "in sight, into point_reports"},
                    {"chance", list(or_null(number())), false, "of each to be called proven"},
                    {"points_expected", or_null(number())},
                    {"points_counted", whole()},
                    {"sd_plan_mm", or_null(number())},
                    {"says", text()}}});
}

void add_plan_part_shapes(Records& out) {
    out.push_back(
        {"PlanAlternate",
         {{"east", or_null(number())}, {"north", or_null(number())}, {"points_counted", whole()}}});
    out.push_back({"PlanSetup",
                   {{"setup", text()},
                    {"east", number()},
                    {"north", number()},
                    {"near", or_null(text()), false, "by the nearest mark"},
                    {"marks", list(text()), false, "to sight, in this order"},
                    {"check", or_null(text()), false, "mark to keep out as a check"},
                    {"points_in_sight", whole()},
                    {"points_expected", or_null(number())},
                    {"points_counted", whole()},
                    {"points_first", whole(), false, "not counted by an earlier set-up"},
                    {"sd_plan_mm", or_null(number())},
                    {"nothing_wrong", or_null(number())},
                    {"named_if_moved", or_null(number())},
                    {"walk", or_null(number())},
                    {"alternate", or_null(record("PlanAlternate"))},
                    {"remarks", list(text())}}});
    out.push_back({"PlanMark",
                   {{"mark", text()},
                    {"east", number()},
                    {"north", number()},
                    {"under", or_null(text()), false, "obstacle over it"},
                    {"named_if_moved", or_null(number())}}});
    out.push_back(
        {"PlanPoint",
         {{"point", text()},
          {"east", number()},
          {"north", number()},
          {"state", word({"counted", "in-doubt", "never-in-sight", "in-obstacle", "out-of-reach"})},
          {"setup", or_null(text())},
          {"chance", or_null(number())},
          {"best", or_null(number())},
          {"why",
           or_null(word(
               {"covered", "no-place", "far", "hidden", "few-marks", "two-marks", "tolerance"})),
           false, "what stands in the way; null: counted"},
          {"says", or_null(text())}}});
    out.push_back({"PlanAdvice",
                   {{"aid", text()},
                    {"points_provable", whole()},
                    {"gained", whole()},
                    {"east", or_null(number())},
                    {"north", or_null(number())},
                    {"times_tolerance", or_null(number()), false, "all tolerances wider by that"},
                    {"says", text()}}});
    out.push_back({"PlanMap",
                   {{"west", number()},
                    {"south", number()},
                    {"step", number()},
                    {"columns", whole()},
                    {"rows", whole()},
                    {"expected", list(or_null(number())), false,
                     "points proven on average; null: nobody can stand there"}}});
    out.push_back({"PlanObstacle",
                   {{"corners", list(pair(number()))},
                    {"east", or_null(number())},
                    {"north", or_null(number())},
                    {"radius", or_null(number()), false, "of a round one"},
                    {"bottom", or_null(number())},
                    {"top", or_null(number())}}});
}

}  // namespace

void add_plan_shapes(Records& out) {
    add_plan_request_shapes(out);
    add_plan_part_shapes(out);
    out.push_back({"PlanAnswer",
                   {{"layproof", text()},
                    {"act", word({"plan"})},
                    {"unit", unit_word(), false, "of coordinates"},
                    {"confidence", number()},
                    {"share", number()},
                    {"counts_from", number()},
                    {"verdict", record("Verdict")},
                    {"points", whole()},
                    {"points_wanted", whole()},
                    {"points_provable", whole()},
                    {"points_counted", whole()},
                    {"share_expected", or_null(number())},
                    {"at_least", whole(), false, "no fewer set-ups can do it"},
                    {"greedy", whole()},
                    {"certificate", text()},
                    {"walk", or_null(number())},
                    {"floor", or_null(number())},
                    {"rod", or_null(number())},
                    {"rod_on_marks", or_null(number())},
                    {"ground", text()},
                    {"drift_mm_after_an_hour", or_null(number())},
                    {"setups", list(record("PlanSetup"))},
                    {"marks", list(record("PlanMark"))},
                    {"point_reports", list(record("PlanPoint"))},
                    {"advice", list(record("PlanAdvice"))},
                    {"map", record("PlanMap")},
                    {"obstacles", list(record("PlanObstacle"))},
                    {"no_go", list(list(pair(number())))},
                    {"notices", list(text())}}});
}

}  // namespace layproof::acts::internal::shape
