#include <algorithm>
#include <cmath>

#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"
#include "acts/vet/vet.hpp"

namespace layproof::acts {
namespace {

/// A thousandth of a millimetre, of an arc-second, of a part in a million.
constexpr int kFine = 3;
/// Of a ratio of lengths: a micrometre in a kilometre.
constexpr int kRatioDecimals = 9;
constexpr int kTurnDecimals = 7;

double turn_deg(double turn_rad) {
    return in_deg(measure::wrap_pi(turn_rad));
}

struct MarkRow {
    const vet::MarkVerdict& of;
    const VetMark& words;
};

struct ExplanationRow {
    const vet::Explanation& of;
    const VetExplanation& words;
};

struct TrapRow {
    const vet::TrapView& of;
    const VetTrap& words;
};

struct FitMisfit {
    const VetFit& fit;
    std::size_t mark = 0;
};

}  // namespace

void describe(Fields& f, const vet::Amount& amount) {
    f.is("VetEstimate");
    const auto mm = [&](std::string_view name, const std::optional<double>& metres) {
        f.only_if(metres.has_value()).number_or_null(name, in_mm(metres), kFine);
    };
    mm("east_mm", amount.east_m);
    mm("north_mm", amount.north_m);
    mm("height_mm", amount.height_m);
    mm("length_mm", amount.length_m);
    f.only_if(amount.ratio.has_value()).number_or_null("ratio", amount.ratio, kRatioDecimals);
    f.only_if(amount.turn_rad.has_value())
        .number_or_null("turn_deg", turn_deg(amount.turn_rad.value_or(0.0)), kTurnDecimals);
    mm("sd_mm", amount.sd_m);
}

void describe(Fields& f, const vet::Member& member) {
    f.is("VetMember");
    f.text("cause", to_word(member.trap));
    f.texts("subjects", member.subjects);
    f.text_or_null("list", member.list);
    f.number("probability", member.probability);
    f.number_or_null("log_evidence", member.log_evidence, 3);
    f.flag("seen", member.is_seen);
    f.record("estimate", member.amount);
}

namespace {

void describe(Fields& f, const ExplanationRow& row) {
    const vet::Member& leading = item(row.of.members, 0);
    f.is("VetExplanation");
    f.text("cause", row.words.cause, "\"A|B\": the data cannot split them");
    f.texts("subjects", row.words.subjects);
    f.text_or_null("list", leading.list, "null: none, or all");
    f.number("probability", row.of.probability);
    f.record("estimate", leading.amount);
    f.text("says", row.words.says);
    f.text("next", row.words.next);
    f.flag("is_pair", row.of.is_pair, "the members hold together");
    f.records("members", row.of.members);
}

void describe(Fields& f, const TrapRow& row) {
    const vet::TrapView& t = row.of;
    const bool is_ratio = t.trap == vet::Trap::grid_for_ground;
    f.is("VetTrap");
    f.text("trap", to_word(t.trap));
    f.number("prior", t.prior);
    f.number("probability", t.probability);
    f.word("sighting", to_word(t.sighting), {"seen", "weak", "cannot be seen", "does not apply"});
    f.text_or_null("weakest", t.weakest, "mark at which it shows least");
    f.flag("hides_on_all_lists", t.hides_on_all);
    f.number_or_null("noncentrality", t.noncentrality, 2);
    f.or_null(!is_ratio).number_or_null("detectable_mm", in_mm(t.detectable), 2);
    f.or_null(is_ratio && t.detectable)
        .number("detectable_ppm", t.detectable.value_or(0.0) * 1e6, 2);
    f.text("says", row.words.says);
}

void describe(Fields& f, const MarkRow& row) {
    const vet::MarkVerdict& m = row.of;
    const double variance = std::max(0.5 * m.off_covariance.trace(), 0.0);
    f.is("VetMark");
    f.text("mark", m.name);
    f.length_or_null("east", m.east_m, "as the first list that has it says");
    f.length_or_null("north", m.north_m);
    f.length_or_null("height", m.height_m);
    f.word("word", station::to_word(m.word), kVerdictWords);
    f.number("probability", m.probability);
    f.number_or_null("probability_plan", m.probability_plan);
    f.number_or_null("probability_height", m.probability_height);
    f.text("because", row.words.because);
    f.text("next", row.words.next);
    f.record("off", OffMm{m.off_east_m, m.off_north_m, m.off_height_m, kFine},
             "the ground less the list");
    f.or_null(m.off_east_m.has_value()).number("sd_plan_mm", in_mm(std::sqrt(variance)), kFine);
    f.or_null(m.off_height_m.has_value()).number("sd_height_mm", in_mm(m.sd_height_m), kFine);
    f.whole("lists", m.lists, "that have it");
    f.whole("measured", m.measured, "measurements that hold it in plan");
    f.whole("measured_height", m.measured_height);
    f.number_or_null("detectable_mm", in_mm(m.detectable_m), kFine,
                     "smallest shift that is found; null: not held");
    f.number_or_null("detectable_height_mm", in_mm(m.detectable_height_m), kFine);
}

void describe(Fields& f, const FitMisfit& row) {
    const auto at = [&](const frame::SiteFit& fit, int axis) {
        const bool is_there = row.mark < fit.misfits_m.size();
        return is_there ? std::optional<double>(in_mm(fit.misfits_m[row.mark][axis]))
                        : std::nullopt;
    };
    f.is("VetFitMisfit");
    f.text("mark", item(row.fit.marks, row.mark));
    f.number_or_null("east_mm", at(row.fit.held, 0), kFine, "first list less the list laid on it");
    f.number_or_null("north_mm", at(row.fit.held, 1), kFine);
    f.number_or_null("free_east_mm", at(row.fit.free, 0), kFine, "with the scale free");
    f.number_or_null("free_north_mm", at(row.fit.free, 1), kFine);
}

}  // namespace

void describe(Fields& f, const vet::Measured& m) {
    const bool is_angle = m.kind == "direction" || m.kind == "zenith";
    f.is("VetMeasured");
    f.word("kind", m.kind, {"tape", "level", "direction", "zenith", "distance"});
    f.text("from", m.from);
    f.text("to", m.to);
    f.or_null(!is_angle).number("misfit_mm", in_mm(m.misfit), kFine);
    f.or_null(is_angle).number("misfit_arcsec", in_arcsec(m.misfit), kFine);
    f.number_or_null("standardised", m.standardised, 4);
    f.number_or_null("redundancy", m.redundancy, 4);
}

void describe(Fields& f, const vet::Assignment& assignment) {
    f.is("VetAssignment");
    f.whole("marks", assignment.pairs.size());
    f.flag("mirrored", assignment.mirrored);
    f.number_or_null("scale", assignment.scale, kRatioDecimals);
    f.number_or_null("turn_deg", turn_deg(assignment.turn_rad), kTurnDecimals);
    f.number_or_null("rms_mm", in_mm(assignment.rms_m), kFine);
}

void describe(Fields& f, const VetMatch& match) {
    f.is("VetMatch");
    f.text("list", match.list);
    f.word("state", to_word(match.figures.state), {"matched", "ambiguous", "none"});
    f.or_null(match.figures.state != vet::MatchState::none).record("best", match.figures.best);
    f.records("rivals", match.figures.rivals);
    f.text("says", match.says);
}

void describe(Fields& f, const VetScale& scale) {
    f.is("VetScale");
    f.word("kind", scale.kind, {"none", "foot", "unit", "factor", "unknown"});
    f.text_or_null("frame", scale.frame, "coordinate system it takes");
    f.text("says", scale.says);
    f.number_or_null("ratio", scale.ratio, kRatioDecimals);
    f.number_or_null("off_ppm", scale.off_ppm, kFine, "the scale seen less this one");
    f.number("probability", scale.probability);
}

void describe(Fields& f, const VetFit& fit) {
    const bool is_determined = fit.held.state == frame::PlanFitState::determined;
    const auto found = [&](double value) { return known(is_determined, value); };
    f.is("VetFit");
    f.text("list", fit.list);
    f.flag("mirrored", fit.is_mirrored, "its east was turned round first");
    f.flag("alike", fit.is_alike, "stands as the first list does");
    f.number_or_null("turn_deg", found(turn_deg(fit.held.rotation_rad)), kTurnDecimals,
                     "azimuth of its north in the first");
    f.number_or_null("turn_sd_arcsec", found(in_arcsec(fit.held.sd_rotation_rad)), kFine);
    f.length_or_null("shift_east", fit.shift_m.x(), "of the middle of its marks");
    f.length_or_null("shift_north", fit.shift_m.y());
    f.length_or_null("origin_east", fit.held.origin_m.x(), "of its zero in the first");
    f.length_or_null("origin_north", fit.held.origin_m.y());
    f.number_or_null("height_shift_mm", in_mm(fit.held.height_shift_m), kFine);
    f.number_or_null("scatter_mm", found(in_mm(fit.held.s0_m)), kFine,
                     "of one coordinate, scale 1");
    f.number_or_null("free_scatter_mm", found(in_mm(fit.free.s0_m)), kFine);
    f.number_or_null("scale", found(fit.free.free_scale), kRatioDecimals,
                     "as its marks would like it");
    f.number_or_null("scale_sd_ppm", found(fit.free.sd_scale_ppm), kFine);
    f.rows("misfits", fit.marks.size(), [&](std::size_t i) { f.record({}, FitMisfit{fit, i}); });
    f.records("scales", fit.scales, "most probable first");
    f.texts("warnings", fit.held.warnings);
    f.text("says", fit.says);
}

void describe(Fields& f, const VetList& list) {
    f.is("VetList");
    f.text("list", list.name);
    f.word("kind", list.is_drawing ? "drawing" : "sheet", {"sheet", "drawing"});
    f.text_or_null("revision", list.revision);
    f.whole("marks", list.marks);
    unit_or_null_field(f, list.unit);
}

void describe(Fields& f, const vet::ListDifference& difference) {
    f.is("VetDifference");
    f.text("list", difference.list);
    f.text("mark", difference.mark);
    f.number_or_null("east_mm", in_mm(difference.east_m), kFine);
    f.number_or_null("north_mm", in_mm(difference.north_m), kFine);
    f.number_or_null("height_mm", in_mm(difference.height_m), kFine);
}

void describe(Fields& f, const frame::GridLine& line) {
    f.is("VetGridLine");
    f.text("line", line.name);
    f.length_or_null("east_1", line.start_m.x());
    f.length_or_null("north_1", line.start_m.y());
    f.length_or_null("east_2", line.end_m.x());
    f.length_or_null("north_2", line.end_m.y());
}

void describe(Fields& f, const VetAnswer& answer) {
    const vet::Vetting& v = answer.figures;
    f.is("VetAnswer");
    f.word("act", "vet", {"vet"});
    f.text("version", version());
    unit_field(f, answer.unit, "of coordinates");
    f.number("confidence", answer.confidence, kAllDecimals);
    f.record("verdict", answer.verdict);
    f.number("tolerance_plan_mm", in_mm(answer.tolerance_plan_m), kFine);
    f.number("tolerance_height_mm", in_mm(answer.tolerance_height_m), kFine);
    f.records("lists", answer.lists, "the one to lay from first");
    f.rows("marks", v.marks.size(), [&](std::size_t i) {
        f.record({}, MarkRow{item(v.marks, i), item(answer.marks, i)});
    });
    const auto explanation = [&](std::size_t i) {
        f.record({}, ExplanationRow{item(v.explanations, i), item(answer.explanations, i)});
    };
    f.records("job_causes", answer.job_causes, "by all sights, where there are some");
    f.rows("explanations", v.explanations.size(), explanation, "most probable first");
    f.number("explanations_others", v.others, "probability of what is not listed");
    f.number("frame_trouble", v.frame_trouble, "that some list is in another frame");
    f.rows("traps", v.traps.size(), [&](std::size_t i) {
        f.record({}, TrapRow{item(v.traps, i), item(answer.traps, i)});
    });
    f.records("measured", v.measured);
    f.records("differences", v.differences, "less the first list");
    f.texts("doubled_names", v.doubled_names);
    f.list("one_place", v.one_place, [&](const std::pair<std::string, std::string>& names) {
        f.pair({}, [&] {
            f.text({}, names.first);
            f.text({}, names.second);
        });
    });
    f.records("matches", answer.matches);
    f.records("fits", answer.fits, "each further list on the first");
    f.records("grid", answer.grid_lines, "building grid laid on the site");
    f.record("global_test", GlobalTestRow{v.global_test, 4});
    f.texts("notices", answer.notices);
}

std::string to_json(const VetAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts
