#include "acts/vet/vet_words_internal.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acts/shared/words.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

using measure::LengthStyle;
using station::Word;
using vet::MarkVerdict;
using vet::Member;
using vet::Sighting;
using vet::Trap;
using vet::TrapView;

std::string subject(const Member& m) {
    return m.subjects.empty() ? std::string("a mark") : m.subjects.front();
}

std::string list_of(const Member& m) {
    return m.list.empty() ? std::string("every list") : "list " + m.list;
}

std::string plan_amount(const Member& m, const LengthStyle& style) {
    return toward({m.amount.east_m.value_or(0.0), m.amount.north_m.value_or(0.0)}, style);
}

std::string turn_words(double turn_rad) {
    const double wrapped = measure::wrap_pi(turn_rad);
    return fmt::format("{} {}", measure::format_dms(std::abs(wrapped), 0),
                       wrapped < 0.0 ? "to the left" : "to the right");
}

std::string length_words(double length_m, const LengthStyle& style) {
    return std::abs(length_m) < 1.0 ? small(length_m, style) : rough(length_m, style);
}

std::string far(const Member& m, const LengthStyle& style) {
    const Eigen::Vector2d off(m.amount.east_m.value_or(0.0), m.amount.north_m.value_or(0.0));
    return fmt::format("{} {}", length_words(off.norm(), style),
                       compass(std::atan2(off.x(), off.y())));
}

std::string clause(const Member& m, const LengthStyle& style) {
    switch (m.trap) {
        case Trap::nothing_wrong:
            return "nothing is wrong";
        case Trap::mark_off:
            if (!m.is_seen) return fmt::format("{} may stand elsewhere", subject(m));
            return fmt::format("{} stands {} of where the paper has it", subject(m),
                               plan_amount(m, style));
        case Trap::mark_height_off:
            if (!m.is_seen) return fmt::format("{} may have another height", subject(m));
            return fmt::format("{} stands {} {} than the paper has it", subject(m),
                               small(std::abs(m.amount.height_m.value_or(0.0)), style),
                               m.amount.height_m.value_or(0.0) < 0.0 ? "lower" : "higher");
        case Trap::entry_wrong:
            if (!m.is_seen) return fmt::format("{} may have {} wrong", list_of(m), subject(m));
            if (!m.amount.east_m)
                return fmt::format("{} has the height of {} wrong by {}", list_of(m), subject(m),
                                   small(std::abs(m.amount.height_m.value_or(0.0)), style));
            return fmt::format("{} has {} {} of its place", list_of(m), subject(m), far(m, style));
        case Trap::other_revision:
            return fmt::format("{} has {} from another revision", list_of(m), listed(m.subjects));
        case Trap::names_exchanged:
            return fmt::format("the names {} are exchanged on {}", listed(m.subjects), list_of(m));
        case Trap::duplicate_name:
            return fmt::format("{} has a name twice: {} fits best", list_of(m), listed(m.subjects));
        case Trap::one_place:
            return fmt::format("{} have one place on the paper", listed(m.subjects));
        case Trap::axes_exchanged:
            return fmt::format("{} has east and north exchanged", list_of(m));
        case Trap::mirrored:
            return fmt::format("{} is a mirror image", list_of(m));
        case Trap::turned:
            if (!m.is_seen) return fmt::format("{} may be turned against the drawing", list_of(m));
            return fmt::format("{} is turned {} against the other list", list_of(m),
                               turn_words(m.amount.turn_rad.value_or(0.0)));
        case Trap::shifted:
            if (!m.is_seen) return fmt::format("{} may be shifted against the drawing", list_of(m));
            return fmt::format("{} is shifted {} against the other list", list_of(m),
                               far(m, style));
        case Trap::wrong_unit:
            return fmt::format("{} is written in {}", list_of(m),
                               m.amount.ratio.value_or(1.0) < 1.0 ? "metres where feet were taken"
                                                                  : "feet where metres were taken");
        case Trap::foot_kind:
            return fmt::format("{} is in the other kind of foot (US survey or international)",
                               list_of(m));
        case Trap::grid_for_ground:
            return fmt::format(
                "{} {} {:.0f} ppm longer than the {} (grid for ground, or another scale)",
                m.list.empty() ? std::string("measured lengths are") : list_of(m) + " is",
                m.amount.ratio.value_or(1.0) < 1.0 ? "by minus" : "by",
                std::abs(m.amount.ratio.value_or(1.0) - 1.0) * 1e6,
                m.list.empty() ? "lists'" : "other list");
        case Trap::tape_wrong:
            return fmt::format("the tape from {} is {} too {}", subject(m),
                               small(std::abs(m.amount.length_m.value_or(0.0)), style),
                               m.amount.length_m.value_or(0.0) < 0.0 ? "short" : "long");
        case Trap::level_wrong:
            return fmt::format("the level from {} is wrong by {}", subject(m),
                               small(std::abs(m.amount.height_m.value_or(0.0)), style));
        case Trap::sight_wrong:
            return fmt::format("the sight {} was {} off (rod not plumb, or not on the mark)",
                               subject(m), plan_amount(m, style));
        case Trap::sight_height_wrong:
            return fmt::format("the rod height of the sight {} is wrong by {}", subject(m),
                               small(std::abs(m.amount.height_m.value_or(0.0)), style));
        case Trap::prism_constant_wrong:
            return fmt::format("the prism constant is wrong by {}",
                               small(std::abs(m.amount.length_m.value_or(0.0)), style));
    }
    return "";
}

