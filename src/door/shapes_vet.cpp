// The answer of the act "vet".

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_explanation_shapes(Records& out) {
    out.push_back({"VetEstimate",
                   {absent("east_mm", or_null(number())), absent("north_mm", or_null(number())),
                    absent("height_mm", or_null(number())), absent("length_mm", or_null(number())),
                    absent("ratio", or_null(number())), absent("turn_deg", or_null(number())),
                    absent("sd_mm", or_null(number()))}});
    out.push_back({"VetMember",
                   {{"cause", text()},
                    {"subjects", list(text())},
                    {"list", or_null(text())},
                    {"probability", number()},
                    {"log_evidence", or_null(number())},
                    {"seen", flag()},
                    {"estimate", record("VetEstimate")}}});
    out.push_back({"VetExplanation",
                   {{"cause", text(), false, "\"A|B\": the data cannot split them"},
                    {"subjects", list(text())},
                    {"list", or_null(text()), false, "null: none, or all"},
                    {"probability", number()},
                    {"estimate", record("VetEstimate")},
                    {"says", text()},
                    {"next", text()},
                    {"is_pair", flag(), false, "the members hold together"},
                    {"members", list(record("VetMember"))}}});
    out.push_back({"VetTrap",
                   {{"trap", text()},
                    {"prior", number()},
                    {"probability", number()},
                    {"sighting", word({"seen", "weak", "cannot be seen", "does not apply"})},
                    {"weakest", or_null(text()), false, "mark at which it shows least"},
                    {"hides_on_all_lists", flag()},
                    {"noncentrality", or_null(number())},
                    {"detectable_mm", or_null(number())},
                    {"detectable_ppm", or_null(number())},
                    {"says", text()}}});
}

void add_list_shapes(Records& out) {
    out.push_back({"VetList",
                   {{"list", text()},
                    {"kind", word({"sheet", "drawing"})},
                    {"revision", or_null(text())},
                    {"marks", whole()},
                    {"unit", or_null(unit_word())}}});
    out.push_back({"VetDifference",
                   {{"list", text()},
                    {"mark", text()},
                    {"east_mm", or_null(number())},
                    {"north_mm", or_null(number())},
                    {"height_mm", or_null(number())}}});
    out.push_back({"VetAssignment",
                   {{"marks", whole()},
                    {"mirrored", flag()},
                    {"scale", or_null(number())},
                    {"turn_deg", or_null(number())},
                    {"rms_mm", or_null(number())}}});
    out.push_back({"VetMatch",
                   {{"list", text()},
                    {"state", word({"matched", "ambiguous", "none"})},
                    {"best", or_null(record("VetAssignment"))},
                    {"rivals", list(record("VetAssignment"))},
                    {"says", text()}}});
}

void add_fit_shapes(Records& out) {
    out.push_back({"VetFitMisfit",
                   {{"mark", text()},
                    {"east_mm", or_null(number()), false, "first list less the list laid on it"},
                    {"north_mm", or_null(number())},
                    {"free_east_mm", or_null(number()), false, "with the scale free"},
                    {"free_north_mm", or_null(number())}}});
    out.push_back({"VetScale",
                   {{"kind", word({"none", "foot", "unit", "factor", "unknown"})},
                    {"frame", or_null(text()), false, "coordinate system it takes"},
                    {"says", text()},
                    {"ratio", or_null(number())},
                    {"off_ppm", or_null(number()), false, "the scale seen less this one"},
                    {"probability", number()}}});
    out.push_back({"VetFit",
                   {{"list", text()},
                    {"mirrored", flag(), false, "its east was turned round first"},
                    {"alike", flag(), false, "stands as the first list does"},
                    {"turn_deg", or_null(number()), false, "azimuth of its north in the first"},
                    {"turn_sd_arcsec", or_null(number())},
                    {"shift_east", or_null(number()), false, "of the middle of its marks"},
                    {"shift_north", or_null(number())},
                    {"origin_east", or_null(number()), false, "of its zero in the first"},
                    {"origin_north", or_null(number())},
                    {"height_shift_mm", or_null(number())},
                    {"scatter_mm", or_null(number()), false, "of one coordinate, scale 1"},
                    {"free_scatter_mm", or_null(number())},
                    {"scale", or_null(number()), false, "as its marks would like it"},
                    {"scale_sd_ppm", or_null(number())},
                    {"misfits", list(record("VetFitMisfit"))},
                    {"scales", list(record("VetScale")), false, "most probable first"},
                    {"warnings", list(text())},
                    {"says", text()}}});
    out.push_back({"VetGridLine",
                   {{"line", text()},
                    {"east_1", or_null(number())},
                    {"north_1", or_null(number())},
                    {"east_2", or_null(number())},
                    {"north_2", or_null(number())}}});
}

