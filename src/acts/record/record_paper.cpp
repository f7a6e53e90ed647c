// The first page, the last pages, and the whole put together.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "acts/job/job.hpp"
#include "acts/record/record_paper_internal.hpp"
#include "acts/shared/plan_word.hpp"
#include "acts/shared/version.hpp"
#include "acts/shared/words.hpp"
#include "acts/station/station_plan.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

using drawing::PlanWord;
using internal::Blocks;
using paper::Align;
using paper::Cell;
using paper::Heading;
using paper::Pairs;
using paper::Paragraph;
using paper::Row;
using paper::Table;
using paper::Tone;

std::string crews(const RecordAnswer& answer) {
    std::vector<std::string> names;
    for (const RecordChain& chain : answer.facts.chains)
        if (std::find(names.begin(), names.end(), chain.writer) == names.end())
            names.push_back(chain.writer);
    return internal::listed(names);
}

std::string unit_words(const RecordAnswer& answer) {
    if (answer.style.feet_and_inches)
        return fmt::format("feet and inches to 1/{} in; data in {}", answer.style.denominator,
                           measure::to_word(answer.unit));
    switch (answer.style.unit) {
        case measure::LengthUnit::foot:
            return "ft, the international foot of 0.3048 m exactly";
        case measure::LengthUnit::us_foot:
            return "us-ft, the US survey foot of 1200/3937 m exactly";
        case measure::LengthUnit::inch:
            return "in, 25.4 mm exactly";
        case measure::LengthUnit::metre:
        case measure::LengthUnit::millimetre:
            break;
    }
    return "m; small lengths in mm";
}

std::string headline(const RecordAnswer& answer) {
    return internal::capital(std::string(station::to_word(answer.word)));
}

}  // namespace

