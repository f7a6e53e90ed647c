#include <fmt/format.h>

#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "acts/vet/vet_tools.hpp"

namespace layproof::acts {
namespace {

using internal::wrapped;

}  // namespace

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