std::string remedy(const Member& m) {
    switch (m.trap) {
        case Trap::nothing_wrong:
            return "";
        case Trap::mark_off:
        case Trap::mark_height_off:
            return fmt::format("Do not use {}; ask for it to be set again, or for new values of it",
                               subject(m));
        case Trap::entry_wrong:
            return fmt::format("Ask who wrote {} for the values of {}", list_of(m), subject(m));
        case Trap::other_revision:
            return fmt::format("Ask which revision holds for {}", listed(m.subjects));
        case Trap::names_exchanged:
            return fmt::format("Put the names {} right on {}", listed(m.subjects), list_of(m));
        case Trap::duplicate_name:
            return fmt::format("Ask which of the rows holds, and strike the other");
        case Trap::one_place:
            return fmt::format("Ask for the values of {}: one of them is a copy",
                               listed(m.subjects));
        case Trap::axes_exchanged:
            return fmt::format("Read {} with its columns the other way round (a column map does)",
                               list_of(m));
        case Trap::mirrored:
            return fmt::format("Ask for {} again, with east counting to the east", list_of(m));
        case Trap::turned:
        case Trap::shifted:
            return "Ask which frame holds; lay nothing from both lists at once";
        case Trap::wrong_unit:
            return fmt::format("Give the right unit of {}", list_of(m));
        case Trap::foot_kind:
            return "Ask in which foot each list is written, and state it in the file";
        case Trap::grid_for_ground:
            return "Ask for the combined factor, and work with it";
        case Trap::tape_wrong:
            return fmt::format("Tape {} again", subject(m));
        case Trap::level_wrong:
            return fmt::format("Level {} again", subject(m));
        case Trap::sight_wrong:
        case Trap::sight_height_wrong:
            return fmt::format("Sight {} again, the rod set up anew", subject(m));
        case Trap::prism_constant_wrong:
            return "Check the constant of the prism: layproof vet instrument";
    }
    return "";
}

std::string cause_word(const vet::Explanation& e) {
    if (e.is_pair) return std::string(to_word(e.members.front().trap));
    std::vector<std::string> words;
    for (const Member& m : e.members) {
        const std::string word(to_word(m.trap));
        if (std::find(words.begin(), words.end(), word) == words.end()) words.push_back(word);
    }
    return fmt::format("{}", fmt::join(words, "|"));
}

VetExplanation words_of(const vet::Explanation& e, const LengthStyle& style) {
    VetExplanation out;
    out.cause = cause_word(e);
    std::string says;
    for (std::size_t i = 0; i < e.members.size(); ++i) {
        if (i > 0) says += e.is_pair ? ", and " : ", or ";
        says += clause(e.members[i], style);
        for (const std::string& s : e.members[i].subjects)
            if (std::find(out.subjects.begin(), out.subjects.end(), s) == out.subjects.end())
                out.subjects.push_back(s);
    }
    out.says = capital(says) + ".";
    if (!e.is_pair && !e.members.front().is_seen)
        out.says += " These data do not show it either way.";
    const std::string todo = remedy(e.members.front());
    out.next = todo.empty() ? "" : todo + ".";
    return out;
}