namespace internal {

std::string Figures::bare(std::string text) const {
    if (style_.feet_and_inches) return text;
    const std::size_t blank = text.find_last_of(' ');
    if (blank != std::string::npos && blank > 0) text.erase(blank);
    return text;
}
std::string Figures::length(const std::optional<double>& v) const {
    return v && std::isfinite(*v) ? bare(measure::format_length(*v, style_)) : "-";
}
std::string Figures::small(const std::optional<double>& v) const {
    return v && std::isfinite(*v) ? bare(internal::small(*v, style_)) : "-";
}
std::string Figures::signed_small(const std::optional<double>& v) const {
    return v && std::isfinite(*v) ? bare(internal::signed_small(*v, style_)) : "-";
}
std::string Figures::tolerance(const std::optional<double>& v) const {
    return v && std::isfinite(*v) ? bare(internal::tolerance(*v, style_)) : "-";
}
std::string Figures::head(const std::string& name) const {
    return style_.feet_and_inches ? name
                                  : fmt::format("{}, {}", name, measure::to_word(style_.unit));
}
std::string Figures::small_unit(const std::string& words) const {
    if (style_.feet_and_inches) return "";
    return words + std::string(measure::to_word(style_.unit == measure::LengthUnit::metre
                                                    ? measure::LengthUnit::millimetre
                                                    : style_.unit));
}
std::string Figures::small_head(const std::string& name) const {
    return name + small_unit(", ");
}

drawing::PlanWord record_word(station::Word word) {
    return plan_word(word);
}

std::string setup_anchor(std::size_t index) {
    return fmt::format("setup-{}", index + 1);
}

void add_summary(const RecordAnswer& answer, Blocks& out) {
    const auto& facts = answer.facts;
    out.push_back(Pairs{
        {{"Holds", fmt::format("everything recorded up to {}", utc_text(facts.last_ms)), false},
         {"Crew", crews(answer), false},
         {"Unit", unit_words(answer), false},
         {"Proven means",
          fmt::format("within its tolerance with at least {:g} %",
                      100.0 * facts.options.confidence),
          false}}});
    paper::VerdictBox box;
    box.word = answer.points.empty() ? PlanWord::to_lay : record_word(answer.word);
    box.headline = answer.points.empty() ? "Nothing laid yet" : headline(answer);
    box.because = answer.verdict.because;
    out.push_back(box);
    out.push_back(Heading{1, "What to do", "to-do", false});
    out.push_back(paper::Bullets{answer.to_do, true});

    if (!answer.lay.points.empty()) {
        Table counts;
        counts.columns = {{"Points", Align::left, false}, {"number", Align::right, false}};
        const auto row = [&](const char* text, PlanWord word, std::size_t n) {
            counts.rows.push_back({{{text, word, ""}, {std::to_string(n), std::nullopt, ""}}, ""});
        };
        row("proven", PlanWord::proven, static_cast<std::size_t>(answer.proven));
        row("in doubt", PlanWord::in_doubt, static_cast<std::size_t>(answer.in_doubt));
        row("fails", PlanWord::fails, static_cast<std::size_t>(answer.fails));
        row("not laid", PlanWord::to_lay, answer.not_laid.size());
        out.push_back(counts);
    }
    if (!answer.lay.stations.empty()) {
        Table setups;
        setups.caption =
            "Every set-up: may be laid from it, how many points were laid, did it hold until its "
            "last check.";
        setups.columns = {{"Set-up", Align::left, false},
                          {"may be laid from", Align::left, false},
                          {"points laid", Align::right, false},
                          {"held", Align::left, false},
                          {"what was found", Align::left, true}};
        for (std::size_t k = 0; k < answer.lay.stations.size(); ++k) {
            const LayStation& one = answer.lay.stations[k];
            const bool has_day = k < answer.days.size() && answer.days[k];
            const bool checked = has_day && answer.days[k]->has_checks;
            const bool held = checked && answer.days[k]->holds >= answer.lay.confidence;
            const bool tells = checked && !held;
            const bool moved = tells && answer.days[k]->holds <= 1.0 - answer.lay.confidence;
            // Well placed is not enough when it did not stay there.
            const station::Word placed = one.station.verdict.word;
            const station::Word word = moved ? station::Word::fails
                                       : tells && placed == station::Word::proven
                                           ? station::Word::in_doubt
                                           : placed;
            setups.rows.push_back(
                {{{one.station.station, std::nullopt, setup_anchor(k)},
                  {moved ? "not after it moved" : std::string(station::to_word(word)),
                   record_word(word), ""},
                  {std::to_string(one.laid), std::nullopt, ""},
                  {checked ? percent(answer.days[k]->holds) : "not checked", std::nullopt, ""},
                  {tells ? answer.days[k]->verdict.because
                   : one.station.verdict.word == station::Word::proven
                       ? std::string("Nothing to remark.")
                       : one.station.verdict.because,
                   std::nullopt, ""}},
                 ""});
        }
        out.push_back(setups);
    }
    out.push_back(paper::Caution{std::string(kCaution)});
}

void add_decisions(const RecordAnswer& answer, Blocks& out) {
    out.push_back(Heading{1, "Decisions", "decisions", false});
    if (answer.facts.decisions.empty()) {
        out.push_back(Paragraph{"Nobody set anything aside or decided anything.", Tone::plain});
    } else {
        Table table;
        table.caption = "What was decided, why and by whom. Nothing is ever removed from the job.";
        table.columns = {{"Time", Align::left, true},
                         {"decision", Align::left, false},
                         {"about", Align::left, true},
                         {"reason", Align::left, true},
                         {"initials", Align::left, true}};
        for (const RecordDecision& d : answer.facts.decisions)
            table.rows.push_back({{{d.time, std::nullopt, ""},
                                   {d.kind, std::nullopt, ""},
                                   {d.what, std::nullopt, ""},
                                   {d.reason, std::nullopt, ""},
                                   {d.initials, std::nullopt, ""}},
                                  ""});
        out.push_back(table);
    }
    if (!answer.facts.conflicts.empty()) {
        out.push_back(Heading{2, "Still to be decided", "", false});
        out.push_back(paper::Bullets{answer.facts.conflicts, false});
    }
}

void add_limits(const RecordAnswer& answer, Blocks& out) {
    out.push_back(Heading{1, "Cautions and limits", "limits", false});
    out.push_back(paper::Caution{std::string(kCaution)});
    std::vector<std::string> items{
        "A verdict is a probability of being within tolerance (JCGM 106), over all that may be "
        "wrong with the set-up and that the sights of this job can show. What nobody measured is "
        "not in it.",
        "A point is where it was when it was last sighted. What happened to it afterwards is not "
        "known here.",
        "Deviations are between the point as sighted and its design coordinates as given. Whether "
        "the drawing is right is not a question that sights can answer.",
        "Standard deviations are one sigma: about 39 of 100 lie within it in plan, 68 in height.",
        "How often things go wrong on a site is engineering judgement, kept in the table of "
        "causes."};
    if (answer.facts.facts.instrument && answer.facts.facts.instrument->stated)
        items.emplace_back(
            "The error figures of the instrument are those of the file handed over.");
    else
        items.emplace_back(
            "The error figures of the instrument were not stated; those of an ordinary building "
            "instrument were assumed.");
    out.push_back(paper::Bullets{items, false});
    std::vector<std::string> notices = answer.lay.notices;
    const auto add = [&](const std::vector<std::string>& more) {
        for (const std::string& one : more)
            if (std::find(notices.begin(), notices.end(), one) == notices.end())
                notices.push_back(one);
    };
    add(answer.facts.facts.notices);
    if (answer.control) add(answer.control->notices);
    if (answer.whole) add(answer.whole->notices);
    for (const auto& day : answer.days)
        if (day) add(day->notices);
    if (!notices.empty()) {
        out.push_back(Heading{2, "Notes of the computation", "", false});
        out.push_back(paper::Bullets{notices, false});
    }
}

void add_sources(const RecordAnswer& answer, Blocks& out) {
    const RecordFacts& facts = answer.facts;
    out.push_back(Heading{1, "Sources, and how to check this record", "sources", false});
    if (!facts.sources.empty()) {
        Table table;
        table.caption = "Documents handed over and taken into the job, with their SHA-256.";
        table.columns = {{"Document", Align::left, true},
                         {"holds", Align::left, false},
                         {"revision", Align::left, true},
                         {"taken", Align::left, false},
                         {"bytes", Align::right, false}};
        for (const RecordSource& s : facts.sources)
            table.rows.push_back({{{s.name, std::nullopt, ""},
                                   {s.role, std::nullopt, ""},
                                   {s.revision.empty() ? "-" : s.revision, std::nullopt, ""},
                                   {utc_text(s.taken_ms), std::nullopt, ""},
                                   {std::to_string(s.size_bytes), std::nullopt, ""}},
                                  s.note.empty() ? s.digest : s.digest + "  " + s.note});
        out.push_back(table);
    }
    out.push_back(Heading{2, "The job and its chain of facts", "", false});
    Pairs pairs;
    pairs.entries.push_back({"Job", facts.job, true});
    for (const RecordChain& chain : facts.chains)
        pairs.entries.push_back(
            {fmt::format("{}, {} facts, head", chain.writer, chain.facts), chain.head, true});
    pairs.entries.push_back({"Facts of this record", answer.facts_digest, true});
    out.push_back(pairs);
    out.push_back(Heading{2, "How to check it", "check", false});
    out.push_back(paper::Bullets{
        {"layproof prove --from record.pdf (or record.html) takes the attached facts, computes "
         "everything again, draws the record again, and says whether the figures and the pages "
         "agree.",
         "layproof job verify JOB --head HEAD says whether the job still holds the chain that "
         "ends in a head printed above. A record that agrees with itself and whose head is in the "
         "job was made from that job.",
         "The attached CSV files open in any spreadsheet; sha256sum of record-facts.json is the "
         "number above."},
        false});
    out.push_back(Paragraph{
        fmt::format("Made by layproof {} from the facts alone: no clock, no name of a computer. "
                    "The same facts give the same file.",
                    version()),
        Tone::quiet});
}

}  // namespace internal

