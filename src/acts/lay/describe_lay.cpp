#include "acts/lay/lay.hpp"
#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"

namespace layproof::acts {
namespace {

struct SetOutRow {
    const SetOut& of;
    const LayAnswer& answer;
};

struct LayStationRow {
    const LayStation& of;
    const LayAnswer& answer;
};

struct LaidLine {
    const lay::LineOffset& line;
    double off_m = 0.0;
};

struct TapeRow {
    const lay::TapeDistance& of;
    const LayAnswer& answer;
};

struct Deviation {
    const lay::PointVerdict& of;
};

const std::string& point_name(const LayAnswer& answer, int point) {
    return item(answer.points, static_cast<std::size_t>(point)).design.name;
}

}  // namespace

void describe(Fields& f, const lay::Limits& limits) {
    f.is("Limits");
    f.number_or_null("minus_mm", in_mm(limits.minus_m));
    f.number_or_null("plus_mm", in_mm(limits.plus_m));
}

void describe(Fields& f, const lay::LimitSource& source) {
    f.is("LimitSource");
    f.text("from", lay::to_word(source.origin));
    f.text_or_null("id", source.id);
    f.text("says", source.words);
    f.flag("from_memory", source.from_memory);
}

void describe(Fields& f, const lay::PointTolerance& tolerance) {
    f.is("LaidTolerance");
    f.number_or_null("plan_mm", in_mm(tolerance.plan_m));
    f.record("plan_source", tolerance.plan_source);
    f.record("height", tolerance.height);
    f.record("height_source", tolerance.height_source);
}

void describe(Fields& f, const lay::LineOffset& offset) {
    f.is("LineOffset");
    f.text("line", offset.name);
    f.length_or_null("along", offset.along_m);
    f.length_or_null("across", offset.across_m);
    f.text("side", offset.side);
}

void describe(Fields& f, const lay::CutFill& earthwork) {
    f.is("Earthwork");
    f.text("word", lay::to_word(earthwork.word));
    f.length("amount", earthwork.amount_m);
}

namespace {

void describe(Fields& f, const SetOutRow& row) {
    const bool is_set_out = row.of.figures.has_value();
    const lay::SettingOut& s = is_set_out ? *row.of.figures : sample<lay::SettingOut>();
    f.is("SettingOut");
    f.text("point", is_set_out ? s.point : item(row.answer.points, row.of.point).design.name);
    f.only_if(is_set_out).flag("at_instrument", s.at_instrument);
    f.number_or_null("direction_deg", in_deg(s.direction_rad), kDegreeDecimals,
                     "null alone: it cannot be set out from here");
    f.only_if(is_set_out).number_or_null("zenith_deg", in_deg(s.zenith_rad), kDegreeDecimals);
    f.only_if(is_set_out)
        .or_null(!s.at_instrument)
        .number("azimuth_deg", in_deg(s.azimuth_rad), kDegreeDecimals);
    f.only_if(is_set_out).length_or_null("horizontal", s.horizontal_m);
    f.only_if(is_set_out).length_or_null("slope", s.slope_m);
    f.only_if(is_set_out).length_or_null("height_difference", s.height_difference_m);
    f.only_if(is_set_out).record_or_null("earthwork", s.earthwork);
    f.only_if(is_set_out).or_null(s.grid.has_value()).text("grid", s.grid ? s.grid->words : "");
    f.only_if(is_set_out).records("offsets", s.offsets);
}

void describe(Fields& f, const LayStationRow& row) {
    f.is("LayStation");
    f.text("station", row.of.station.station);
    f.record("verdict", row.of.station.verdict);
    f.record("pose", row.of.station.pose);
    f.number("rod_height_mm", in_mm(row.of.rod_height_m));
    f.whole("sights_to_laid_points", row.of.laid);
    f.number_or_null("probability_holds", row.of.holds);
    f.flag("withheld", row.of.is_withheld, "nothing is set out: the station fails");
    f.list("setting_out", row.of.setting_out, [&](const SetOut& set_out) {
        f.record({}, SetOutRow{set_out, row.answer});
    });
}

void describe(Fields& f, const Deviation& deviation) {
    const lay::PointVerdict& v = deviation.of;
    f.is("Deviation");
    f.number_or_null("east_mm", in_mm(v.deviation_m.x()));
    f.number_or_null("north_mm", in_mm(v.deviation_m.y()));
    f.number_or_null("height_mm", in_mm(known(v.has_height, v.deviation_m.z())));
    f.number_or_null("along_mm", in_mm(v.along_m));
    f.number_or_null("across_mm", in_mm(v.across_m));
}

void describe(Fields& f, const LaidLine& laid) {
    f.is("LaidLine");
    f.text("line", laid.line.name);
    f.length_or_null("across", laid.line.across_m);
    f.number_or_null("off_mm", in_mm(laid.off_m));
}

void describe(Fields& f, const TapeRow& row) {
    f.is("TapeDistance");
    f.text("from", point_name(row.answer, row.of.from));
    f.text("to", point_name(row.answer, row.of.to));
    f.length_or_null("distance", row.of.distance_m);
    f.flag("diagonal", row.of.is_diagonal);
}

}  // namespace

void describe(Fields& f, const LaidReport& report) {
    const lay::PointReport& r = report.figures;
    const lay::PointVerdict& v = r.verdict;
    f.is("Laid");
    f.text("point", r.point);
    f.texts("stations", r.stations);
    f.word("word", station::to_word(v.word), kVerdictWords);
    f.or_null(v.is_judged).number("probability", v.probability);
    f.number_or_null("probability_plan", v.probability_plan);
    f.number_or_null("probability_height", v.probability_height);
    f.text("because", r.because);
    f.text("next", r.next);
    f.record("deviation", Deviation{v});
    f.record("expected", off_mm(v.expected_m, v.has_height));
    f.number_or_null("sd_plan_mm", in_mm(v.sd_plan_m));
    f.number_or_null("sd_height_mm", in_mm(v.sd_height_m));
    f.number_or_null("station_share", v.station_share);
    f.rows("lines", r.laid_offsets.size(), [&](std::size_t i) {
        f.record({}, LaidLine{item(r.laid_offsets, i), item(r.across_lines_m, i)});
    });
    f.or_null(r.design_grid.has_value()).text("grid", r.design_grid ? r.design_grid->words : "");
    f.text("move", r.move.words);
    f.record("tolerance", v.tolerance);
    f.number_or_null("accepted_plan_mm", in_mm(v.accepted_plan_m));
    f.whole("sights", r.laid.sights);
    f.flag("sights_disagree", r.laid.sights_disagree);
}

void describe(Fields& f, const RuleReport& rule) {
    const lay::RuleVerdict& r = rule.figures;
    f.is("LayRule");
    f.text("rule", lay::to_word(r.kind));
    f.text("what", rule.what);
    f.text("from", r.from);
    f.text("to", r.to);
    f.length_or_null("design", r.design_m);
    f.length_or_null("measured", r.measured_m);
    f.number_or_null("off_mm", in_mm(r.verdict.deviation_m));
    f.number_or_null("sd_mm", in_mm(r.verdict.sd_m));
    f.record("limits", r.verdict.limits);
    f.number_or_null("probability", r.verdict.probability);
    f.word("word", station::to_word(r.verdict.word), kVerdictWords);
    f.text("because", rule.because);
    f.text("tolerance_id", r.tolerance_id);
    f.text("source", r.source_words);
    f.flag("from_memory", r.from_memory);
}

void describe(Fields& f, const LayAnswer& answer) {
    f.is("LayAnswer");
    f.word("act", "lay", {"lay"});
    f.text("version", version());
    unit_field(f, answer.unit, "of coordinates and distances");
    f.number("confidence", answer.confidence);
    f.record_or_null("verdict", answer.verdict, "null while nothing is laid");
    f.text("rule", lay::kRuleWords);
    f.whole("points_laid", answer.laid.size());
    f.whole("points_proven", answer.proven);
    f.whole("points_in_doubt", answer.in_doubt);
    f.whole("points_fail", answer.fails);
    f.records("laid", answer.laid);
    f.records("causes", answer.causes);
    f.records("rules", answer.rules);
    f.list("stations", answer.stations, [&](const LayStation& station) {
        f.record({}, LayStationRow{station, answer});
    });
    f.list("tape", answer.tape, [&](const lay::TapeDistance& tape) {
        f.record({}, TapeRow{tape, answer});
    });
    f.texts("notices", answer.notices);
}

std::string to_json(const LayAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts
