#include <algorithm>
#include <cmath>

#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"
#include "acts/watch/watch.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

struct PoseChange {
    const watch::PoseVector& of;
    bool has_height = true;
};

/// One struct of a day, with the day, whose clock and names it is told by.
template <class T>
struct OfDay {
    const T& of;
    const WatchStation& day;
};

std::string time_of(const WatchStation& station, int event) {
    const auto& events = station.report.events;
    if (event < 0 || event >= static_cast<int>(events.size())) return {};
    return full_time(events[static_cast<std::size_t>(event)].time_s, station.offset_s);
}

const std::string& point_name(const WatchStation& station, int point) {
    return item(station.day.points, static_cast<std::size_t>(point)).target.name;
}

void describe(Fields& f, const PoseChange& change) {
    f.is("WatchPose");
    f.number_or_null("east_mm", in_mm(change.of[0]));
    f.number_or_null("north_mm", in_mm(change.of[1]));
    f.number_or_null("height_mm", in_mm(known(change.has_height, change.of[3])));
    f.number_or_null("turn_arcsec", in_arcsec(change.of[2]));
}

void describe(Fields& f, const OfDay<watch::MoveTime>& row) {
    const bool has_height = row.day.day.has_height;
    f.is("WatchMove");
    f.text_or_null("from", time_of(row.day, row.of.from_event));
    f.text_or_null("to", time_of(row.day, row.of.to_event));
    f.number("probability", row.of.probability);
    f.record("shift", PoseChange{row.of.shift, has_height});
    f.record("sd", PoseChange{row.of.shift_sd, has_height});
    f.list("points_between", row.of.layings_between,
           [&](int point) { f.text({}, point_name(row.day, point)); });
}

struct DayPoint {
    const watch::PointReport& of;
    const watch::LaidPoint& laid;
    double offset_s = 0.0;
};

void describe(Fields& f, const DayPoint& point) {
    const watch::PointReport& p = point.of;
    const watch::LaidPoint& laid = point.laid;
    const Eigen::Vector3d sd = p.covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
    f.is("WatchPoint");
    f.text("point", laid.target.name);
    f.text("laid", full_time(laid.time_s, point.offset_s));
    f.word("word", station::to_word(p.word), kVerdictWords);
    f.number_or_null("probability", p.probability);
    f.record("as_sighted", off_mm(laid.deviation_m, laid.has_height));
    f.record("corrected", off_mm(p.deviation_m, laid.has_height));
    f.record("sd", off_mm(sd, laid.has_height));
    f.number_or_null("probability_moved", p.probability_moved);
    f.record("displacement", off_mm(p.displacement_m, laid.has_height));
    f.number_or_null("probability_unmoved", p.probability_unmoved);
    f.flag("in_doubt_by_move", p.in_doubt_by_move);
    f.whole("resights", p.resights);
    f.number_or_null("tolerance_plan_mm", in_mm(laid.target.tolerance_plan_m));
    f.number_or_null("tolerance_height_mm", in_mm(laid.target.tolerance_height_m));
}

void describe(Fields& f, const OfDay<watch::NextCheck>& row) {
    const watch::NextCheck& next = row.of;
    const bool has_point =
        next.point >= 0 && next.point < static_cast<int>(row.day.report.points.size());
    f.is("NextCheck");
    f.text("due", full_time(next.due_s, row.day.offset_s));
    f.flag("by_drift", next.by_drift);
    f.or_null(has_point).text("point", point_name(row.day, next.point));
    f.or_null(has_point).number("probability", next.probability);
}

void describe(Fields& f, const OfDay<watch::EventReport>& row) {
    const watch::EventReport& e = row.of;
    const bool is_test = e.kind == watch::EventKind::check || e.kind == watch::EventKind::resight;
    const bool has_height = row.day.day.has_height;
    f.is("WatchEvent");
    f.text("event", watch::to_word(e.kind));
    f.text("time", full_time(e.time_s, row.day.offset_s));
    f.text_or_null("name", e.name);
    f.record("pose", PoseChange{e.pose, has_height});
    f.record("sd", PoseChange{e.sd, has_height});
    f.number_or_null("probability_moved", e.probability_moved);
    f.or_null(is_test).number("statistic", e.statistic);
    f.or_null(is_test).whole("dof", e.dof);
    f.or_null(is_test).flag("good", e.is_good);
}

}  // namespace

