#include <algorithm>
#include <cmath>

#include "acts/prove/prove.hpp"
#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"

namespace layproof::acts {
namespace {

std::optional<double> root(double variance, bool is_known) {
    return known(is_known, std::sqrt(std::max(variance, 0.0)));
}

/// Standard deviations of the parts that are known.
OffMm roots(const Eigen::Matrix3d& covariance, bool has_east, bool has_north, bool has_height) {
    return {root(covariance(0, 0), has_east), root(covariance(1, 1), has_north),
            root(covariance(2, 2), has_height)};
}

/// Site coordinates.
struct ProvePlace {
    std::optional<double> east_m, north_m, height_m;
};

struct ProvePointRow {
    const ProvePoint& of;
    const ProveAnswer& answer;
};

struct ProveFit {
    const ProveAnswer& of;
};

void describe(Fields& f, const ProvePlace& place) {
    f.is("ProvePlace");
    f.length_or_null("east", place.east_m);
    f.length_or_null("north", place.north_m);
    f.length_or_null("height", place.height_m);
}

void describe(Fields& f, const ProvePointRow& row) {
    const ProvePoint& p = row.of;
    const frame::DesignPoint& design = item(row.answer.points, p.point).design;
    const lay::PointVerdict& v = p.verdict;
    f.is("ProvePoint");
    f.text("point", design.name);
    f.texts("stations", p.stations);
    f.whole("sights", p.sights);
    f.text_or_null("laid", p.laid_time);
    f.word("word", station::to_word(v.word), kVerdictWords);
    f.or_null(v.is_judged).number("probability", v.probability);
    f.number_or_null("probability_plan", v.probability_plan);
    f.number_or_null("probability_height", v.probability_height);
    f.text("because", p.because);
    f.text("next", p.next);
    f.text_or_null("in_doubt_by", p.in_doubt_by);
    f.record("design", ProvePlace{design.east_m, design.north_m, design.height_m});
    f.record("as_laid",
             ProvePlace{p.as_laid_m.x(), p.as_laid_m.y(), known(p.has_height, p.as_laid_m.z())});
    f.record("deviation", off_mm(v.deviation_m, v.has_height));
    f.record("expected", off_mm(v.expected_m, v.has_height));
    f.record("sd", roots(v.covariance, true, true, v.has_height));
    f.number_or_null("sd_plan_mm", in_mm(v.sd_plan_m));
    f.number_or_null("tolerance_plan_mm", in_mm(v.tolerance.plan_m));
    f.number_or_null("tolerance_height_minus_mm", in_mm(v.tolerance.height.minus_m));
    f.number_or_null("tolerance_height_plus_mm", in_mm(v.tolerance.height.plus_m));
    f.text("tolerance_source", v.tolerance.plan_source.words);
    f.or_null(p.design_grid.has_value()).text("grid", p.design_grid ? p.design_grid->words : "");
}

void describe(Fields& f, const ProveFit& fit) {
    const ProveAnswer& a = fit.of;
    f.is("ProveFit");
    f.text("says", a.fit);
    f.number_or_null("statistic", a.global_test.statistic);
    f.whole("redundancy", a.global_test.dof);
    f.number_or_null("upper", a.global_test.upper);
    f.flag("passes", a.global_test.passes);
    f.whole("unknowns", a.unknowns);
    f.whole("observations", a.observations);
}

}  // namespace

void describe(Fields& f, const ProveMark& m) {
    f.is("ProveMark");
    f.text("mark", m.name);
    f.flag("sighted", m.is_sighted);
    f.word("word", station::to_word(m.word), kVerdictWords);
    f.or_null(m.is_sighted).number("probability", m.probability);
    f.text("condition", m.condition);
    f.whole("sights", m.sights);
    f.whole("setups", m.setups);
    f.record("sheet", ProvePlace{m.east_m, m.north_m, m.height_m});
    f.record("adjusted", ProvePlace{m.adjusted_east_m, m.adjusted_north_m, m.adjusted_height_m});
    f.record("adjusted_sd", roots(m.covariance, m.adjusted_east_m.has_value(),
                                  m.adjusted_north_m.has_value(), m.adjusted_height_m.has_value()));
    f.record("off", OffMm{m.off_east_m, m.off_north_m, m.off_height_m},
             "by all sights less the sheet");
    f.record("off_sd", roots(m.off_covariance, m.off_east_m.has_value(), m.off_north_m.has_value(),
                             m.off_height_m.has_value()));
}

void describe(Fields& f, const ProveMove& m) {
    const bool is_plan = !m.is_height;
    f.is("ProveMove");
    f.text("point", m.point);
    f.word("of", m.is_height ? "height" : "plan", {"plan", "height"});
    f.number_or_null("probability", m.probability);
    f.flag("before_first_sight", m.before_all);
    f.text_or_null("after", m.after);
    f.text_or_null("before", m.before);
    f.text("says", m.says);
    f.record("shift", OffMm{known(is_plan, m.shift_m.x()), known(is_plan, m.shift_m.y()),
                            known(m.is_height, m.shift_m.z())});
    f.record("sd", roots(m.covariance, is_plan, is_plan, m.is_height));
    f.texts("setups", m.setups, "that used it after it moved");
    f.texts("points", m.points, "laid from these");
}

void describe(Fields& f, const ProveSight& sight) {
    f.is("ProveSight");
    f.text("target", sight.target);
    f.word("purpose", sight.purpose, kPurposeWords);
    f.text_or_null("time", sight.time);
    f.whole("pointings", sight.pointings);
    f.flag("used", sight.used);
    f.text_or_null("why_not_used", sight.why);
    f.record("residual", SightResidual{sight.residual});
    f.record("standardised", SightFigures{sight.standardised});
    f.record("redundancy", SightFigures{sight.redundancy});
}

void describe(Fields& f, const ProveSetup& s) {
    const station::Pose& pose = s.pose;
    const bool has_height = s.is_placed && pose.has_height;
    const Eigen::Matrix3d place_covariance = pose.covariance.topLeftCorner<3, 3>();
    f.is("ProveSetup");
    f.text("station", s.station);
    f.text_or_null("over", s.over);
    f.flag("placed", s.is_placed);
    f.text_or_null("from", s.from_time);
    f.text_or_null("to", s.to_time);
    f.flag("fits", s.word == station::Word::proven, "its sights fit the whole");
    f.text("fit", s.fit);
    f.number_or_null("ratio", s.ratio);
    f.number_or_null("redundancy", s.redundancy);
    f.whole("points_laid", s.laid);
    f.number_or_null("probability_holds", s.holds);
    f.text_or_null("watch_says", s.watched);
    f.record("pose", ProvePlace{known(s.is_placed, pose.position_m.x()),
                                known(s.is_placed, pose.position_m.y()),
                                known(has_height, pose.position_m.z())});
    f.or_null(s.is_placed).number("orientation_deg", in_deg(pose.orientation_rad), kDegreeDecimals);
    f.record("sd", roots(place_covariance, s.is_placed, s.is_placed, has_height));
    f.number_or_null("orientation_sd_arcsec", in_arcsec(root(pose.covariance(3, 3), s.is_placed)));
    f.records("sights", s.sights);
}

void describe(Fields& f, const ProveLine& l) {
    f.is("ProveLine");
    f.word("kind", l.kind, {"tape", "level"});
    f.text("from", l.from);
    f.text("to", l.to);
    f.text_or_null("by", l.by, "of a level: its run, or its file and line");
    f.length_or_null("value", l.value_m);
    f.number_or_null("sd_mm", in_mm(l.sd_m));
    f.number_or_null("residual_mm", in_mm(l.residual_m));
    f.number_or_null("standardised", l.standardised);
    f.number_or_null("redundancy", l.redundancy);
    f.flag("used", l.used);
}

void describe(Fields& f, const ProveRun& r) {
    f.is("ProveRun");
    f.text("run", r.run);
    f.texts("points", r.points, "named ones, in order");
    f.texts("intermediate", r.intermediate);
    f.whole("setups", r.turns, "of the level");
    f.length_or_null("length", r.length_m, "of all its sights");
    f.length_or_null("imbalance", r.imbalance_m, "backsights less foresights");
    f.length_or_null("rise", r.rise_m, "from its first point to its last");
    f.number_or_null("sd_mm", in_mm(r.sd_m));
}

void describe(Fields& f, const ProveLoop::Member& member) {
    f.is("ProveLoopMember");
    f.text("from", member.from);
    f.text("to", member.to);
    f.text("by", member.by);
}

void describe(Fields& f, const ProveLoop& l) {
    f.is("ProveLoop");
    f.word("kind", l.is_tie ? "between-marks" : "loop", {"loop", "between-marks"});
    f.texts("points", l.points);
    f.number_or_null("closure_mm", in_mm(l.closure_m),
                     "levelled less 0, or less what the sheet heights differ by");
    f.number_or_null("sd_mm", in_mm(l.sd_m));
    f.length_or_null("length", l.length_m);
    f.or_null(l.turns.has_value()).whole("setups", l.turns.value_or(0), "of the level");
    f.number_or_null("allowed_mm", in_mm(l.allowed_m));
    f.text("rule", l.rule, "by which that is allowed");
    f.text("source", l.source, "of the rule");
    f.flag("fits", l.fits);
    f.text("says", l.says);
    f.records("members", l.members);
}

void describe(Fields& f, const ProveComponent& component) {
    f.is("ProveComponent");
    f.text("group", component.group);
    f.whole("figures", component.figures);
    f.number_or_null("redundancy", component.redundancy);
    f.number_or_null("ratio", component.ratio, "found over stated");
    f.number_or_null("ratio_sd", component.ratio_sd);
}

void describe(Fields& f, const ProveAnswer& a) {
    f.is("ProveAnswer");
    f.word("act", "prove", {"prove"});
    f.text("version", version());
    f.text("job", a.job);
    unit_field(f, a.unit, "of coordinates");
    f.number("confidence", a.confidence);
    f.record("verdict", a.verdict);
    f.whole("points_proven", a.proven);
    f.whole("points_in_doubt", a.in_doubt);
    f.whole("points_fail", a.fails);
    f.whole("points_to_lay", a.points.size() - a.laid.size());
    f.list("points", a.laid, [&](const ProvePoint& point) {
        f.record({}, ProvePointRow{point, a});
    });
    f.records("marks", a.marks);
    f.records("moves", a.moves);
    f.records("causes", a.causes);
    f.number_or_null("nothing_wrong", a.nothing_wrong);
    f.records("setups", a.setups);
    f.records("lines", a.lines);
    f.records("runs", a.runs, "of levels");
    f.records("loops", a.loops, "those that do not fit first");
    f.texts("loose", a.loose);
    f.record("fit", ProveFit{a});
    f.records("components", a.components);
    f.texts("notices", a.notices);
}

std::string to_json(const ProveAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts
