#include <algorithm>

#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"
#include "acts/vet/vet.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;

Json amount_json(const vet::Amount& a) {
    Json out = Json::object();
    const auto mm = [&](const char* name, const std::optional<double>& value) {
        if (value) out[name] = fixed(*value * kMillimetre, 3);
    };
    mm("east_mm", a.east_m);
    mm("north_mm", a.north_m);
    mm("height_mm", a.height_m);
    mm("length_mm", a.length_m);
    if (a.ratio) out["ratio"] = fixed(*a.ratio, 9);
    if (a.turn_rad) out["turn_deg"] = fixed(measure::wrap_pi(*a.turn_rad) / measure::kRadPerDeg, 7);
    mm("sd_mm", a.sd_m);
    return out;
}

Json member_json(const vet::Member& m) {
    return {{"cause", to_word(m.trap)},
            {"subjects", m.subjects},
            {"list", m.list.empty() ? Json(nullptr) : Json(m.list)},
            {"probability", fixed(m.probability)},
            {"log_evidence", fixed(m.log_evidence, 3)},
            {"seen", m.is_seen},
            {"estimate", amount_json(m.amount)}};
}

Json mark_json(const vet::MarkVerdict& m, const VetMark& words, double metres_per_unit) {
    const double unit = 1.0 / metres_per_unit;
    const bool plan = m.off_east_m.has_value();
    const Eigen::Matrix2d& c = m.off_covariance;
    return {
        {"mark", m.name},
        {"east", fixed(m.east_m, unit)},
        {"north", fixed(m.north_m, unit)},
        {"height", fixed(m.height_m, unit)},
        {"word", station::to_word(m.word)},
        {"probability", fixed(m.probability)},
        {"probability_plan", fixed(m.probability_plan)},
        {"probability_height", fixed(m.probability_height)},
        {"because", words.because},
        {"next", words.next},
        {"off",
         {{"east_mm", fixed(m.off_east_m, kMillimetre, 3)},
          {"north_mm", fixed(m.off_north_m, kMillimetre, 3)},
          {"height_mm", fixed(m.off_height_m, kMillimetre, 3)}}},
        {"sd_plan_mm",
         plan ? fixed(std::sqrt(std::max(0.5 * c.trace(), 0.0)) * kMillimetre, 3) : Json(nullptr)},
        {"sd_height_mm", m.off_height_m ? fixed(m.sd_height_m * kMillimetre, 3) : Json(nullptr)},
        {"lists", m.lists},
        {"measured", m.measured},
        {"measured_height", m.measured_height},
        {"detectable_mm", fixed(m.detectable_m, kMillimetre, 3)},
        {"detectable_height_mm", fixed(m.detectable_height_m, kMillimetre, 3)}};
}

Json explanation_json(const vet::Explanation& e, const VetExplanation& words) {
    return {{"cause", words.cause},
            {"subjects", words.subjects},
            {"list", e.members.front().list.empty() ? Json(nullptr) : Json(e.members.front().list)},
            {"probability", fixed(e.probability)},
            {"estimate", amount_json(e.members.front().amount)},
            {"says", words.says},
            {"next", words.next},
            {"is_pair", e.is_pair},
            {"members", list(e.members, member_json)}};
}

Json trap_json(const vet::TrapView& t, const VetTrap& words) {
    Json out{{"trap", to_word(t.trap)},
             {"prior", fixed(t.prior)},
             {"probability", fixed(t.probability)},
             {"sighting", to_word(t.sighting)},
             {"weakest", t.weakest.empty() ? Json(nullptr) : Json(t.weakest)},
             {"hides_on_all_lists", t.hides_on_all},
             {"noncentrality", fixed(t.noncentrality, 2)}};
    const bool ratio = t.trap == vet::Trap::grid_for_ground;
    out["detectable_mm"] = ratio ? Json(nullptr) : fixed(t.detectable, kMillimetre, 2);
    out["detectable_ppm"] = ratio ? fixed(t.detectable, 1e6, 2) : Json(nullptr);
    out["says"] = words.says;
    return out;
}

Json measured_json(const vet::Measured& m) {
    const bool angle = m.kind == "direction" || m.kind == "zenith";
    return {{"kind", m.kind},
            {"from", m.from},
            {"to", m.to},
            {"misfit_mm", angle ? Json(nullptr) : fixed(m.misfit * kMillimetre, 3)},
            {"misfit_arcsec", angle ? fixed(m.misfit / measure::kRadPerArcsec, 3) : Json(nullptr)},
            {"standardised", fixed(m.standardised, 4)},
            {"redundancy", fixed(m.redundancy, 4)}};
}

Json assignment_json(const vet::Assignment& a) {
    return {{"marks", static_cast<int>(a.pairs.size())},
            {"mirrored", a.mirrored},
            {"scale", fixed(a.scale, 9)},
            {"turn_deg", fixed(measure::wrap_pi(a.turn_rad) / measure::kRadPerDeg, 7)},
            {"rms_mm", fixed(a.rms_m * kMillimetre, 3)}};
}

Json match_json(const VetMatch& m) {
    return {{"list", m.list},
            {"state", to_word(m.figures.state)},
            {"best", m.figures.state == vet::MatchState::none ? Json(nullptr)
                                                              : assignment_json(m.figures.best)},
            {"rivals", list(m.figures.rivals, assignment_json)},
            {"says", m.says}};
}

