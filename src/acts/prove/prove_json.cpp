#include "acts/prove/prove.hpp"
#include "acts/shared/json.hpp"
#include "acts/shared/version.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::kMillimetre;
using internal::list;

constexpr double kArcsec = 1.0 / measure::kRadPerArcsec;

Json text_or_null(const std::string& text) {
    return text.empty() ? Json(nullptr) : Json(text);
}

Json off_json(const std::optional<double>& east_m, const std::optional<double>& north_m,
              const std::optional<double>& height_m) {
    return {{"east_mm", fixed(east_m, kMillimetre)},
            {"north_mm", fixed(north_m, kMillimetre)},
            {"height_mm", fixed(height_m, kMillimetre)}};
}

std::optional<double> root(double variance, bool is_known) {
    if (!is_known) return std::nullopt;
    return std::sqrt(std::max(variance, 0.0));
}

class ProveJson {
public:
    explicit ProveJson(const ProveAnswer& a) : a_(a), unit_(1.0 / measure::metres_per(a.unit)) {}

    Json run() const {
        Json out{{"act", "prove"},
                 {"version", version()},
                 {"job", a_.job},
                 {"unit", measure::to_word(a_.unit)},
                 {"confidence", fixed(a_.confidence)},
                 {"verdict", internal::verdict_json(a_.verdict)},
                 {"points_proven", a_.proven},
                 {"points_in_doubt", a_.in_doubt},
                 {"points_fail", a_.fails},
                 {"points_to_lay", a_.points.size() - a_.laid.size()}};
        out["points"] = list(a_.laid, [&](const ProvePoint& p) { return point_json(p); });
        out["marks"] = list(a_.marks, [&](const ProveMark& m) { return mark_json(m); });
        out["moves"] = list(a_.moves, [&](const ProveMove& m) { return move_json(m); });
        out["causes"] = list(a_.causes, [](const ProveCause& c) {
            return Json{{"cause", c.cause},
                        {"subjects", c.subjects},
                        {"probability", fixed(c.probability)},
                        {"says", c.says},
                        {"next", c.next}};
        });
        out["nothing_wrong"] = fixed(a_.nothing_wrong);
        out["setups"] = list(a_.setups, [&](const ProveSetup& s) { return setup_json(s); });
        out["lines"] = list(a_.lines, [&](const ProveLine& l) {
            return Json{{"kind", l.kind},
                        {"from", l.from},
                        {"to", l.to},
                        {"by", text_or_null(l.by)},
                        {"value", fixed(l.value_m * unit_)},
                        {"sd_mm", fixed(l.sd_m * kMillimetre)},
                        {"residual_mm", fixed(l.residual_m * kMillimetre)},
                        {"standardised", fixed(l.standardised)},
                        {"redundancy", fixed(l.redundancy)},
                        {"used", l.used}};
        });
        out["runs"] = list(a_.runs, [&](const ProveRun& r) {
            return Json{{"run", r.run},
                        {"points", r.points},
                        {"intermediate", r.intermediate},
                        {"setups", r.turns},
                        {"length", fixed(r.length_m, unit_)},
                        {"imbalance", fixed(r.imbalance_m, unit_)},
                        {"rise", fixed(r.rise_m * unit_)},
                        {"sd_mm", fixed(r.sd_m * kMillimetre)}};
        });
        out["loops"] = list(a_.loops, [&](const ProveLoop& l) { return loop_json(l); });
        out["loose"] = a_.loose;
        out["fit"] = {{"says", a_.fit},
                      {"statistic", fixed(a_.global_test.statistic)},
                      {"redundancy", a_.global_test.dof},
                      {"upper", fixed(a_.global_test.upper)},
                      {"passes", a_.global_test.passes},
                      {"unknowns", a_.unknowns},
                      {"observations", a_.observations}};
        out["components"] = list(a_.components, [](const ProveComponent& c) {
            return Json{{"group", c.group},
                        {"figures", c.figures},
                        {"redundancy", fixed(c.redundancy)},
                        {"ratio", fixed(c.ratio)},
                        {"ratio_sd", fixed(c.ratio_sd)}};
        });
        out["notices"] = a_.notices;
        return out;
    }

private:
    Json place_json(const std::optional<double>& east_m, const std::optional<double>& north_m,
                    const std::optional<double>& height_m) const {
        return {{"east", fixed(east_m, unit_)},
                {"north", fixed(north_m, unit_)},
                {"height", fixed(height_m, unit_)}};
    }