paper::Paper paper_of(const RecordAnswer& answer) {
    paper::Paper paper;
    paper.title = "Layout record";
    if (!answer.facts.title.empty()) paper.title += ": " + answer.facts.title;
    paper.subject = fmt::format("{}: {}", headline(answer), answer.verdict.because);
    paper.made_by = fmt::format("layproof {}", version());
    paper.date_ms = answer.facts.last_ms;
    paper.footer = fmt::format("{}; facts up to {}; {}", answer.facts.title,
                               utc_text(answer.facts.last_ms), answer.facts_digest.substr(0, 16));
    paper.footer_caution = std::string(internal::kCaution);
    paper.is_letter = answer.unit == measure::LengthUnit::foot ||
                      answer.unit == measure::LengthUnit::us_foot ||
                      answer.unit == measure::LengthUnit::inch;
    internal::add_summary(answer, paper.blocks);
    internal::add_control(answer, paper.blocks);
    internal::add_whole(answer, paper.blocks);
    internal::add_points(answer, paper.blocks);
    internal::add_setups(answer, paper.blocks);
    internal::add_decisions(answer, paper.blocks);
    internal::add_limits(answer, paper.blocks);
    internal::add_sources(answer, paper.blocks);
    return paper;
}

}  // namespace layproof::acts
