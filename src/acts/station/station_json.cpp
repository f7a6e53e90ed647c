#include <algorithm>
#include <cmath>

#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"
#include "acts/station/station.hpp"
#include "measure/angle.hpp"
#include "station/aids.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;
using internal::verdict_json;

/// Rounded to eight significant digits: covariances span many powers of ten.
Json significant(double value) {
    if (!std::isfinite(value)) return nullptr;
    if (value == 0.0) return 0.0;
    const int decimals = 7 - static_cast<int>(std::floor(std::log10(std::abs(value))));
    return decimals > 22 ? Json(0.0) : fixed(value, std::max(decimals, 0));
}

const char* kind_word(station::SetupKind kind) {
    switch (kind) {
        case station::SetupKind::free:
            return "free";
        case station::SetupKind::occupied:
            return "occupied";
        case station::SetupKind::baseline:
            return "baseline";
    }
    return "free";
}

Json pose_json(const station::Pose& pose, double metres_per_unit) {
    Json rows = Json::array();
    for (int i = 0; i < 4; ++i) {
        Json row = Json::array();
        for (int j = 0; j < 4; ++j) row.push_back(significant(pose.covariance(i, j)));
        rows.push_back(std::move(row));
    }
    return {
        {"east", fixed(pose.position_m.x() / metres_per_unit)},
        {"north", fixed(pose.position_m.y() / metres_per_unit)},
        {"height", pose.has_height ? fixed(pose.position_m.z() / metres_per_unit) : Json(nullptr)},
        {"orientation_deg", fixed(pose.orientation_rad / measure::kRadPerDeg, 8)},
        {"covariance", std::move(rows)}};
}

Json test_json(const adjust::GlobalTest& test) {
    return {{"statistic", fixed(test.statistic)},
            {"dof", test.dof},
            {"lower", fixed(test.lower)},
            {"upper", fixed(test.upper)},
            {"variance_factor", fixed(test.variance_factor)},
            {"passes", test.passes}};
}

Json sight_json(const SightReport& sight) {
    const station::SolvedSight& f = sight.figures;
    const double arcsec = 1.0 / measure::kRadPerArcsec;
    Json out{{"target", sight.target},
             {"used", sight.used},
             {"residual",
              {{"direction_arcsec", fixed(f.residual.direction, arcsec)},
               {"zenith_arcsec", fixed(f.residual.zenith, arcsec)},
               {"distance_mm", fixed(f.residual.distance, kMillimetre)}}},
             {"standardised",
              {{"direction", fixed(f.standardised.direction)},
               {"zenith", fixed(f.standardised.zenith)},
               {"distance", fixed(f.standardised.distance)}}},
             {"redundancy",
              {{"direction", fixed(f.redundancy.direction)},
               {"zenith", fixed(f.redundancy.zenith)},
               {"distance", fixed(f.redundancy.distance)}}},
             {"detectable_mm", fixed(f.detectable_m, kMillimetre)},
             {"undetected_effect_mm", fixed(f.undetected_effect_m, kMillimetre)}};
    if (!sight.used) out["why"] = sight.why;
    return out;
}

Json mark_json(const MarkReport& mark) {
    return {{"mark", mark.name},
            {"used", mark.used},
            {"off_east_mm", fixed(mark.off_east_m, kMillimetre)},
            {"off_north_mm", fixed(mark.off_north_m, kMillimetre)},
            {"off_height_mm", fixed(mark.off_height_m, kMillimetre)}};
}

Json estimate_json(const std::vector<std::pair<std::string, double>>& estimate) {
    Json out = Json::object();
    for (const auto& [name, value] : estimate) out[name] = fixed(value);
    return out;
}

Json cause_json(const CauseReport& cause) {
    Json out{{"cause", cause.cause},
             {"subjects", cause.subjects},
             {"probability", fixed(cause.probability)},
             {"estimate", estimate_json(cause.estimate)},
             {"next", cause.next},
             {"says", cause.says},
             {"is_pair", cause.is_pair}};
    out["members"] = list(cause.members, [](const CauseMember& member) {
        return Json{{"cause", member.cause},
                    {"subjects", member.subjects},
                    {"probability", fixed(member.probability)},
                    {"log_evidence", fixed(member.log_evidence)},
                    {"estimate", estimate_json(member.estimate)}};
    });
    return out;
}

Json point_json(const PointReport& point) {
    const station::PointForecast& f = point.forecast;
    return {{"point", point.target.name},
            {"sd_plan_mm", fixed(f.sd_plan_m * kMillimetre)},
            {"sd_height_mm", fixed(f.sd_height_m, kMillimetre)},
            {"probability", fixed(f.probability)},
            {"word", station::to_word(f.word)},
            {"tolerance_plan_mm", fixed(point.target.tolerance_plan_m * kMillimetre)},
            {"tolerance_height_mm",
             f.sd_height_m ? fixed(point.target.tolerance_height_m, kMillimetre) : Json(nullptr)}};
}