    Json loop_json(const ProveLoop& l) const {
        Json out{{"kind", l.is_tie ? "between-marks" : "loop"},
                 {"points", l.points},
                 {"closure_mm", fixed(l.closure_m * kMillimetre)},
                 {"sd_mm", fixed(l.sd_m * kMillimetre)},
                 {"length", fixed(l.length_m, unit_)},
                 {"setups", l.turns ? Json(*l.turns) : Json(nullptr)},
                 {"allowed_mm", fixed(l.allowed_m * kMillimetre)},
                 {"rule", l.rule},
                 {"source", l.source},
                 {"fits", l.fits},
                 {"says", l.says}};
        out["members"] = list(l.members, [](const ProveLoop::Member& m) {
            return Json{{"from", m.from}, {"to", m.to}, {"by", m.by}};
        });
        return out;
    }

    Json point_json(const ProvePoint& p) const {
        const LayPoint& wanted = a_.points[p.point];
        const lay::PointVerdict& v = p.verdict;
        const auto height = [&](double value) {
            return v.has_height ? std::optional<double>(value) : std::nullopt;
        };
        Json out{{"point", wanted.design.name},
                 {"stations", p.stations},
                 {"sights", p.sights},
                 {"laid", text_or_null(p.laid_time)},
                 {"word", station::to_word(v.word)},
                 {"probability", v.is_judged ? fixed(v.probability) : Json(nullptr)},
                 {"probability_plan", fixed(v.probability_plan)},
                 {"probability_height", fixed(v.probability_height)},
                 {"because", p.because},
                 {"next", p.next},
                 {"in_doubt_by", text_or_null(p.in_doubt_by)}};
        out["design"] =
            place_json(wanted.design.east_m, wanted.design.north_m, wanted.design.height_m);
        out["as_laid"] =
            place_json(p.as_laid_m.x(), p.as_laid_m.y(),
                       p.has_height ? std::optional<double>(p.as_laid_m.z()) : std::nullopt);
        out["deviation"] =
            off_json(v.deviation_m.x(), v.deviation_m.y(), height(v.deviation_m.z()));
        out["expected"] = off_json(v.expected_m.x(), v.expected_m.y(), height(v.expected_m.z()));
        out["sd"] = off_json(root(v.covariance(0, 0), true), root(v.covariance(1, 1), true),
                             root(v.covariance(2, 2), v.has_height));
        out["sd_plan_mm"] = fixed(v.sd_plan_m * kMillimetre);
        out["tolerance_plan_mm"] = fixed(v.tolerance.plan_m, kMillimetre);
        out["tolerance_height_minus_mm"] = fixed(v.tolerance.height.minus_m, kMillimetre);
        out["tolerance_height_plus_mm"] = fixed(v.tolerance.height.plus_m, kMillimetre);
        out["tolerance_source"] = v.tolerance.plan_source.words;
        out["grid"] = p.design_grid ? Json(p.design_grid->words) : Json(nullptr);
        return out;
    }

    Json mark_json(const ProveMark& m) const {
        Json out{{"mark", m.name},
                 {"sighted", m.is_sighted},
                 {"word", station::to_word(m.word)},
                 {"probability", m.is_sighted ? fixed(m.probability) : Json(nullptr)},
                 {"condition", m.condition},
                 {"sights", m.sights},
                 {"setups", m.setups}};
        out["sheet"] = place_json(m.east_m, m.north_m, m.height_m);
        out["adjusted"] = place_json(m.adjusted_east_m, m.adjusted_north_m, m.adjusted_height_m);
        out["adjusted_sd"] = off_json(root(m.covariance(0, 0), m.adjusted_east_m.has_value()),
                                      root(m.covariance(1, 1), m.adjusted_north_m.has_value()),
                                      root(m.covariance(2, 2), m.adjusted_height_m.has_value()));
        out["off"] = off_json(m.off_east_m, m.off_north_m, m.off_height_m);
        out["off_sd"] = off_json(root(m.off_covariance(0, 0), m.off_east_m.has_value()),
                                 root(m.off_covariance(1, 1), m.off_north_m.has_value()),
                                 root(m.off_covariance(2, 2), m.off_height_m.has_value()));
        return out;
    }