void add_mark_shapes(Records& out) {
    out.push_back({"VetMark",
                   {{"mark", text()},
                    {"east", or_null(number()), false, "as the first list that has it says"},
                    {"north", or_null(number())},
                    {"height", or_null(number())},
                    {"word", verdict_word()},
                    {"probability", number()},
                    {"probability_plan", or_null(number())},
                    {"probability_height", or_null(number())},
                    {"because", text()},
                    {"next", text()},
                    {"off", record("OffMm"), false, "the ground less the list"},
                    {"sd_plan_mm", or_null(number())},
                    {"sd_height_mm", or_null(number())},
                    {"lists", whole(), false, "that have it"},
                    {"measured", whole(), false, "measurements that hold it in plan"},
                    {"measured_height", whole()},
                    {"detectable_mm", or_null(number()), false,
                     "smallest shift that is found; null: not held"},
                    {"detectable_height_mm", or_null(number())}}});
    out.push_back({"VetMeasured",
                   {{"kind", word({"tape", "level", "direction", "zenith", "distance"})},
                    {"from", text()},
                    {"to", text()},
                    {"misfit_mm", or_null(number())},
                    {"misfit_arcsec", or_null(number())},
                    {"standardised", or_null(number())},
                    {"redundancy", or_null(number())}}});
}

}  // namespace

void add_vet_shapes(Records& out) {
    out.push_back(
        {"VetRequest",
         {absent("as_of", text()), absent("tolerance_plan_mm", number(), "of a mark; else 6.35"),
          absent("tolerance_height_mm", number(), "else 12.7")},
         true});
    add_explanation_shapes(out);
    add_list_shapes(out);
    add_fit_shapes(out);
    add_mark_shapes(out);
    out.push_back({"VetAnswer",
                   {{"act", word({"vet"})},
                    {"version", text()},
                    {"unit", unit_word(), false, "of coordinates"},
                    {"confidence", number()},
                    {"verdict", record("Verdict")},
                    {"tolerance_plan_mm", number()},
                    {"tolerance_height_mm", number()},
                    {"lists", list(record("VetList")), false, "the one to lay from first"},
                    {"marks", list(record("VetMark"))},
                    {"explanations", list(record("VetExplanation")), false, "most probable first"},
                    {"explanations_others", number(), false, "probability of what is not listed"},
                    {"frame_trouble", number(), false, "that some list is in another frame"},
                    {"traps", list(record("VetTrap"))},
                    {"measured", list(record("VetMeasured"))},
                    {"differences", list(record("VetDifference")), false, "less the first list"},
                    {"doubled_names", list(text())},
                    {"one_place", list(pair(text()))},
                    {"matches", list(record("VetMatch"))},
                    {"fits", list(record("VetFit")), false, "each further list on the first"},
                    {"grid", list(record("VetGridLine")), false, "building grid laid on the site"},
                    {"global_test", record("GlobalTest")},
                    {"notices", list(text())}}});
}

}  // namespace layproof::acts::internal::shape