/// What it would take.
std::string showing(Trap trap) {
    switch (trap) {
        case Trap::nothing_wrong:
        case Trap::duplicate_name:
        case Trap::one_place:
            return "";
        case Trap::mark_off:
            return "tapes to at least two other marks at a wide angle, or sights to it and three "
                   "others from one set-up";
        case Trap::mark_height_off:
            return "levels to two other marks, or zenith angles from one set-up";
        case Trap::entry_wrong:
            return "a second list of the same marks, and something measured on the ground";
        case Trap::other_revision:
            return "the sheets of both revisions, side by side";
        case Trap::names_exchanged:
            return "tapes or sights from both marks to a third that lies unevenly to them";
        case Trap::axes_exchanged:
        case Trap::mirrored:
            return "sights to three marks, which tell left from right (tapes do not), or a second "
                   "list";
        case Trap::turned:
            return "a second list in the frame of the drawing, with two common marks; nothing "
                   "measured between marks can show it";
        case Trap::shifted:
            return "a second list in the frame of the drawing; nothing measured between marks can "
                   "show it";
        case Trap::wrong_unit:
            return "any one length measured between two marks";
        case Trap::foot_kind:
            return "a second list written with its own foot and large coordinates; 2 ppm is far "
                   "below anything measured on a site, so ask who made the sheet";
        case Trap::grid_for_ground:
            return "lengths measured over a longer base, or the combined factor from the sheet's "
                   "maker";
        case Trap::tape_wrong:
            return "a second tape or a sight over the same marks";
        case Trap::level_wrong:
            return "closing the levels on a third mark";
        case Trap::sight_wrong:
        case Trap::sight_height_wrong:
            return "a second sight to the same mark, the rod set up anew";
        case Trap::prism_constant_wrong:
            return "a tape along a sight, or three marks in line: layproof vet instrument";
    }
    return "";
}

std::string typical(Trap trap, const LengthStyle& style) {
    const auto sizes = vet::prior_of(trap).sizes;
    if (sizes.empty()) return "it";
    const double size = sizes[sizes.size() / 2];
    return trap == Trap::grid_for_ground ? fmt::format("{:.0f} ppm", size * 1e6)
                                         : small(size, style);
}

std::string trap_says(const TrapView& view, const LengthStyle& style) {
    switch (view.sighting) {
        case Sighting::seen:
            if (view.trap == Trap::nothing_wrong) return "";
            return view.hides_on_all ? fmt::format(
                                           "It would be seen on one list. On all of them at "
                                           "once it takes {}.",
                                           showing(view.trap))
                                     : "It would be seen.";
        case Sighting::weak:
            return fmt::format(
                "{} would show faintly{}; it takes {}.", capital(typical(view.trap, style)),
                view.weakest.empty() ? "" : " at " + view.weakest, showing(view.trap));
        case Sighting::unseen:
            return fmt::format("Cannot be seen from these data{}; it takes {}.",
                               view.weakest.empty() ? "" : " at " + view.weakest,
                               showing(view.trap));
        case Sighting::impossible:
            return "";
    }
    return "";
}