    Json move_json(const ProveMove& m) const {
        const auto plan = [&](double v) {
            return m.is_height ? std::nullopt : std::optional<double>(v);
        };
        const auto height = [&](double v) {
            return m.is_height ? std::optional<double>(v) : std::nullopt;
        };
        Json out{{"point", m.point},
                 {"of", m.is_height ? "height" : "plan"},
                 {"probability", fixed(m.probability)},
                 {"before_first_sight", m.before_all},
                 {"after", text_or_null(m.after)},
                 {"before", text_or_null(m.before)},
                 {"says", m.says}};
        out["shift"] = off_json(plan(m.shift_m.x()), plan(m.shift_m.y()), height(m.shift_m.z()));
        out["sd"] =
            off_json(root(m.covariance(0, 0), !m.is_height), root(m.covariance(1, 1), !m.is_height),
                     root(m.covariance(2, 2), m.is_height));
        out["setups"] = m.setups;
        out["points"] = m.points;
        return out;
    }

    Json setup_json(const ProveSetup& s) const {
        const station::Pose& pose = s.pose;
        const auto known = [&](double v) {
            return s.is_placed ? std::optional<double>(v) : std::nullopt;
        };
        const bool has_height = s.is_placed && pose.has_height;
        Json out{{"station", s.station},
                 {"over", text_or_null(s.over)},
                 {"placed", s.is_placed},
                 {"from", text_or_null(s.from_time)},
                 {"to", text_or_null(s.to_time)},
                 {"word", station::to_word(s.word)},
                 {"fit", s.fit},
                 {"ratio", fixed(s.ratio)},
                 {"redundancy", fixed(s.redundancy)},
                 {"points_laid", s.laid},
                 {"probability_holds", fixed(s.holds)},
                 {"watch_says", text_or_null(s.watched)}};
        out["pose"] =
            place_json(known(pose.position_m.x()), known(pose.position_m.y()),
                       has_height ? std::optional<double>(pose.position_m.z()) : std::nullopt);
        out["orientation_deg"] =
            s.is_placed ? fixed(pose.orientation_rad / measure::kRadPerDeg, 8) : Json(nullptr);
        out["sd"] = off_json(root(pose.covariance(0, 0), s.is_placed),
                             root(pose.covariance(1, 1), s.is_placed),
                             root(pose.covariance(2, 2), has_height));
        out["orientation_sd_arcsec"] = fixed(root(pose.covariance(3, 3), s.is_placed), kArcsec);
        out["sights"] = list(s.sights, [](const ProveSight& sight) {
            const auto three = [](const station::PartFigures& f) {
                return Json{{"direction", fixed(f.direction)},
                            {"zenith", fixed(f.zenith)},
                            {"distance", fixed(f.distance)}};
            };
            return Json{{"target", sight.target},
                        {"purpose", sight.purpose},
                        {"time", text_or_null(sight.time)},
                        {"pointings", sight.pointings},
                        {"used", sight.used},
                        {"why_not_used", text_or_null(sight.why)},
                        {"residual",
                         {{"direction_arcsec", fixed(sight.residual.direction, kArcsec)},
                          {"zenith_arcsec", fixed(sight.residual.zenith, kArcsec)},
                          {"distance_mm", fixed(sight.residual.distance, kMillimetre)}}},
                        {"standardised", three(sight.standardised)},
                        {"redundancy", three(sight.redundancy)}};
        });
        return out;
    }

    const ProveAnswer& a_;
    double unit_;
};

}  // namespace

std::string to_json(const ProveAnswer& answer) {
    return ProveJson(answer).run().dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
