#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"
#include "acts/vet/vet_tools.hpp"

namespace layproof::acts {

void describe(Fields& f, const Finding& finding) {
    const auto in_unit = [&](double value) {
        return finding.is_angle ? in_arcsec(value) : in_mm(value);
    };
    f.is("ToolFinding");
    f.text("finding", finding.what);
    f.word("word", station::to_word(finding.word), kVerdictWords);
    f.number_or_null("probability", finding.probability, "of taking less than its share");
    f.word("unit", finding.is_angle ? "arcsec" : "mm", {"arcsec", "mm"});
    f.number("value", in_unit(finding.value), 4);
    f.or_null(!finding.limit).number("sd", in_unit(finding.sd), 4);
    f.or_null(finding.limit.has_value())
        .number("limit", in_unit(finding.limit.value_or(0.0)), 4, "of a scatter");
    f.whole("dof", finding.dof);
    f.flag("real", finding.is_real, "it differs from 0");
    f.number_or_null("at_radius_mm", in_mm(finding.at_radius), 3, "what it does to a laid point");
    f.text("says", finding.says);
    f.text("next", finding.next);
}

void describe(Fields& f, const ToolAnswer& answer) {
    f.is("ToolsAnswer");
    f.word("act", "vet", {"vet"});
    f.word("tool", answer.tool, {"instrument", "rod"});
    f.text("version", version());
    unit_field(f, answer.unit);
    f.number("confidence", answer.confidence, kAllDecimals);
    f.record("verdict", answer.verdict);
    f.length("radius", answer.radius_m);
    f.number("tolerance_plan_mm", in_mm(answer.tolerance_plan_m), 3);
    f.records("findings", answer.findings);
    f.texts("notices", answer.notices);
}

std::string to_json(const ToolAnswer& answer) {
    return json_document(answer);
}

}  // namespace layproof::acts
