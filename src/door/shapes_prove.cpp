// The answer of the act "prove".

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_prove_point_shapes(Records& out) {
    out.push_back({"ProvePlace",
                   {{"east", or_null(number())},
                    {"north", or_null(number())},
                    {"height", or_null(number())}}});
    out.push_back({"ProvePoint",
                   {{"point", text()},
                    {"stations", list(text())},
                    {"sights", whole()},
                    {"laid", or_null(text())},
                    {"word", verdict_word()},
                    {"probability", or_null(number())},
                    {"probability_plan", or_null(number())},
                    {"probability_height", or_null(number())},
                    {"because", text()},
                    {"next", text()},
                    {"in_doubt_by", or_null(text())},
                    {"design", record("ProvePlace")},
                    {"as_laid", record("ProvePlace")},
                    {"deviation", record("OffMm")},
                    {"expected", record("OffMm")},
                    {"sd", record("OffMm")},
                    {"sd_plan_mm", or_null(number())},
                    {"tolerance_plan_mm", or_null(number())},
                    {"tolerance_height_minus_mm", or_null(number())},
                    {"tolerance_height_plus_mm", or_null(number())},
                    {"tolerance_source", text()},
                    {"grid", or_null(text())}}});
}

void add_prove_mark_shapes(Records& out) {
    out.push_back({"ProveMark",
                   {{"mark", text()},
                    {"sighted", flag()},
                    {"word", verdict_word()},
                    {"probability", or_null(number())},
                    {"condition", text()},
                    {"sights", whole()},
                    {"setups", whole()},
                    {"sheet", record("ProvePlace")},
                    {"adjusted", record("ProvePlace")},
                    {"adjusted_sd", record("OffMm")},
                    {"off", record("OffMm"), false, "by all sights less the sheet"},
                    {"off_sd", record("OffMm")}}});
    out.push_back({"ProveMove",
                   {{"point", text()},
                    {"of", word({"plan", "height"})},
                    {"probability", or_null(number())},
                    {"before_first_sight", flag()},
                    {"after", or_null(text())},
                    {"before", or_null(text())},
                    {"says", text()},
                    {"shift", record("OffMm")},
                    {"sd", record("OffMm")},
                    {"setups", list(text()), false, "that used it after it moved"},
                    {"points", list(text()), false, "laid from these"}}});
    out.push_back({"ProveCause",
                   {{"cause", text()},
                    {"subjects", list(text())},
                    {"probability", or_null(number())},
                    {"says", text()},
                    {"next", text()}}});
}

void add_prove_setup_shapes(Records& out) {
    out.push_back({"ProveResidual",
                   {{"direction_arcsec", or_null(number())},
                    {"zenith_arcsec", or_null(number())},
                    {"distance_mm", or_null(number())}}});
    out.push_back({"ProveParts",
                   {{"direction", or_null(number())},
                    {"zenith", or_null(number())},
                    {"distance", or_null(number())}}});
    out.push_back({"ProveSight",
                   {{"target", text()},
                    {"purpose", word({"control", "check", "lay", "other"})},
                    {"time", or_null(text())},
                    {"pointings", whole()},
                    {"used", flag()},
                    {"why_not_used", or_null(text())},
                    {"residual", record("ProveResidual")},
                    {"standardised", record("ProveParts")},
                    {"redundancy", record("ProveParts")}}});
    out.push_back({"ProveSetup",
                   {{"station", text()},
                    {"over", or_null(text())},
                    {"placed", flag()},
                    {"from", or_null(text())},
                    {"to", or_null(text())},
                    {"word", verdict_word(), false, "of its fit"},
                    {"fit", text()},
                    {"ratio", or_null(number())},
                    {"redundancy", or_null(number())},
                    {"points_laid", whole()},
                    {"probability_holds", or_null(number())},
                    {"watch_says", or_null(text())},
                    {"pose", record("ProvePlace")},
                    {"orientation_deg", or_null(number())},
                    {"sd", record("OffMm")},
                    {"orientation_sd_arcsec", or_null(number())},
                    {"sights", list(record("ProveSight"))}}});
}

void add_prove_level_shapes(Records& out) {
    out.push_back({"ProveRun",
                   {{"run", text()},
                    {"points", list(text()), false, "named ones, in order"},
                    {"intermediate", list(text())},
                    {"setups", whole(), false, "of the level"},
                    {"length", or_null(number()), false, "of all its sights"},
                    {"imbalance", or_null(number()), false, "backsights less foresights"},
                    {"rise", or_null(number()), false, "from its first point to its last"},
                    {"sd_mm", or_null(number())}}});
    out.push_back({"ProveLoopMember", {{"from", text()}, {"to", text()}, {"by", text()}}});
    out.push_back({"ProveLoop",
                   {{"kind", word({"loop", "between-marks"})},
                    {"points", list(text())},
                    {"closure_mm", or_null(number()), false,
                     "levelled less 0, or less what the sheet heights differ by"},
                    {"sd_mm", or_null(number())},
                    {"length", or_null(number())},
                    {"setups", or_null(whole()), false, "of the level"},
                    {"allowed_mm", or_null(number())},
                    {"rule", text(), false, "by which that is allowed"},
                    {"source", text(), false, "of the rule"},
                    {"fits", flag()},
                    {"says", text()},
                    {"members", list(record("ProveLoopMember"))}}});
}

}  // namespace

void add_prove_shapes(Records& out) {
    out.push_back({"ProveRequest",
                   {absent("as_of", text()),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing")},
                   true});
    add_prove_point_shapes(out);
    add_prove_mark_shapes(out);
    add_prove_setup_shapes(out);
    out.push_back({"ProveLine",
                   {{"kind", word({"tape", "level"})},
                    {"from", text()},
                    {"to", text()},
                    {"by", or_null(text()), false, "of a level: its run, or its file and line"},
                    {"value", or_null(number())},
                    {"sd_mm", or_null(number())},
                    {"residual_mm", or_null(number())},
                    {"standardised", or_null(number())},
                    {"redundancy", or_null(number())},
                    {"used", flag()}}});
    add_prove_level_shapes(out);
    out.push_back({"ProveFit",
                   {{"says", text()},
                    {"statistic", or_null(number())},
                    {"redundancy", whole()},
                    {"upper", or_null(number())},
                    {"passes", flag()},
                    {"unknowns", whole()},
                    {"observations", whole()}}});
    out.push_back({"ProveComponent",
                   {{"group", text()},
                    {"figures", whole()},
                    {"redundancy", or_null(number())},
                    {"ratio", or_null(number()), false, "found over stated"},
                    {"ratio_sd", or_null(number())}}});
    out.push_back({"ProveAnswer",
                   {{"act", word({"prove"})},
                    {"version", text()},
                    {"job", text()},
                    {"unit", unit_word(), false, "of coordinates"},
                    {"confidence", number()},
                    {"verdict", record("Verdict")},
                    {"points_proven", whole()},
                    {"points_in_doubt", whole()},
                    {"points_fail", whole()},
                    {"points_to_lay", whole()},
                    {"points", list(record("ProvePoint"))},
                    {"marks", list(record("ProveMark"))},
                    {"moves", list(record("ProveMove"))},
                    {"causes", list(record("ProveCause"))},
                    {"nothing_wrong", or_null(number())},
                    {"setups", list(record("ProveSetup"))},
                    {"lines", list(record("ProveLine"))},
                    {"runs", list(record("ProveRun")), false, "of levels"},
                    {"loops", list(record("ProveLoop")), false, "those that do not fit first"},
                    {"loose", list(text())},
                    {"fit", record("ProveFit")},
                    {"components", list(record("ProveComponent"))},
                    {"notices", list(text())}}});
}

}  // namespace layproof::acts::internal::shape