Json geometry_json(const StationReport& report) {
    return {{"remarks", list(report.remarks,
                             [](const RemarkReport& r) {
                                 return Json{{"remark", station::to_word(r.remark.kind)},
                                             {"marks", r.remark.subjects},
                                             {"says", r.says}};
                             })},
            {"weakest_azimuth_deg", fixed(report.weak.azimuth_rad / measure::kRadPerDeg)},
            {"sd_weakest_mm", fixed(report.weak.major_m * kMillimetre)},
            {"sd_strongest_mm", fixed(report.weak.minor_m * kMillimetre)}};
}

Json explained_json(const ExplainedReport& e, double metres_per_unit) {
    const station::Pose& pose = e.pose;
    return {{"cause", e.cause},
            {"subjects", e.subjects},
            {"pose",
             {{"east", fixed(pose.position_m.x() / metres_per_unit)},
              {"north", fixed(pose.position_m.y() / metres_per_unit)},
              {"height",
               pose.has_height ? fixed(pose.position_m.z() / metres_per_unit) : Json(nullptr)},
              {"orientation_deg", fixed(pose.orientation_rad / measure::kRadPerDeg, 8)}}},
            {"word", station::to_word(e.word)},
            {"probability", fixed(e.probability)},
            {"points_proven", e.proven},
            {"says", e.says}};
}

Json station_json(const StationReport& report, double metres_per_unit) {
    Json out{{"station", report.station},
             {"kind", kind_word(report.kind)},
             {"verdict", verdict_json(report.verdict)},
             {"pose", pose_json(report.pose, metres_per_unit)},
             {"pose_is", report.pose_is},
             {"global_test", test_json(report.global_test)}};
    out["sights"] = list(report.sights, sight_json);
    out["marks"] = list(report.marks, mark_json);
    out["causes"] = list(report.causes, cause_json);
    out["next_sight"] = report.next_sight ? Json{{"target", report.next_sight->target},
                                                 {"why", report.next_sight->why},
                                                 {"gain", fixed(report.next_sight->gain)},
                                                 {"way", report.next_sight->way}}
                                          : Json(nullptr);
    if (report.next_sight && !report.next_sight->second.empty())
        out["next_sight"]["to"] = report.next_sight->second;
    out["explained"] =
        report.explained ? explained_json(*report.explained, metres_per_unit) : Json(nullptr);
    out["traps"] = list(report.traps, [](const TrapReport& trap) {
        return Json{{"trap", trap.trap}, {"certain", trap.is_certain}, {"says", trap.says}};
    });
    out["points"] = list(report.points, point_json);
    out["points_proven"] = report.proven;
    out["circle_radius"] =
        report.circle_radius_m ? fixed(*report.circle_radius_m / metres_per_unit) : Json(nullptr);
    out["rod_height_mm"] = fixed(report.rod_height_m * kMillimetre);
    out["geometry"] = geometry_json(report);
    out["other_places"] = list(report.others, [&](const station::Pose& pose) {
        return Json{{"east", fixed(pose.position_m.x() / metres_per_unit)},
                    {"north", fixed(pose.position_m.y() / metres_per_unit)},
                    {"height", pose.has_height ? fixed(pose.position_m.z() / metres_per_unit)
                                               : Json(nullptr)},
                    {"orientation_deg", fixed(pose.orientation_rad / measure::kRadPerDeg, 8)}};
    });
    out["aids"] = list(report.aids, [](const AidReport& aid) {
        return Json{{"aid", aid.aid},
                    {"mark", aid.mark.empty() ? Json(nullptr) : Json(aid.mark)},
                    {"proven", aid.proven},
                    {"lowest_probability", fixed(aid.lowest)},
                    {"says", aid.says}};
    });
    out["faces"] = {
        {"pairs", report.face_pairs},
        {"collimation_arcsec", fixed(report.collimation_rad, 1.0 / measure::kRadPerArcsec)},
        {"vertical_index_arcsec", fixed(report.index_error_rad, 1.0 / measure::kRadPerArcsec)}};
    out["if_kept_in"] = report.if_kept_in.empty() ? Json(nullptr) : Json(report.if_kept_in);
    out["notices"] = report.notices;
    return out;
}

}  // namespace

std::string to_json(const StationAnswer& answer) {
    const double metres_per_unit = measure::metres_per(answer.unit);
    Json out{{"act", "station"},
             {"version", version()},
             {"unit", measure::to_word(answer.unit)},
             {"confidence", fixed(answer.confidence)}};
    out["stations"] = list(answer.stations, [&](const StationReport& report) {
        return station_json(report, metres_per_unit);
    });
    out["notices"] = answer.notices;
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
