#include <algorithm>

#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"
#include "acts/watch/watch.hpp"
#include "base/text/time.hpp"

#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;

Json pose_json(const watch::PoseVector& p, bool has_height) {
    return {{"east_mm", fixed(p[0] * kMillimetre)},
            {"north_mm", fixed(p[1] * kMillimetre)},
            {"height_mm", has_height ? fixed(p[3] * kMillimetre) : Json(nullptr)},
            {"turn_arcsec", fixed(p[2] / measure::kRadPerArcsec)}};
}

class StationJson {
public:
    explicit StationJson(const WatchStation& s) : s_(s) {}

    Json run() const {
        const watch::DayReport& r = s_.report;
        Json out{{"station", s_.station.station},
                 {"verdict", internal::verdict_json(s_.verdict)},
                 {"station_verdict", internal::verdict_json(s_.station.verdict)},
                 {"set_up_finished", full_time(s_.day.setup_time_s, s_.offset_s)},
                 {"probability_holds", fixed(s_.holds)},
                 {"probability_moved", fixed(r.probability_bump)},
                 {"probability_moved_seen", fixed(r.probability_bump_seen)}};
        out["hypotheses"] = list(s_.causes, [&](const DayCause& c) { return cause_json(c); });
        out["hypotheses_others"] = fixed(r.others);
        out["moves"] = list(r.moves, [&](const watch::MoveTime& m) { return move_json(m); });
        out["points_proven"] = r.proven;
        out["points_in_doubt"] = r.in_doubt;
        out["points_fail"] = r.failing;
        Json points = Json::array();
        for (std::size_t i = 0; i < r.points.size(); ++i) points.push_back(point_json(i));
        out["points"] = std::move(points);
        out["resights"] = list(s_.resights, [](const watch::NextResight& n) {
            return Json{{"target", n.name},
                        {"kind", n.is_mark ? "mark" : "point"},
                        {"gain", fixed(n.gain_bits)},
                        {"left", fixed(n.left_bits)}};
        });
        const watch::NextCheck& next = s_.next_check;
        const bool has_point = next.point >= 0 && next.point < static_cast<int>(r.points.size());
        out["next_check"] = {
            {"due", full_time(next.due_s, s_.offset_s)},
            {"by_drift", next.by_drift},
            {"point", has_point
                          ? Json(s_.day.points[static_cast<std::size_t>(next.point)].target.name)
                          : Json(nullptr)},
            {"probability", has_point ? fixed(next.probability) : Json(nullptr)}};
        out["events"] = list(r.events, [&](const watch::EventReport& e) { return event_json(e); });
        out["notices"] = s_.notices;
        return out;
    }

private:
    Json time_of(int event) const {
        const auto& events = s_.report.events;
        if (event < 0 || event >= static_cast<int>(events.size())) return nullptr;
        return full_time(events[static_cast<std::size_t>(event)].time_s, s_.offset_s);
    }

    Json cause_json(const DayCause& cause) const {
        Json out{{"probability", fixed(cause.probability)}, {"says", cause.says}};
        out["members"] = list(cause.figures.members, [&](const watch::Hypothesis& h) {
            Json member{{"probability", fixed(h.probability)},
                        {"log_evidence", fixed(h.log_evidence)}};
            member["changes"] = list(h.changes, [&](const watch::ChangeReport& c) {
                const bool has_amount = c.amount.allFinite() && c.amount_sd.allFinite();
                return Json{{"cause", watch::to_word(c.change)},
                            {"subject", c.subject.empty() ? Json(nullptr) : Json(c.subject)},
                            {"from", time_of(c.from_event)},
                            {"to", time_of(c.to_event)},
                            {"amount", has_amount ? pose_json(c.amount, true) : Json(nullptr)},
                            {"sd", has_amount ? pose_json(c.amount_sd, true) : Json(nullptr)}};
            });
            return member;
        });
        return out;
    }