VetMark mark_words(const MarkVerdict& mark, const VetAnswer& answer) {
    VetMark out;
    const LengthStyle& style = answer.style;
    const vet::Explanation* against =
        mark.against >= 0 ? &answer.figures.explanations[static_cast<std::size_t>(mark.against)]
                          : nullptr;
    const VetExplanation* words =
        mark.against >= 0 ? &answer.explanations[static_cast<std::size_t>(mark.against)] : nullptr;
    const bool named = against != nullptr && against->members.front().trap != Trap::nothing_wrong;
    const bool plan_held = !mark.east_m || mark.detectable_m;
    const bool height_held = !mark.height_m || mark.detectable_height_m;
    if (mark.word == Word::proven) {
        out.because = fmt::format(
            "{} within tolerance; a shift of {} would have been found.", percent(mark.probability),
            small(mark.detectable_m.value_or(mark.detectable_height_m.value_or(0.0)), style));
        out.next = "Lay from it.";
        return out;
    }
    if (mark.word == Word::fails) {
        out.because =
            named ? words->says
                  : fmt::format("It is within tolerance with {} only.", percent(mark.probability));
        out.next = named && !words->next.empty() ? words->next : "Do not use it.";
        return out;
    }
    if (mark.measured == 0 && mark.measured_height == 0) {
        out.because = "Nothing was measured to it: paper alone proves no mark.";
        out.next = "Tape it to two other marks, or sight it with three others from one set-up.";
    } else if (!plan_held) {
        out.because = "What was measured does not hold it in every direction.";
        out.next = "Tape it to another mark across the line of the first, or sight it.";
    } else if (!height_held) {
        out.because = mark.measured_height == 0 ? "No height was measured to it."
                                                : "What was measured does not hold its height.";
        out.next = "Level it to another mark.";
    } else if (named && against->probability > 0.02) {
        out.because = fmt::format("{} within tolerance. {} ({})", percent(mark.probability),
                                  words->says, percent(against->probability));
        out.next = words->next;
    } else {
        out.because =
            fmt::format("{} within tolerance: it is known too loosely.", percent(mark.probability));
        out.next = "Measure more to it: a tape or a sight with the rod on its bipod.";
    }
    return out;
}

void verdict(VetAnswer& answer) {
    const vet::Vetting& v = answer.figures;
    Verdict& out = answer.verdict;
    out.word = v.word;
    out.probability = v.probability;
    int proven = 0;
    int fails = 0;
    for (const MarkVerdict& mark : v.marks) {
        proven += mark.word == Word::proven ? 1 : 0;
        fails += mark.word == Word::fails ? 1 : 0;
    }
    const int n = static_cast<int>(v.marks.size());
    out.because =
        fmt::format("{} of {} {} proven", proven, count(n, "mark"), proven == 1 ? "is" : "are");
    if (fails > 0) out.because += fmt::format(", {} {}", fails, fails == 1 ? "fails" : "fail");
    out.because += ".";
    const vet::Explanation* lead = v.explanations.empty() ? nullptr : &v.explanations.front();
    const Trap first = lead == nullptr ? Trap::nothing_wrong : lead->members.front().trap;
    if (!v.doubled_names.empty())
        out.because += fmt::format(" A name stands twice: {}.", listed(v.doubled_names));
    for (const auto& [a, b] : v.one_place)
        if (first != Trap::one_place)
            out.because += fmt::format(" {} and {} have one place.", a, b);
    if (first != Trap::nothing_wrong && lead->members.front().is_seen) {
        out.because +=
            fmt::format(" {} ({})", answer.explanations.front().says, percent(lead->probability));
        out.next = answer.explanations.front().next;
    }
    if (out.next.empty()) {
        const auto weakest = std::min_element(
            v.marks.begin(), v.marks.end(), [](const MarkVerdict& a, const MarkVerdict& b) {
                const auto rank = [](const MarkVerdict& m) {
                    return m.word == Word::fails ? 0 : m.word == Word::in_doubt ? 1 : 2;
                };
                return rank(a) != rank(b) ? rank(a) < rank(b) : a.probability < b.probability;
            });
        if (weakest == v.marks.end() || out.word == Word::proven) {
            out.next = "Lay from this control.";
        } else if (weakest->word == Word::proven) {
            out.next = "Clear up what the lists may have between them before laying.";
        } else {
            const auto at = static_cast<std::size_t>(weakest - v.marks.begin());
            out.next = fmt::format("{}: {}", weakest->name, answer.marks[at].next);
        }
    }
}

}  // namespace

void put_into_words(VetAnswer& answer) {
    for (const vet::Explanation& e : answer.figures.explanations)
        answer.explanations.push_back(words_of(e, answer.style));
    for (const TrapView& view : answer.figures.traps)
        answer.traps.push_back({trap_says(view, answer.style)});
    for (const MarkVerdict& mark : answer.figures.marks)
        answer.marks.push_back(mark_words(mark, answer));
    verdict(answer);
}

}  // namespace layproof::acts::internal
