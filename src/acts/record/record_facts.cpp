#include "acts/record/record_facts.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "acts/job/job.hpp"
#include "acts/shared/refusal_json.hpp"
#include "acts/shared/version.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

std::string sheet_words(const job::Source& source,
                        const std::vector<job::Kept<job::Document>>& documents) {
    std::string out = "booked by hand";
    for (const auto& kept : documents)
        if (source.document && kept.value.digest == *source.document) out = kept.value.name;
    if (!source.revision.empty()) out += ", revision " + source.revision;
    return out;
}

/// Of each name the sheet of the fact that counts.
template <class T>
Result<std::map<std::string, std::string>> sheets_of(
    const job::Job& job, const job::AsOf& as_of,
    const std::vector<job::Kept<job::Document>>& documents) {
    const auto kept = job.current<T>(as_of);
    if (!kept) return kept.refusal();
    std::map<std::string, std::string> out;
    for (const auto& one : *kept) out[one.value.name] = sheet_words(one.source, documents);
    return out;
}

/// The revision that facts of a document were taken at.
template <class T>
void note_revisions(const Result<std::vector<job::Kept<T>>>& facts,
                    std::map<std::string, std::string>& out) {
    if (!facts) return;
    for (const auto& kept : *facts)
        if (kept.source.document) out[kept.source.document->to_text()] = kept.source.revision;
}

bool is_about_content(ErrorCode code) {
    return code == ErrorCode::no_marks || code == ErrorCode::no_sights ||
           code == ErrorCode::duplicate_setup;
}

}  // namespace

Result<RecordFacts> record_facts_of(const job::Job& job, const RecordOptions& options) {
    RecordFacts out;
    out.version = version();
    out.options = options;
    const auto view = view_of(job, options.as_of);
    if (!view) return view.refusal();
    out.title = view->summary.title;
    out.job = view->summary.job.to_text();
    out.last_ms = view->summary.last_recorded_ms.value_or(0);

    std::map<std::string, std::string> revisions;
    note_revisions(job.all<frame::Mark>(options.as_of), revisions);
    note_revisions(job.all<frame::DesignPoint>(options.as_of), revisions);
    note_revisions(job.all<measure::Sight>(options.as_of), revisions);
    for (const auto& kept : view->documents) {
        const std::string digest = kept.value.digest.to_text();
        out.sources.push_back({kept.value.name, kept.value.role, kept.value.note, revisions[digest],
                               digest, kept.value.size_bytes, kept.recorded_ms});
    }
    for (const auto& kept : view->decisions) {
        const job::Decision& d = kept.value;
        out.decisions.push_back(
            {std::string(job::to_word(d.kind)),
             d.subject.name.empty() && d.subject.fact ? d.subject.fact->to_text() : d.subject.name,
             d.reason, d.initials,
             d.time_text.empty() ? utc_text(static_cast<std::int64_t>(d.time_s * 1000.0))
                                 : d.time_text});
    }
    for (const job::ChainHead& head : view->summary.heads)
        out.chains.push_back({head.writer_name, head.position, head.hash.to_text()});
    for (const job::Conflict& conflict : view->conflicts)
        if (!conflict.settled) out.conflicts.push_back(conflict.because);

    auto marks = sheets_of<frame::Mark>(job, options.as_of, view->documents);
    if (!marks) return marks.refusal();
    auto points = sheets_of<frame::DesignPoint>(job, options.as_of, view->documents);
    if (!points) return points.refusal();
    out.mark_sheets = std::move(*marks);
    out.point_sheets = std::move(*points);

    auto facts = facts_of(job, options.as_of);
    if (facts) {
        out.facts = std::move(*facts);
        // Where the file lies is no fact of the job.
        const std::size_t slash = out.facts.name.find_last_of('/');
        if (slash != std::string::npos) out.facts.name.erase(0, slash + 1);
    } else if (is_about_content(facts.refusal().code)) {
        Refusal refusal = facts.refusal();
        refusal.place = {};
        out.refused = sentence_of(refusal);
        out.facts.unit = measure::length_unit_from_word(view->unit);
    } else {
        return facts.refusal();
    }
    return out;
}

}  // namespace layproof::acts
