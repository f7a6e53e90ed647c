// The answer of the act "station", and what the other acts share with it.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {

void add_common_shapes(Records& out) {
    out.push_back({"Verdict",
                   {{"word", verdict_word()},
                    {"probability", number(), false, "of the weakest point"},
                    {"because", text()},
                    {"next", text()}}});
    out.push_back({"Pose",
                   {{"east", number()},
                    {"north", number()},
                    {"height", or_null(number())},
                    {"orientation_deg", number()}}});
    out.push_back({"OffMm",
                   {{"east_mm", or_null(number())},
                    {"north_mm", or_null(number())},
                    {"height_mm", or_null(number())}}});
    out.push_back({"SetAside",
                   {{"station", text()},
                    {"target", text()},
                    absent("which", whole(), "the n-th pointing, from 1; 0 or absent: all"),
                    {"reason", text()}},
                   true});
    out.push_back({"Refusal",
                   {{"code", text(), false, "E109"},
                    {"kind", text(), false, "unit-missing"},
                    {"file", text()},
                    {"line", whole(), false, "from 1; 0: not applicable"},
                    {"column", whole()},
                    {"found", text()},
                    {"expected", text()},
                    {"field", or_null(text()), false, "of the request that was refused"},
                    {"says", text(), false, "the whole sentence"}}});
    out.push_back({"RefusalAnswer", {{"refusal", record("Refusal")}}});
}

namespace {

void add_sight_shapes(Records& out) {
    out.push_back({"SightResidual",
                   {{"direction_arcsec", or_null(number())},
                    {"zenith_arcsec", or_null(number())},
                    {"distance_mm", or_null(number())}}});
    out.push_back({"SightFigures",
                   {{"direction", or_null(number())},
                    {"zenith", or_null(number())},
                    {"distance", or_null(number())}}});
    out.push_back({"StationSight",
                   {{"target", text()},
                    {"used", flag()},
                    {"residual", record("SightResidual")},
                    {"standardised", record("SightFigures")},
                    {"redundancy", record("SightFigures")},
                    {"detectable_mm", or_null(number())},
                    {"undetected_effect_mm", or_null(number())},
                    absent("why", text(), "why it is not used")}});
    out.push_back({"StationMark",
                   {{"mark", text()},
                    {"used", flag()},
                    {"off_east_mm", or_null(number())},
                    {"off_north_mm", or_null(number())},
                    {"off_height_mm", or_null(number())}}});
}

void add_cause_shapes(Records& out) {
    out.push_back({"CauseMember",
                   {{"cause", text()},
                    {"subjects", list(text())},
                    {"probability", number()},
                    {"log_evidence", or_null(number())},
                    {"estimate", by_name(or_null(number()))}}});
    out.push_back({"Cause",
                   {{"cause", text(), false, "\"A|B\": the data cannot split them"},
                    {"subjects", list(text())},
                    {"probability", number()},
                    {"estimate", by_name(or_null(number())), false, "names with their unit"},
                    {"next", text()},
                    {"says", text()},
                    {"is_pair", flag()},
                    {"members", list(record("CauseMember"))}}});
    out.push_back({"NextSight",
                   {{"target", text()},
                    {"why", text()},
                    {"gain", or_null(number())},
                    {"way", text()},
                    absent("to", text(), "a tape's other end")}});
    out.push_back({"Explained",
                   {{"cause", text()},
                    {"subjects", list(text())},
                    {"pose", record("Pose")},
                    {"word", verdict_word()},
                    {"probability", number()},
                    {"points_proven", whole()},
                    {"says", text()}}});
    out.push_back({"Trap", {{"trap", text()}, {"certain", flag()}, {"says", text()}}});
}

void add_geometry_shapes(Records& out) {
    out.push_back({"StationPoint",
                   {{"point", text()},
                    {"sd_plan_mm", or_null(number())},
                    {"sd_height_mm", or_null(number())},
                    {"probability", number()},
                    {"word", verdict_word()},
                    {"tolerance_plan_mm", number()},
                    {"tolerance_height_mm", or_null(number())}}});
    out.push_back(
        {"GeometryRemark", {{"remark", text()}, {"marks", list(text())}, {"says", text()}}});
    out.push_back({"Geometry",
                   {{"remarks", list(record("GeometryRemark"))},
                    {"weakest_azimuth_deg", or_null(number())},
                    {"sd_weakest_mm", or_null(number())},
                    {"sd_strongest_mm", or_null(number())}}});
    out.push_back({"Aid",
                   {{"aid", text()},
                    {"mark", or_null(text())},
                    {"proven", whole()},
                    {"lowest_probability", or_null(number())},
                    {"says", text()}}});
    out.push_back({"Faces",
                   {{"pairs", whole()},
                    {"collimation_arcsec", or_null(number())},
                    {"vertical_index_arcsec", or_null(number())}}});
}

}  // namespace

void add_station_shapes(Records& out) {
    out.push_back({"StationRequest",
                   {absent("as_of", text()), absent("station", text(), "only this set-up"),
                    absent("points", list(text()), "only these"),
                    absent("set_aside", list(record("SetAside")), "to try; decides nothing"),
                    absent("explain", flag())},
                   true});
    add_sight_shapes(out);
    add_cause_shapes(out);
    add_geometry_shapes(out);
    out.push_back({"GlobalTest",
                   {{"statistic", or_null(number())},
                    {"dof", whole()},
                    {"lower", or_null(number())},
                    {"upper", or_null(number())},
                    {"variance_factor", or_null(number())},
                    {"passes", flag()}}});
    out.push_back({"StationPose",
                   {{"east", number()},
                    {"north", number()},
                    {"height", or_null(number())},
                    {"orientation_deg", number()},
                    {"covariance", list(list(or_null(number()))), false,
                     "four rows: east, north, height in metres, orientation in radians"}}});
    out.push_back({"Station",
                   {{"station", text()},
                    {"kind", word({"free", "occupied", "baseline"})},
                    {"verdict", record("Verdict")},
                    {"pose", record("StationPose")},
                    {"pose_is", text()},
                    {"global_test", record("GlobalTest")},
                    {"sights", list(record("StationSight"))},
                    {"marks", list(record("StationMark"))},
                    {"causes", list(record("Cause")), false, "most probable first"},
                    {"next_sight", or_null(record("NextSight"))},
                    {"explained", or_null(record("Explained"))},
                    {"traps", list(record("Trap"))},
                    {"points", list(record("StationPoint"))},
                    {"points_proven", whole()},
                    {"circle_radius", or_null(number())},
                    {"rod_height_mm", number()},
                    {"geometry", record("Geometry")},
                    {"other_places", list(record("Pose"))},
                    {"aids", list(record("Aid"))},
                    {"faces", record("Faces")},
                    {"if_kept_in", or_null(text())},
                    {"notices", list(text())}}});
    out.push_back({"StationAnswer",
                   {{"act", word({"station"})},
                    {"version", text()},
                    {"unit", unit_word(), false, "of coordinates"},
                    {"confidence", number()},
                    {"stations", list(record("Station"))},
                    {"notices", list(text())}}});
}

}  // namespace layproof::acts::internal::shape
