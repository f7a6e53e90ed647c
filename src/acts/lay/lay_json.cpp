#include "acts/lay/lay.hpp"
#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;

Json limits_json(const lay::Limits& limits) {
    return {{"minus_mm", fixed(limits.minus_m, kMillimetre)},
            {"plus_mm", fixed(limits.plus_m, kMillimetre)}};
}

Json source_json(const lay::LimitSource& source) {
    return {{"from", lay::to_word(source.origin)},
            {"id", source.id.empty() ? Json(nullptr) : Json(source.id)},
            {"says", source.words},
            {"from_memory", source.from_memory}};
}

Json offsets_json(const std::vector<lay::LineOffset>& offsets, double metres_per_unit) {
    return list(offsets, [&](const lay::LineOffset& o) {
        return Json{{"line", o.name},
                    {"along", fixed(o.along_m / metres_per_unit)},
                    {"across", fixed(o.across_m / metres_per_unit)},
                    {"side", o.side}};
    });
}

Json setting_out_json(const lay::SettingOut& s, double metres_per_unit) {
    const double unit = 1.0 / metres_per_unit;
    const double degree = 1.0 / measure::kRadPerDeg;
    Json out{{"point", s.point},
             {"at_instrument", s.at_instrument},
             {"direction_deg", fixed(s.direction_rad, degree, 8)},
             {"zenith_deg", fixed(s.zenith_rad, degree, 8)},
             {"azimuth_deg", s.at_instrument ? Json(nullptr) : fixed(s.azimuth_rad * degree, 8)},
             {"horizontal", fixed(s.horizontal_m * unit)},
             {"slope", fixed(s.slope_m, unit)},
             {"height_difference", fixed(s.height_difference_m, unit)}};
    out["earthwork"] = s.earthwork ? Json{{"word", lay::to_word(s.earthwork->word)},
                                          {"amount", fixed(s.earthwork->amount_m * unit)}}
                                   : Json(nullptr);
    out["grid"] = s.grid ? Json(s.grid->words) : Json(nullptr);
    out["offsets"] = offsets_json(s.offsets, metres_per_unit);
    return out;
}

Json station_json(const LayStation& one, const LayAnswer& answer, double metres_per_unit) {
    const station::Pose& pose = one.station.pose;
    Json out{{"station", one.station.station},
             {"verdict", internal::verdict_json(one.station.verdict)},
             {"pose",
              {{"east", fixed(pose.position_m.x() / metres_per_unit)},
               {"north", fixed(pose.position_m.y() / metres_per_unit)},
               {"height",
                pose.has_height ? fixed(pose.position_m.z() / metres_per_unit) : Json(nullptr)},
               {"orientation_deg", fixed(pose.orientation_rad / measure::kRadPerDeg, 8)}}},
             {"rod_height_mm", fixed(one.rod_height_m * kMillimetre)},
             {"sights_to_laid_points", one.laid},
             {"probability_holds", fixed(one.holds)}};
    Json points = Json::array();
    for (const SetOut& set_out : one.setting_out) {
        if (set_out.figures) {
            points.push_back(setting_out_json(*set_out.figures, metres_per_unit));
        } else {
            points.push_back(
                {{"point", answer.points[set_out.point].design.name}, {"direction_deg", nullptr}});
        }
    }
    out["setting_out"] = std::move(points);
    return out;
}

