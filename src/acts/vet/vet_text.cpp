#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "acts/vet/vet.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::percent;
using internal::small;
using internal::TextTable;
using internal::wrapped;
using station::Word;
using vet::MarkVerdict;
using vet::Sighting;

constexpr std::size_t kMostVetMarks = 12;
constexpr std::size_t kMostVetCauses = 4;
constexpr double kSmallVetCause = 0.02;

std::string off_text(const std::optional<double>& value, const measure::LengthStyle& style) {
    if (!value) return "-";
    return std::abs(*value) < 1.0 ? internal::signed_small(*value, style)
                                  : measure::format_length(*value, style);
}

std::string marks_text(const VetAnswer& answer) {
    const auto& marks = answer.figures.marks;
    std::vector<std::size_t> order(marks.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    if (!answer.explain && order.size() > kMostVetMarks) {
        std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
            return marks[a].probability < marks[b].probability;
        });
        order.resize(kMostVetMarks);
    }
    TextTable table(
        {"Mark", "", "probability", "off east", "off north", "off height", "detectable"});
    for (const std::size_t i : order) {
        const MarkVerdict& m = marks[i];
        table.add({m.name, std::string(station::to_word(m.word)), percent(m.probability),
                   off_text(m.off_east_m, answer.style), off_text(m.off_north_m, answer.style),
                   off_text(m.off_height_m, answer.style),
                   m.detectable_m ? small(*m.detectable_m, answer.style) : std::string("-")});
    }
    std::string out = table.to_text();
    if (order.size() < marks.size())
        out += fmt::format("  and {} more, more probably within tolerance; --explain lists all\n",
                           marks.size() - order.size());
    for (const std::size_t i : order)
        if (marks[i].word != Word::proven || answer.explain)
            out += wrapped(fmt::format("{}: {} {}", marks[i].name, answer.marks[i].because,
                                       answer.marks[i].next),
                           2);
    return out;
}

std::string causes_text(const VetAnswer& answer) {
    std::string out = "What may be wrong:\n";
    std::size_t shown = 0;
    const auto& explanations = answer.figures.explanations;
    for (std::size_t i = 0; i < explanations.size(); ++i) {
        const bool none = explanations[i].members.front().trap == vet::Trap::nothing_wrong;
        if (!answer.explain && !none &&
            (shown >= kMostVetCauses || explanations[i].probability < kSmallVetCause ||
             !explanations[i].members.back().is_seen))
            continue;
        if (!none) ++shown;
        out += wrapped(fmt::format("{}  {}", percent(explanations[i].probability),
                                   answer.explanations[i].says),
                       2);
    }
    return out;
}

std::string unseen_text(const VetAnswer& answer) {
    std::string out;
    for (std::size_t i = 0; i < answer.figures.traps.size(); ++i) {
        const vet::TrapView& view = answer.figures.traps[i];
        if (view.sighting == Sighting::seen || view.sighting == Sighting::impossible) continue;
        if (!answer.explain && view.sighting != Sighting::unseen) continue;
        out += wrapped(fmt::format("{} ({}): {}", to_word(view.trap), percent(view.probability),
                                   answer.traps[i].says),
                       2);
    }
    return out.empty() ? out : "Not shown by these data:\n" + out;
}

std::string measured_text(const VetAnswer& answer) {
    TextTable table({"Measured", "from", "to", "misfit", "standardised", "checked"});
    for (const vet::Measured& m : answer.figures.measured) {
        const bool angle = m.kind == "direction" || m.kind == "zenith";
        table.add({m.kind, m.from, m.to,
                   angle ? fmt::format("{:.1f}\"", m.misfit / measure::kRadPerArcsec)
                         : internal::signed_small(m.misfit, answer.style),
                   fmt::format("{:.1f}", m.standardised),
                   fmt::format("{:.0f} %", 100.0 * m.redundancy)});
    }
    return table.is_empty() ? "" : table.to_text();
}

/// Lists that do not stand as the first does; all of them when figures were asked for.
std::string fits_text(const VetAnswer& answer) {
    std::string out;
    for (const VetFit& fit : answer.fits) {
        if (fit.is_alike && !answer.explain) continue;
        out += wrapped(fit.says, 2);
        if (!answer.explain) continue;
        for (std::size_t i = 0; i < fit.marks.size() && i < fit.held.misfits_m.size(); ++i)
            out += fmt::format("    {}: {} {}\n", fit.marks[i],
                               internal::signed_small(fit.held.misfits_m[i].x(), answer.style),
                               internal::signed_small(fit.held.misfits_m[i].y(), answer.style));
    }
    return out.empty() ? out : "Lists on the first:\n" + out;
}

}  // namespace

std::string to_text(const VetAnswer& answer) {
    const auto& marks = answer.figures.marks;
    const auto number = [&](Word word) {
        return std::count_if(marks.begin(), marks.end(),
                             [&](const MarkVerdict& m) { return m.word == word; });
    };
    std::string out = fmt::format("Control: {}   ({} proven, {} in doubt, {} fail)\n",
                                  internal::shouted(answer.verdict.word), number(Word::proven),
                                  number(Word::in_doubt), number(Word::fails));
    out += wrapped(answer.verdict.because, 2);
    out += wrapped("Next: " + answer.verdict.next, 2);
    for (const VetMatch& match : answer.matches) out += wrapped(match.says, 2);
    out += "\n" + marks_text(answer);
    out += "\n" + causes_text(answer);
    const std::string fits = fits_text(answer);
    if (!fits.empty()) out += "\n" + fits;
    const std::string unseen = unseen_text(answer);
    if (!unseen.empty()) out += "\n" + unseen;
    if (answer.explain) {
        const std::string measured = measured_text(answer);
        if (!measured.empty()) out += "\n" + measured;
    }
    out += fmt::format("\nTolerance {} in plan, {} in height; proven at {}.\n",
                       internal::tolerance(answer.tolerance_plan_m, answer.style),
                       internal::tolerance(answer.tolerance_height_m, answer.style),
                       percent(answer.confidence));
    for (const std::string& notice : answer.notices) out += wrapped("Note: " + notice, 0);
    out += wrapped(internal::kCaution, 0);
    return out;
}

}  // namespace layproof::acts