Json fit_json(const VetFit& f, double metres_per_unit) {
    const double unit = 1.0 / metres_per_unit;
    const bool is_determined = f.held.state == frame::PlanFitState::determined;
    Json misfits = Json::array();
    for (std::size_t i = 0; i < f.marks.size(); ++i) {
        const auto at = [&](const frame::SiteFit& fit, int axis) {
            return i < fit.misfits_m.size() ? fixed(fit.misfits_m[i][axis], kMillimetre, 3)
                                            : Json(nullptr);
        };
        misfits.push_back({{"mark", f.marks[i]},
                           {"east_mm", at(f.held, 0)},
                           {"north_mm", at(f.held, 1)},
                           {"free_east_mm", at(f.free, 0)},
                           {"free_north_mm", at(f.free, 1)}});
    }
    const auto when = [&](double value, double factor, int decimals) {
        return is_determined ? fixed(value, factor, decimals) : Json(nullptr);
    };
    Json out{
        {"list", f.list},
        {"mirrored", f.is_mirrored},
        {"alike", f.is_alike},
        {"turn_deg", when(measure::wrap_pi(f.held.rotation_rad), 1.0 / measure::kRadPerDeg, 7)},
        {"turn_sd_arcsec", when(f.held.sd_rotation_rad, 1.0 / measure::kRadPerArcsec, 3)},
        {"shift_east", fixed(f.shift_m.x(), unit, 6)},
        {"shift_north", fixed(f.shift_m.y(), unit, 6)},
        {"origin_east", fixed(f.held.origin_m.x(), unit, 6)},
        {"origin_north", fixed(f.held.origin_m.y(), unit, 6)},
        {"height_shift_mm",
         f.held.height_shift_m ? fixed(*f.held.height_shift_m, kMillimetre, 3) : Json(nullptr)},
        {"scatter_mm", when(f.held.s0_m, kMillimetre, 3)},
        {"free_scatter_mm", when(f.free.s0_m, kMillimetre, 3)},
        {"scale", when(f.free.free_scale, 1.0, 9)},
        {"scale_sd_ppm", when(f.free.sd_scale_ppm, 1.0, 3)}};
    out["misfits"] = std::move(misfits);
    out["scales"] = list(f.scales, [](const VetScale& s) {
        return Json{{"kind", s.kind},
                    {"frame", s.frame.empty() ? Json(nullptr) : Json(s.frame)},
                    {"says", s.says},
                    {"ratio", fixed(s.ratio, 1.0, 9)},
                    {"off_ppm", fixed(s.off_ppm, 1.0, 3)},
                    {"probability", fixed(s.probability)}};
    });
    out["warnings"] = f.held.warnings;
    out["says"] = f.says;
    return out;
}

}  // namespace

std::string to_json(const VetAnswer& answer) {
    const double metres = measure::metres_per(answer.unit);
    const vet::Vetting& v = answer.figures;
    Json out{{"act", "vet"},
             {"version", version()},
             {"unit", measure::to_word(answer.unit)},
             {"confidence", answer.confidence},
             {"verdict", internal::verdict_json(answer.verdict)},
             {"tolerance_plan_mm", fixed(answer.tolerance_plan_m * kMillimetre, 3)},
             {"tolerance_height_mm", fixed(answer.tolerance_height_m * kMillimetre, 3)}};
    out["lists"] = list(answer.lists, [](const VetList& l) {
        return Json{{"list", l.name},
                    {"kind", l.is_drawing ? "drawing" : "sheet"},
                    {"revision", l.revision.empty() ? Json(nullptr) : Json(l.revision)},
                    {"marks", l.marks},
                    {"unit", l.unit ? Json(measure::to_word(*l.unit)) : Json(nullptr)}};
    });
    Json marks = Json::array();
    for (std::size_t i = 0; i < v.marks.size(); ++i)
        marks.push_back(mark_json(v.marks[i], answer.marks[i], metres));
    out["marks"] = std::move(marks);
    Json explanations = Json::array();
    for (std::size_t i = 0; i < v.explanations.size(); ++i)
        explanations.push_back(explanation_json(v.explanations[i], answer.explanations[i]));
    out["explanations"] = std::move(explanations);
    out["explanations_others"] = fixed(v.others);
    out["frame_trouble"] = fixed(v.frame_trouble);
    Json traps = Json::array();
    for (std::size_t i = 0; i < v.traps.size(); ++i)
        traps.push_back(trap_json(v.traps[i], answer.traps[i]));
    out["traps"] = std::move(traps);
    out["measured"] = list(v.measured, measured_json);
    out["differences"] = list(v.differences, [](const vet::ListDifference& d) {
        return Json{{"list", d.list},
                    {"mark", d.mark},
                    {"east_mm", fixed(d.east_m * kMillimetre, 3)},
                    {"north_mm", fixed(d.north_m * kMillimetre, 3)},
                    {"height_mm", fixed(d.height_m, kMillimetre, 3)}};
    });
    out["doubled_names"] = v.doubled_names;
    out["one_place"] = list(v.one_place, [](const auto& p) {
        return Json::array({p.first, p.second});
    });
    out["matches"] = list(answer.matches, match_json);
    out["fits"] = list(answer.fits, [&](const VetFit& f) { return fit_json(f, metres); });
    out["grid"] = list(answer.grid_lines, [&](const frame::GridLine& l) {
        return Json{{"line", l.name},
                    {"east_1", fixed(l.start_m.x(), 1.0 / metres, 6)},
                    {"north_1", fixed(l.start_m.y(), 1.0 / metres, 6)},
                    {"east_2", fixed(l.end_m.x(), 1.0 / metres, 6)},
                    {"north_2", fixed(l.end_m.y(), 1.0 / metres, 6)}};
    });
    out["global_test"] = {{"statistic", fixed(v.global_test.statistic, 4)},
                          {"dof", v.global_test.dof},
                          {"lower", fixed(v.global_test.lower, 4)},
                          {"upper", fixed(v.global_test.upper, 4)},
                          {"variance_factor", fixed(v.global_test.variance_factor, 4)},
                          {"passes", v.global_test.passes}};
    out["notices"] = answer.notices;
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