Json laid_json(const LaidReport& report, double metres_per_unit) {
    const lay::PointReport& r = report.figures;
    const lay::PointVerdict& v = r.verdict;
    const auto height = [&](double value_m) {
        return v.has_height ? fixed(value_m * kMillimetre) : Json(nullptr);
    };
    Json out{{"point", r.point},
             {"stations", r.stations},
             {"word", station::to_word(v.word)},
             {"probability", v.is_judged ? fixed(v.probability) : Json(nullptr)},
             {"probability_plan", fixed(v.probability_plan)},
             {"probability_height", fixed(v.probability_height)},
             {"because", r.because},
             {"next", r.next},
             {"deviation",
              {{"east_mm", fixed(v.deviation_m.x() * kMillimetre)},
               {"north_mm", fixed(v.deviation_m.y() * kMillimetre)},
               {"height_mm", height(v.deviation_m.z())},
               {"along_mm", fixed(v.along_m * kMillimetre)},
               {"across_mm", fixed(v.across_m * kMillimetre)}}},
             {"expected",
              {{"east_mm", fixed(v.expected_m.x() * kMillimetre)},
               {"north_mm", fixed(v.expected_m.y() * kMillimetre)},
               {"height_mm", height(v.expected_m.z())}}},
             {"sd_plan_mm", fixed(v.sd_plan_m * kMillimetre)},
             {"sd_height_mm", fixed(v.sd_height_m, kMillimetre)},
             {"station_share", fixed(v.station_share)}};
    Json across = Json::array();
    for (std::size_t i = 0; i < r.laid_offsets.size(); ++i)
        across.push_back({{"line", r.laid_offsets[i].name},
                          {"across", fixed(r.laid_offsets[i].across_m / metres_per_unit)},
                          {"off_mm", fixed(r.across_lines_m[i] * kMillimetre)}});
    out["lines"] = std::move(across);
    out["grid"] = r.design_grid ? Json(r.design_grid->words) : Json(nullptr);
    out["move"] = r.move.words;
    out["tolerance"] = {{"plan_mm", fixed(v.tolerance.plan_m, kMillimetre)},
                        {"plan_source", source_json(v.tolerance.plan_source)},
                        {"height", limits_json(v.tolerance.height)},
                        {"height_source", source_json(v.tolerance.height_source)}};
    out["accepted_plan_mm"] = fixed(v.accepted_plan_m, kMillimetre);
    out["sights"] = r.laid.sights;
    out["sights_disagree"] = r.laid.sights_disagree;
    return out;
}

Json rule_json(const RuleReport& rule, double metres_per_unit) {
    const lay::RuleVerdict& r = rule.figures;
    return {{"rule", lay::to_word(r.kind)},
            {"what", rule.what},
            {"from", r.from},
            {"to", r.to},
            {"design", fixed(r.design_m / metres_per_unit)},
            {"measured", fixed(r.measured_m / metres_per_unit)},
            {"off_mm", fixed(r.verdict.deviation_m * kMillimetre)},
            {"sd_mm", fixed(r.verdict.sd_m * kMillimetre)},
            {"limits", limits_json(r.verdict.limits)},
            {"probability", fixed(r.verdict.probability)},
            {"word", station::to_word(r.verdict.word)},
            {"because", rule.because},
            {"tolerance_id", r.tolerance_id},
            {"source", r.source_words},
            {"from_memory", r.from_memory}};
}

}  // namespace

std::string to_json(const LayAnswer& answer) {
    const double metres_per_unit = measure::metres_per(answer.unit);
    Json out{{"act", "lay"},
             {"version", version()},
             {"unit", measure::to_word(answer.unit)},
             {"confidence", fixed(answer.confidence)},
             {"verdict", answer.verdict ? internal::verdict_json(*answer.verdict) : Json(nullptr)}};
    out["rule"] = lay::kRuleWords;
    out["points_laid"] = answer.laid.size();
    out["points_proven"] = answer.proven;
    out["points_in_doubt"] = answer.in_doubt;
    out["points_fail"] = answer.fails;
    out["laid"] =
        list(answer.laid, [&](const LaidReport& r) { return laid_json(r, metres_per_unit); });
    out["rules"] =
        list(answer.rules, [&](const RuleReport& r) { return rule_json(r, metres_per_unit); });
    out["stations"] = list(answer.stations, [&](const LayStation& s) {
        return station_json(s, answer, metres_per_unit);
    });
    out["tape"] = list(answer.tape, [&](const lay::TapeDistance& t) {
        return Json{{"from", answer.points[static_cast<std::size_t>(t.from)].design.name},
                    {"to", answer.points[static_cast<std::size_t>(t.to)].design.name},
                    {"distance", fixed(t.distance_m / metres_per_unit)},
                    {"diagonal", t.is_diagonal}};
    });
    out["notices"] = answer.notices;
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
