// The answer of the act "watch".

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_move_shapes(Records& out) {
    out.push_back({"WatchPose",
                   {{"east_mm", or_null(number())},
                    {"north_mm", or_null(number())},
                    {"height_mm", or_null(number())},
                    {"turn_arcsec", or_null(number())}}});
    out.push_back({"WatchChange",
                   {{"cause", text()},
                    {"subject", or_null(text())},
                    {"from", or_null(text())},
                    {"to", or_null(text())},
                    {"amount", or_null(record("WatchPose"))},
                    {"sd", or_null(record("WatchPose"))}}});
    out.push_back({"HypothesisMember",
                   {{"probability", number()},
                    {"log_evidence", or_null(number())},
                    {"changes", list(record("WatchChange"))}}});
    out.push_back({"Hypothesis",
                   {{"probability", number()},
                    {"says", text()},
                    {"members", list(record("HypothesisMember"))}}});
    out.push_back({"WatchMove",
                   {{"from", or_null(text())},
                    {"to", or_null(text())},
                    {"probability", number()},
                    {"shift", record("WatchPose")},
                    {"sd", record("WatchPose")},
                    {"points_between", list(text())}}});
}

void add_event_shapes(Records& out) {
    out.push_back({"WatchPoint",
                   {{"point", text()},
                    {"laid", text()},
                    {"word", verdict_word()},
                    {"probability", or_null(number())},
                    {"as_sighted", record("OffMm")},
                    {"corrected", record("OffMm")},
                    {"sd", record("OffMm")},
                    {"probability_moved", or_null(number())},
                    {"displacement", record("OffMm")},
                    {"probability_unmoved", or_null(number())},
                    {"in_doubt_by_move", flag()},
                    {"resights", whole()},
                    {"tolerance_plan_mm", or_null(number())},
                    {"tolerance_height_mm", or_null(number())}}});
    out.push_back({"Resight",
                   {{"target", text()},
                    {"kind", word({"mark", "point"})},
                    {"gain", or_null(number())},
                    {"left", or_null(number())}}});
    out.push_back({"NextCheck",
                   {{"due", text()},
                    {"by_drift", flag()},
                    {"point", or_null(text())},
                    {"probability", or_null(number())}}});
    out.push_back({"WatchEvent",
                   {{"event", text()},
                    {"time", text()},
                    {"name", or_null(text())},
                    {"pose", record("WatchPose")},
                    {"sd", record("WatchPose")},
                    {"probability_moved", or_null(number())},
                    {"statistic", or_null(number())},
                    {"dof", or_null(whole())},
                    {"good", or_null(flag())}}});
}

}  // namespace

void add_watch_shapes(Records& out) {
    out.push_back({"WatchRequest",
                   {absent("as_of", text()), absent("station", text(), "only this set-up"),
                    absent("ground", word({"slab", "soil", "deck", "steel"})),
                    absent("check_every_min", number()),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing")},
                   true});
    add_move_shapes(out);
    add_event_shapes(out);
    out.push_back({"WatchStation",
                   {{"station", text()},
                    {"verdict", record("Verdict"), false, "of the day"},
                    {"station_verdict", record("Verdict"), false, "of the set-up"},
                    {"set_up_finished", text()},
                    {"probability_holds", number()},
                    {"probability_moved", or_null(number())},
                    {"probability_moved_seen", or_null(number())},
                    {"hypotheses", list(record("Hypothesis"))},
                    {"hypotheses_others", or_null(number())},
                    {"moves", list(record("WatchMove"))},
                    {"points_proven", whole()},
                    {"points_in_doubt", whole()},
                    {"points_fail", whole()},
                    {"points", list(record("WatchPoint"))},
                    {"resights", list(record("Resight")), false, "best first"},
                    {"next_check", record("NextCheck")},
                    {"events", list(record("WatchEvent"))},
                    {"notices", list(text())}}});
    out.push_back({"WatchAnswer",
                   {{"act", word({"watch"})},
                    {"version", text()},
                    {"unit", unit_word()},
                    {"confidence", number()},
                    {"ground", word({"slab", "soil", "deck", "steel"})},
                    {"check_every_min", number()},
                    {"stations", list(record("WatchStation"))},
                    {"notices", list(text())}}});
}

}  // namespace layproof::acts::internal::shape
