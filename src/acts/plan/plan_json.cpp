#include "acts/plan/plan.hpp"
#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;

class PlanJson {
public:
    explicit PlanJson(const PlanAnswer& a) : a_(a), metres_(measure::metres_per(a.unit)) {}

    Json run() const {
        Json out{{"layproof", std::string(version())},
                 {"act", "plan"},
                 {"unit", measure::to_word(a_.unit)},
                 {"confidence", fixed(a_.confidence)},
                 {"share", fixed(a_.share)},
                 {"counts_from", fixed(a_.counts_from)},
                 {"verdict", internal::verdict_json(a_.verdict)},
                 {"points", a_.points},
                 {"points_wanted", a_.wanted},
                 {"points_provable", a_.provable},
                 {"points_counted", a_.counted},
                 {"share_expected", fixed(a_.expected)},
                 {"at_least", a_.at_least},
                 {"greedy", a_.greedy},
                 {"certificate", a_.certificate},
                 {"walk", place(a_.walk_m)},
                 {"floor", place(a_.floor_m)},
                 {"rod", place(a_.rod_m)},
                 {"rod_on_marks", place(a_.mark_rod_m)},
                 {"ground", watch::to_word(a_.ground)},
                 {"drift_mm_after_an_hour", fixed(a_.drift_m * kMillimetre)}};
        out["setups"] = list(a_.setups, [&](const PlanSetup& s) { return setup(s); });
        out["marks"] = list(a_.marks, [&](const PlanMarkReport& m) {
            return Json{{"mark", m.name},
                        {"east", place(m.east_m)},
                        {"north", place(m.north_m)},
                        {"under", m.under.empty() ? Json(nullptr) : Json(m.under)},
                        {"named_if_moved", fixed(m.naming)}};
        });
        out["point_reports"] = list(a_.point_reports, [&](const PlanPointReport& p) {
            return Json{
                {"point", p.name},
                {"east", place(p.east_m)},
                {"north", place(p.north_m)},
                {"state", to_word(p.state)},
                {"setup", p.setup < 0 ? Json(nullptr)
                                      : Json(a_.setups[static_cast<std::size_t>(p.setup)].name)},
                {"chance", fixed(p.chance, 3)},
                {"best", fixed(p.best, 3)},
                {"why", p.why == PlanPointWhy::none ? Json(nullptr) : Json(to_word(p.why))},
                {"says", p.says.empty() ? Json(nullptr) : Json(p.says)}};
        });
        out["advice"] = list(a_.advice, [&](const PlanAdvice& d) {
            return Json{{"aid", d.aid},
                        {"points_provable", d.provable},
                        {"gained", d.gained},
                        {"east", d.east_m ? place(*d.east_m) : Json(nullptr)},
                        {"north", d.north_m ? place(*d.north_m) : Json(nullptr)},
                        {"times_tolerance", fixed(d.times_tolerance)},
                        {"says", d.says}};
        });
        Json expected = Json::array();
        for (const float e : a_.map.expected)
            expected.push_back(e < 0.0F ? Json(nullptr) : fixed(static_cast<double>(e), 1));
        out["map"] = {{"west", place(a_.map.west_m)}, {"south", place(a_.map.south_m)},
                      {"step", place(a_.map.step_m)}, {"columns", a_.map.columns},
                      {"rows", a_.map.rows},          {"expected", std::move(expected)}};
        out["obstacles"] = list(a_.obstacles, [&](const plan::Prism& p) { return prism(p); });
        out["no_go"] = list(a_.no_go, [&](const auto& polygon) { return corners(polygon); });
        out["notices"] = a_.notices;
        return out;
    }

private:
    Json place(double metres) const { return fixed(metres / metres_, 4); }

    Json corners(const std::vector<Eigen::Vector2d>& polygon) const {
        return list(polygon, [&](const Eigen::Vector2d& c) {
            return Json{place(c.x()), place(c.y())};
        });
    }

    Json prism(const plan::Prism& p) const {
        return {{"corners", corners(p.corners)},
                {"east", place(p.centre_m.x())},
                {"north", place(p.centre_m.y())},
                {"radius", p.is_round() ? place(p.radius_m) : Json(nullptr)},
                {"bottom", place(p.reach.bottom_m)},
                {"top", place(p.reach.top_m)}};
    }

    Json setup(const PlanSetup& s) const {
        return {{"setup", s.name},
                {"east", place(s.east_m)},
                {"north", place(s.north_m)},
                {"near", s.near.empty() ? Json(nullptr) : Json(s.near)},
                {"marks", s.marks},
                {"check", s.check.empty() ? Json(nullptr) : Json(s.check)},
                {"points_in_sight", s.in_sight},
                {"points_expected", fixed(s.expected, 2)},
                {"points_counted", s.counted},
                {"points_first", s.first},
                {"sd_plan_mm", fixed(s.sd_plan_m * kMillimetre)},
                {"nothing_wrong", fixed(s.nothing_wrong)},
                {"named_if_moved", fixed(s.naming)},
                {"walk", place(s.walk_m)},
                {"alternate", s.alternate ? Json{{"east", place(s.alternate->east_m)},
                                                 {"north", place(s.alternate->north_m)},
                                                 {"points_counted", s.alternate->proven}}
                                          : Json(nullptr)},
                {"remarks", s.remarks}};
    }

    const PlanAnswer& a_;
    double metres_;
};

}  // namespace

std::string to_json(const PlanAnswer& answer) {
    return PlanJson(answer).run().dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string to_json(const PlanPlace& place) {
    Json chance = Json::array();
    for (const double c : place.chance) chance.push_back(fixed(c, 3));
    const Json out{{"act", "plan-position"},
                   {"east_m", fixed(place.east_m, 4)},
                   {"north_m", fixed(place.north_m, 4)},
                   {"standing", plan::to_word(place.standing)},
                   {"marks", place.marks},
                   {"points", place.points},
                   {"chance", std::move(chance)},
                   {"points_expected", fixed(place.expected, 2)},
                   {"points_counted", place.counted},
                   {"sd_plan_mm", fixed(place.sd_plan_m, kMillimetre)},
                   {"says", place.says}};
    return out.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