    Json move_json(const watch::MoveTime& m) const {
        Json names = Json::array();
        for (const int p : m.layings_between)
            names.push_back(s_.day.points[static_cast<std::size_t>(p)].target.name);
        return {{"from", time_of(m.from_event)},
                {"to", time_of(m.to_event)},
                {"probability", fixed(m.probability)},
                {"shift", pose_json(m.shift, s_.day.has_height)},
                {"sd", pose_json(m.shift_sd, s_.day.has_height)},
                {"points_between", std::move(names)}};
    }

    Json point_json(std::size_t i) const {
        const watch::PointReport& p = s_.report.points[i];
        const watch::LaidPoint& laid = s_.day.points[i];
        const auto height = [&](double value_m) {
            return laid.has_height ? fixed(value_m * kMillimetre) : Json(nullptr);
        };
        const auto plan_sd = [&](int k) {
            return fixed(std::sqrt(std::max(p.covariance(k, k), 0.0)) * kMillimetre);
        };
        return {{"point", laid.target.name},
                {"laid", full_time(laid.time_s, s_.offset_s)},
                {"word", station::to_word(p.word)},
                {"probability", fixed(p.probability)},
                {"as_sighted",
                 {{"east_mm", fixed(laid.deviation_m.x() * kMillimetre)},
                  {"north_mm", fixed(laid.deviation_m.y() * kMillimetre)},
                  {"height_mm", height(laid.deviation_m.z())}}},
                {"corrected",
                 {{"east_mm", fixed(p.deviation_m.x() * kMillimetre)},
                  {"north_mm", fixed(p.deviation_m.y() * kMillimetre)},
                  {"height_mm", height(p.deviation_m.z())}}},
                {"sd",
                 {{"east_mm", plan_sd(0)},
                  {"north_mm", plan_sd(1)},
                  {"height_mm", laid.has_height ? plan_sd(2) : Json(nullptr)}}},
                {"probability_moved", fixed(p.probability_moved)},
                {"displacement",
                 {{"east_mm", fixed(p.displacement_m.x() * kMillimetre)},
                  {"north_mm", fixed(p.displacement_m.y() * kMillimetre)},
                  {"height_mm", height(p.displacement_m.z())}}},
                {"probability_unmoved", fixed(p.probability_unmoved)},
                {"in_doubt_by_move", p.in_doubt_by_move},
                {"resights", p.resights},
                {"tolerance_plan_mm", fixed(laid.target.tolerance_plan_m * kMillimetre)},
                {"tolerance_height_mm", fixed(laid.target.tolerance_height_m, kMillimetre)}};
    }

    Json event_json(const watch::EventReport& e) const {
        const bool is_test =
            e.kind == watch::EventKind::check || e.kind == watch::EventKind::resight;
        Json out{{"event", watch::to_word(e.kind)},
                 {"time", full_time(e.time_s, s_.offset_s)},
                 {"name", e.name.empty() ? Json(nullptr) : Json(e.name)},
                 {"pose", pose_json(e.pose, s_.day.has_height)},
                 {"sd", pose_json(e.sd, s_.day.has_height)},
                 {"probability_moved", fixed(e.probability_moved)}};
        out["statistic"] = is_test ? fixed(e.statistic) : Json(nullptr);
        out["dof"] = is_test ? Json(e.dof) : Json(nullptr);
        out["good"] = is_test ? Json(e.is_good) : Json(nullptr);
        return out;
    }

    const WatchStation& s_;
};

}  // namespace

std::string to_json(const WatchAnswer& answer) {
    Json out{{"act", "watch"},
             {"version", version()},
             {"unit", measure::to_word(answer.unit)},
             {"confidence", fixed(answer.confidence)},
             {"ground", watch::to_word(answer.ground)},
             {"check_every_min", fixed(answer.check_every_s / 60.0)}};
    out["stations"] =
        list(answer.stations, [](const WatchStation& s) { return StationJson(s).run(); });
    out["notices"] = answer.notices;
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
