#include <fmt/format.h>

#include "acts/job/job.hpp"
#include "acts/shared/words.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

std::string digits(std::int64_t number) {
    return fmt::format("{}", number);
}

std::string counted(std::int64_t number, const char* one, const char* many) {
    return fmt::format("{} {}", number, number == 1 ? one : many);
}

const char* kind_words(const std::string& kind, bool several) {
    struct Words {
        const char *kind, *one, *many;
    };
    static constexpr Words kWords[] = {{"document", "document", "documents"},
                                       {"mark", "mark", "marks"},
                                       {"setup", "set-up", "set-ups"},
                                       {"sight", "sight", "sights"},
                                       {"point", "point", "points"},
                                       {"tolerance", "tolerance", "tolerances"},
                                       {"instrument", "instrument", "instruments"},
                                       {"column_map", "column map", "column maps"},
                                       {"decision", "decision", "decisions"},
                                       {"setting", "setting", "settings"},
                                       {"tape", "tape", "tapes"},
                                       {"level_rise", "level", "levels"},
                                       {"level_reading", "level reading", "level readings"},
                                       {"drawn_mark", "mark as drawn", "marks as drawn"}};
    for (const Words& words : kWords)
        if (kind == words.kind) return several ? words.many : words.one;
    return several ? "facts" : "fact";
}

std::string conflict_line(const job::Conflict& conflict) {
    std::string out = "  " + conflict.because + (conflict.settled ? " Settled." : "") + "\n";
    for (const job::FactId& fact : conflict.facts) {
        out += "    fact " + fact.to_text();
        if (conflict.used == fact) out += " (counts now)";
        out += "\n";
    }
    return out;
}

std::string conflict_lines(const std::vector<job::Conflict>& conflicts) {
    if (conflicts.empty()) return "";
    std::string out = "\nContradictions\n";
    for (const job::Conflict& conflict : conflicts) out += conflict_line(conflict);
    return out;
}

std::string notice_lines(const std::vector<std::string>& notices) {
    std::string out;
    for (const std::string& notice : notices) out += "Note: " + notice + "\n";
    return out;
}

}  // namespace

std::string to_text(const TakeAnswer& answer) {
    std::string out;
    for (const TakenDocument& taken : answer.documents) {
        out += fmt::format("{} ({}): ", taken.name, taken.role);
        if (taken.rows_new + taken.rows_known == 0) {
            out += taken.is_known ? "already there" : "kept";
        } else {
            out += fmt::format("{} new, {} already there", taken.rows_new, taken.rows_known);
        }
        out += "\n";
    }
    if (answer.unit) out += fmt::format("Unit of the job: {}\n", measure::to_word(*answer.unit));
    return out + notice_lines(answer.notices);
}

std::string to_text(const DecideAnswer& answer) {
    if (answer.decided.empty()) return "Nothing to decide: it is so already.\n";
    std::string out;
    for (const Decided& decided : answer.decided) {
        out += fmt::format("{}: {}", job::to_word(answer.kind), decided.what);
        if (!decided.fact.empty() && decided.fact != decided.what)
            out += fmt::format(" (fact {})", decided.fact);
        out += "\n";
    }
    return out;
}

std::string to_text(const JobView& view) {
    std::string out = view.summary.title + "\n";
    if (view.as_of) out += fmt::format("As of {}\n", utc_text(*view.as_of));
    out += fmt::format("Job {}\n", view.summary.job.to_text());
    if (!view.unit.empty()) out += fmt::format("Unit {}\n", view.unit);

    out +=
        fmt::format("\n{}", counted(static_cast<std::int64_t>(view.marks.size()), "mark", "marks"));
    std::vector<std::string> names;
    for (const auto& mark : view.marks) names.push_back(mark.value.name);
    if (!names.empty()) out += ": " + internal::listed(names, 12);
    out += fmt::format("\n{} to be laid\n",
                       counted(static_cast<std::int64_t>(view.points), "point", "points"));
    if (view.stations.empty()) out += "No station\n";
    for (const job::StationEntry& station : view.stations)
        out += fmt::format("Station {}: {}{}\n", station.name,
                           counted(station.sights, "sight", "sights"),
                           station.has_setup ? "" : ", set-up not described");

    if (!view.documents.empty()) out += "\nDocuments\n";
    for (const auto& document : view.documents) {
        out += fmt::format("  {} ({}), {}", document.value.digest.to_text(), document.value.role,
                           document.value.name);
        if (!document.value.note.empty()) out += ": " + document.value.note;
        out += "\n";
    }
    if (!view.decisions.empty()) out += "\nDecisions\n";
    for (const auto& kept : view.decisions) {
        const job::Decision& decision = kept.value;
        out += fmt::format("  {} {} {}: {} ({})\n", utc_text(kept.recorded_ms),
                           job::to_word(decision.kind),
                           decision.subject.name.empty() && decision.subject.fact
                               ? decision.subject.fact->to_text()
                               : decision.subject.name,
                           decision.reason, decision.initials);
    }
    out += conflict_lines(view.conflicts);
    if (!view.summary.writers.empty()) out += "\nWritten by\n";
    for (const job::WriterEntry& writer : view.summary.writers)
        out += fmt::format("  {}: {} since {}\n", writer.name,
                           counted(writer.facts, "fact", "facts"), utc_text(writer.started_ms));
    for (const job::ChainHead& head : view.summary.heads)
        out += fmt::format("  head {} after {} of {}\n", head.hash.to_text(),
                           counted(head.position, "fact", "facts"), head.writer_name);
    if (!view.last.empty()) out += "\nLast recorded\n";
    for (const job::LogLine& line : view.last)
        out += fmt::format("  {} {} {}  {}\n", utc_text(line.recorded_ms), line.id.to_text(),
                           kind_words(line.kind, false), line.what);
    return out;
}

std::string to_text(const job::MergeReport& report) {
    std::string out =
        fmt::format("{} taken over, {} known already\n", counted(report.facts_new, "fact", "facts"),
                    digits(report.facts_known));
    for (const job::KindCount& kind : report.kinds_new)
        out += fmt::format("  {} {}, {} of them not said here before\n", kind.facts,
                           kind_words(kind.kind, kind.facts != 1), kind.different);
    return out + conflict_lines(report.conflicts);
}

std::string to_text(const job::VerifyReport& report) {
    std::string out =
        report.sound()
            ? fmt::format("Sound: {} looked at.\n", counted(report.facts, "fact", "facts"))
            : fmt::format("Not sound: {} in {}.\n",
                          counted(report.findings_in_all, "finding", "findings"),
                          counted(report.facts, "fact", "facts"));
    for (const job::Finding& finding : report.findings)
        out += fmt::format("  {}: {}\n", job::to_word(finding.kind), finding.text);
    for (const job::ChainHead& head : report.heads)
        out += fmt::format("head {} after {} of {}\n", head.hash.to_text(),
                           counted(head.position, "fact", "facts"), head.writer_name);
    return out;
}

}  // namespace layproof::acts
