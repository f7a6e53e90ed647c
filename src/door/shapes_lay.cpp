// The answer of the act "lay".

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {
namespace {

void add_setting_out_shapes(Records& out) {
    out.push_back({"LineOffset",
                   {{"line", text()},
                    {"along", or_null(number())},
                    {"across", or_null(number())},
                    {"side", text()}}});
    out.push_back({"Earthwork", {{"word", text()}, {"amount", number()}}});
    out.push_back(
        {"SettingOut",
         {{"point", text()},
          {"direction_deg", or_null(number()), false, "null alone: it cannot be set out from here"},
          absent("at_instrument", flag()),
          absent("zenith_deg", or_null(number())),
          absent("azimuth_deg", or_null(number())),
          absent("horizontal", or_null(number())),
          absent("slope", or_null(number())),
          absent("height_difference", or_null(number())),
          absent("earthwork", or_null(record("Earthwork"))),
          absent("grid", or_null(text())),
          absent("offsets", list(record("LineOffset")))}});
    out.push_back({"LayStation",
                   {{"station", text()},
                    {"verdict", record("Verdict")},
                    {"pose", record("Pose")},
                    {"rod_height_mm", number()},
                    {"sights_to_laid_points", whole()},
                    {"probability_holds", or_null(number())},
                    {"setting_out", list(record("SettingOut"))}}});
}

void add_laid_shapes(Records& out) {
    out.push_back({"Limits", {{"minus_mm", or_null(number())}, {"plus_mm", or_null(number())}}});
    out.push_back(
        {"LimitSource",
         {{"from", text()}, {"id", or_null(text())}, {"says", text()}, {"from_memory", flag()}}});
    out.push_back({"LaidTolerance",
                   {{"plan_mm", or_null(number())},
                    {"plan_source", record("LimitSource")},
                    {"height", record("Limits")},
                    {"height_source", record("LimitSource")}}});
    out.push_back({"Deviation",
                   {{"east_mm", or_null(number())},
                    {"north_mm", or_null(number())},
                    {"height_mm", or_null(number())},
                    {"along_mm", or_null(number())},
                    {"across_mm", or_null(number())}}});
    out.push_back(
        {"LaidLine",
         {{"line", text()}, {"across", or_null(number())}, {"off_mm", or_null(number())}}});
    out.push_back({"Laid",
                   {{"point", text()},
                    {"stations", list(text())},
                    {"word", verdict_word()},
                    {"probability", or_null(number())},
                    {"probability_plan", or_null(number())},
                    {"probability_height", or_null(number())},
                    {"because", text()},
                    {"next", text()},
                    {"deviation", record("Deviation")},
                    {"expected", record("OffMm")},
                    {"sd_plan_mm", or_null(number())},
                    {"sd_height_mm", or_null(number())},
                    {"station_share", or_null(number())},
                    {"lines", list(record("LaidLine"))},
                    {"grid", or_null(text())},
                    {"move", text()},
                    {"tolerance", record("LaidTolerance")},
                    {"accepted_plan_mm", or_null(number())},
                    {"sights", whole()},
                    {"sights_disagree", flag()}}});
    out.push_back({"LayRule",
                   {{"rule", text()},
                    {"what", text()},
                    {"from", text()},
                    {"to", text()},
                    {"design", or_null(number())},
                    {"measured", or_null(number())},
                    {"off_mm", or_null(number())},
                    {"sd_mm", or_null(number())},
                    {"limits", record("Limits")},
                    {"probability", or_null(number())},
                    {"word", verdict_word()},
                    {"because", text()},
                    {"tolerance_id", text()},
                    {"source", text()},
                    {"from_memory", flag()}}});
}

}  // namespace

void add_lay_shapes(Records& out) {
    out.push_back({"LayRequest",
                   {absent("as_of", text()), absent("station", text(), "only this set-up"),
                    absent("points", list(text()), "only these"),
                    absent("rod_height_m", number(), "for setting out"),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing")},
                   true});
    add_setting_out_shapes(out);
    add_laid_shapes(out);
    out.push_back({"TapeDistance",
                   {{"from", text()},
                    {"to", text()},
                    {"distance", or_null(number())},
                    {"diagonal", flag()}}});
    out.push_back({"LayAnswer",
                   {{"act", word({"lay"})},
                    {"version", text()},
                    {"unit", unit_word(), false, "of coordinates and distances"},
                    {"confidence", number()},
                    {"verdict", or_null(record("Verdict")), false, "null while nothing is laid"},
                    {"rule", text()},
                    {"points_laid", whole()},
                    {"points_proven", whole()},
                    {"points_in_doubt", whole()},
                    {"points_fail", whole()},
                    {"laid", list(record("Laid"))},
                    {"rules", list(record("LayRule"))},
                    {"stations", list(record("LayStation"))},
                    {"tape", list(record("TapeDistance"))},
                    {"notices", list(text())}}});
}

}  // namespace layproof::acts::internal::shape
