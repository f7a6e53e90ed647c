#include <fmt/format.h>

#include "acts/shared/json.hpp"
#include "acts/shared/text_table.hpp"
#include "acts/shared/version.hpp"
#include "acts/shared/words.hpp"
#include "acts/vet/vet_tools.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::fixed;
using internal::Json;
using internal::wrapped;
using station::Word;

Json finding_json(const Finding& f) {
    const double factor = f.is_angle ? 1.0 / measure::kRadPerArcsec : internal::kMillimetre;
    return {{"finding", f.what},
            {"word", station::to_word(f.word)},
            {"probability", fixed(f.probability)},
            {"unit", f.is_angle ? "arcsec" : "mm"},
            {"value", fixed(f.value * factor, 4)},
            {"sd", f.limit ? Json(nullptr) : fixed(f.sd * factor, 4)},
            {"limit", fixed(f.limit, factor, 4)},
            {"dof", f.dof},
            {"real", f.is_real},
            {"at_radius_mm", fixed(f.at_radius, internal::kMillimetre, 3)},
            {"says", f.says},
            {"next", f.next}};
}

}  // namespace

std::string to_json(const ToolAnswer& answer) {
    Json out{{"act", "vet"},
             {"tool", answer.tool},
             {"version", version()},
             {"unit", measure::to_word(answer.unit)},
             {"confidence", answer.confidence},
             {"verdict", internal::verdict_json(answer.verdict)},
             {"radius", fixed(answer.radius_m / measure::metres_per(answer.unit))},
             {"tolerance_plan_mm", fixed(answer.tolerance_plan_m * internal::kMillimetre, 3)},
             {"findings", internal::list(answer.findings, finding_json)},
             {"notices", answer.notices}};
    return out.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string to_text(const ToolAnswer& answer) {
    std::string out = fmt::format("{}: {}\n", internal::capital(answer.tool),
                                  internal::shouted(answer.verdict.word));
    out += wrapped(answer.verdict.because, 2);
    out += wrapped("Next: " + answer.verdict.next, 2);
    out += "\n";
    internal::TextTable table({"Check", "", "within its share", "lays off by"});
    for (const Finding& f : answer.findings)
        table.add({f.what, std::string(station::to_word(f.word)),
                   f.probability ? internal::percent(*f.probability) : std::string("-"),
                   f.at_radius ? internal::small(std::abs(*f.at_radius), answer.style)
                               : std::string("-")});
    out += table.to_text();
    out += "\n";
    for (const Finding& f : answer.findings) out += wrapped(f.says + " " + f.next, 2);
    out += fmt::format("\nAt {}; one error may use a third of {}.\n",
                       internal::rough(answer.radius_m, answer.style),
                       internal::tolerance(answer.tolerance_plan_m, answer.style));
    for (const std::string& notice : answer.notices) out += wrapped("Note: " + notice, 0);
    return out;
}

}  // namespace layproof::acts
