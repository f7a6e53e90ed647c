#include "acts/plan/plan.hpp"
#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"

namespace layproof::acts {
namespace {

/// Of a place in the unit of the job: nobody puts a tripod down closer.
constexpr int kPlaceDecimals = 4;

struct PlanPointRow {
    const PlanPointReport& of;
    const PlanAnswer& answer;
};

void corners_field(Fields& f, std::string_view name, const std::vector<Eigen::Vector2d>& corners) {
    f.list(name, corners, [&](const Eigen::Vector2d& corner) {
        f.pair({}, [&] {
            f.length({}, corner.x(), kPlaceDecimals);
            f.length({}, corner.y(), kPlaceDecimals);
        });
    });
}

void describe(Fields& f, const PlanPointRow& row) {
    const PlanPointReport& p = row.of;
    const bool is_counted = p.why == PlanPointWhy::none;
    f.is("PlanPoint");
    f.text("point", p.name);
    f.length("east", p.east_m, kPlaceDecimals);
    f.length("north", p.north_m, kPlaceDecimals);
    f.word("state", to_word(p.state),
           {"counted", "in-doubt", "never-in-sight", "in-obstacle", "out-of-reach"});
    f.or_null(p.setup >= 0)
        .text("setup", item(row.answer.setups, static_cast<std::size_t>(p.setup)).name);
    f.number_or_null("chance", p.chance, 3);
    f.number_or_null("best", p.best, 3);
    f.or_null(!is_counted)
        .word("why", to_word(p.why),
              {"covered", "no-place", "far", "hidden", "few-marks", "two-marks", "tolerance"},
              "what stands in the way; null: counted");
    f.text_or_null("says", p.says);
}

}  // namespace

void describe(Fields& f, const PlanAlternate& alternate) {
    f.is("PlanAlternate");
    f.length_or_null("east", alternate.east_m, kPlaceDecimals);
    f.length_or_null("north", alternate.north_m, kPlaceDecimals);
    f.whole("points_counted", alternate.proven);
}

void describe(Fields& f, const PlanSetup& s) {
    f.is("PlanSetup");
    f.text("setup", s.name);
    f.length("east", s.east_m, kPlaceDecimals);
    f.length("north", s.north_m, kPlaceDecimals);
    f.text_or_null("near", s.near, "by the nearest mark");
    f.texts("marks", s.marks, "to sight, in this order");
    f.text_or_null("check", s.check, "mark to keep out as a check");
    f.whole("points_in_sight", s.in_sight);
    f.number_or_null("points_expected", s.expected, 2);
    f.whole("points_counted", s.counted);
    f.whole("points_first", s.first, "not counted by an earlier set-up");
    f.number_or_null("sd_plan_mm", in_mm(s.sd_plan_m));
    f.number_or_null("nothing_wrong", s.nothing_wrong);
    f.number_or_null("named_if_moved", s.naming);
    f.length_or_null("walk", s.walk_m, kPlaceDecimals);
    f.record_or_null("alternate", s.alternate);
    f.texts("remarks", s.remarks);
}

void describe(Fields& f, const PlanMarkReport& mark) {
    f.is("PlanMark");
    f.text("mark", mark.name);
    f.length("east", mark.east_m, kPlaceDecimals);
    f.length("north", mark.north_m, kPlaceDecimals);
    f.text_or_null("under", mark.under, "obstacle over it");
    f.number_or_null("named_if_moved", mark.naming);
}

void describe(Fields& f, const PlanAdvice& advice) {
    f.is("PlanAdvice");
    f.text("aid", advice.aid);
    f.whole("points_provable", advice.provable);
    f.whole("gained", advice.gained);
    f.length_or_null("east", advice.east_m, kPlaceDecimals);
    f.length_or_null("north", advice.north_m, kPlaceDecimals);
    f.number_or_null("times_tolerance", advice.times_tolerance, "all tolerances wider by that");
    f.text("says", advice.says);
}

void describe(Fields& f, const plan::ReachMap& map) {
    f.is("PlanMap");
    f.length("west", map.west_m, kPlaceDecimals);
    f.length("south", map.south_m, kPlaceDecimals);
    f.length("step", map.step_m, kPlaceDecimals);
    f.whole("columns", map.columns);
    f.whole("rows", map.rows);
    f.list(
        "expected", map.expected,
        [&](float expected) {
            f.or_null(expected >= 0.0F).number({}, static_cast<double>(expected), 1);
        },
        "points proven on average; null: nobody can stand there");
}

void describe(Fields& f, const plan::Prism& prism) {
    f.is("PlanObstacle");
    corners_field(f, "corners", prism.corners);
    f.length_or_null("east", prism.centre_m.x(), kPlaceDecimals);
    f.length_or_null("north", prism.centre_m.y(), kPlaceDecimals);
    f.length_or_null("radius", known(prism.is_round(), prism.radius_m), kPlaceDecimals,
                     "of a round one");
    f.length_or_null("bottom", prism.reach.bottom_m, kPlaceDecimals);
    f.length_or_null("top", prism.reach.top_m, kPlaceDecimals);
}

void describe(Fields& f, const PlanAnswer& a) {
    f.is("PlanAnswer");
    f.text("layproof", version());
    f.word("act", "plan", {"plan"});
    unit_field(f, a.unit, "of coordinates");
    f.number("confidence", a.confidence);
    f.number("share", a.share);
    f.number("counts_from", a.counts_from);
    f.record("verdict", a.verdict);
    f.whole("points", a.points);
    f.whole("points_wanted", a.wanted);
    f.whole("points_provable", a.provable);
    f.whole("points_counted", a.counted);
    f.number_or_null("share_expected", a.expected);
    f.whole("at_least", a.at_least, "no fewer set-ups can do it");
    f.whole("greedy", a.greedy);
    f.text("certificate", a.certificate);
    f.length_or_null("walk", a.walk_m, kPlaceDecimals);
    f.length_or_null("floor", a.floor_m, kPlaceDecimals);
    f.length_or_null("rod", a.rod_m, kPlaceDecimals);
    f.length_or_null("rod_on_marks", a.mark_rod_m, kPlaceDecimals);
    f.text("ground", watch::to_word(a.ground));
    f.number_or_null("drift_mm_after_an_hour", in_mm(a.drift_m));
    f.records("setups", a.setups);
    f.records("marks", a.marks);
    f.list("point_reports", a.point_reports, [&](const PlanPointReport& point) {
        f.record({}, PlanPointRow{point, a});
    });
    f.records("advice", a.advice);
    f.record("map", a.map);
    f.records("obstacles", a.obstacles);
    f.list("no_go", a.no_go,
           [&](const std::vector<Eigen::Vector2d>& polygon) { corners_field(f, {}, polygon); });
    f.texts("notices", a.notices);
}

void describe(Fields& f, const PlanPlace& place) {
    f.is("PlaceAnswer");
    f.word("act", "plan-position", {"plan-position"});
    f.number_or_null("east_m", place.east_m, kPlaceDecimals);
    f.number_or_null("north_m", place.north_m, kPlaceDecimals);
    f.word("standing", plan::to_word(place.standing),
           {"free", "no-go", "no-room", "inside-obstacle"});
    f.texts("marks", place.marks, "in sight");
    f.list(
        "points", place.points, [&](int point) { f.whole({}, point); },
        "in sight, into point_reports");
    f.list(
        "chance", place.chance, [&](double chance) { f.number_or_null({}, chance, 3); },
        "of each to be called proven");
    f.number_or_null("points_expected", place.expected, 2);
    f.whole("points_counted", place.counted);
    f.number_or_null("sd_plan_mm", in_mm(place.sd_plan_m));
    f.text("says", place.says);
}

std::string to_json(const PlanAnswer& answer) {
    return json_document(answer);
}

std::string to_json(const PlanPlace& place) {
    return json_document(place, -1);
}

}  // namespace layproof::acts