void describe(Fields& f, const DayChange& c) {
    const bool has_amount = c.amount && c.sd && c.amount->allFinite() && c.sd->allFinite();
    const watch::PoseVector none = watch::PoseVector::Zero();
    f.is("WatchChange");
    f.text("cause", cause::to_word(c.cause));
    f.text_or_null("subject", c.subject);
    f.text_or_null("from", c.from);
    f.text_or_null("to", c.to);
    f.or_null(has_amount).record("amount", PoseChange{has_amount ? *c.amount : none});
    f.or_null(has_amount).record("sd", PoseChange{has_amount ? *c.sd : none});
}

namespace {

struct HypothesisMember {
    const DayCause& of;
};

void describe(Fields& f, const HypothesisMember& member) {
    f.is("HypothesisMember");
    f.number("probability", member.of.probability);
    f.number_or_null("log_evidence", member.of.log_evidence);
    f.records("changes", member.of.changes);
}

}  // namespace

void describe(Fields& f, const DayCause& cause) {
    f.is("Hypothesis");
    f.number("probability", cause.probability);
    f.text("says", cause.says);
    f.list("members", std::vector<const DayCause*>{&cause},
           [&](const DayCause* member) { f.record({}, HypothesisMember{*member}); });
}

void describe(Fields& f, const watch::NextResight& next) {
    f.is("Resight");
    f.text("target", next.name);
    f.word("kind", next.is_mark ? "mark" : "point", {"mark", "point"});
    f.number_or_null("gain", next.gain_bits);
    f.number_or_null("left", next.left_bits);
}

void describe(Fields& f, const WatchStation& s) {
    const watch::DayReport& r = s.report;
    f.is("WatchStation");
    f.text("station", s.station.station);
    f.record("verdict", s.verdict, "of the day");
    f.record("station_verdict", s.station.verdict, "of the set-up");
    f.text("set_up_finished", full_time(s.day.setup_time_s, s.offset_s));
    f.number("probability_holds", s.holds);
    f.number_or_null("probability_moved", r.probability_bump);
    f.number_or_null("probability_moved_seen", r.probability_bump_seen);
    f.records("hypotheses", s.causes);
    f.number_or_null("hypotheses_others", s.others);
    f.list("moves", r.moves, [&](const watch::MoveTime& move) {
        f.record({}, OfDay<watch::MoveTime>{move, s});
    });
    f.whole("points_proven", r.proven);
    f.whole("points_in_doubt", r.in_doubt);
    f.whole("points_fail", r.failing);
    f.rows("points", r.points.size(), [&](std::size_t i) {
        f.record({}, DayPoint{item(r.points, i), item(s.day.points, i), s.offset_s});
    });
    f.records("resights", s.resights, "best first");
    f.record("next_check", OfDay<watch::NextCheck>{s.next_check, s});
    f.list("events", r.events, [&](const watch::EventReport& event) {
        f.record({}, OfDay<watch::EventReport>{event, s});
    });
    f.texts("notices", s.notices);
}

void describe(Fields& f, const WatchAnswer& answer) {
    f.is("WatchAnswer");
    f.word("act", "watch", {"watch"});
    f.text("version", version());
    unit_field(f, answer.unit);
    f.number("confidence", answer.confidence);
    f.word("ground", watch::to_word(answer.ground), kGroundWords);
    f.number("check_every_min", answer.check_every_s / 60.0);
    f.records("causes", answer.causes);
    f.records("stations", answer.stations);
    f.texts("notices", answer.notices);
}

std::string to_json(const WatchAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts
