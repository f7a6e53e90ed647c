#include "acts/job/job.hpp"
#include "acts/shared/describe_shared.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

/// Empty: there is none.
template <class Id>
std::string id_text(const std::optional<Id>& id) {
    return id ? id->to_text() : std::string();
}

std::string time_text(const std::optional<std::int64_t>& time_ms) {
    return time_ms ? utc_text(*time_ms) : std::string();
}

}  // namespace

void describe(Fields& f, const job::ChainHead& head) {
    f.is("JobHead");
    f.text("hash", head.hash.to_text());
    f.text("writer", head.writer.to_text());
    f.text("name", head.writer_name);
    f.whole("position", head.position);
}

void describe(Fields& f, const job::Conflict& conflict) {
    f.is("JobConflict");
    f.text("kind", job::to_word(conflict.kind));
    f.text("name", conflict.name);
    f.text("revision", conflict.revision);
    f.list("facts", conflict.facts, [&](const job::FactId& id) { f.text({}, id.to_text()); });
    f.text_or_null("used", id_text(conflict.used));
    f.flag("settled", conflict.settled);
    f.text("because", conflict.because);
}

void describe(Fields& f, const job::Kept<job::Decision>& kept) {
    const job::Decision& decision = kept.value;
    f.is("JobDecision");
    f.text("fact", kept.id.to_text());
    f.text("decision", job::to_word(decision.kind));
    f.text("about", job::to_word(decision.subject.kind));
    f.text("name", decision.subject.name);
    f.text_or_null("subject", id_text(decision.subject.fact));
    f.text("reason", decision.reason);
    f.text("initials", decision.initials);
    f.text("time", decision.time_text);
    f.text("recorded", utc_text(kept.recorded_ms));
}

void describe(Fields& f, const job::KindCount& kind) {
    f.is("JobKind");
    f.text("kind", kind.kind);
    f.whole("facts", kind.facts);
    f.whole("different", kind.different);
}

void describe(Fields& f, const job::Kept<frame::Mark>& kept) {
    f.is("JobMark");
    f.text("fact", kept.id.to_text());
    f.text("mark", kept.value.name);
    f.number_or_null("east_m", kept.value.east_m);
    f.number_or_null("north_m", kept.value.north_m);
    f.number_or_null("height_m", kept.value.height_m);
    f.text("revision", kept.source.revision);
}

void describe(Fields& f, const job::StationEntry& station) {
    f.is("JobStation");
    f.text("station", station.name);
    f.whole("sights", station.sights);
    f.flag("has_setup", station.has_setup);
    f.text("first_recorded", utc_text(station.first_recorded_ms));
    f.text("last_recorded", utc_text(station.last_recorded_ms));
}

void describe(Fields& f, const job::Kept<job::Document>& kept) {
    f.is("JobDocument");
    f.text("digest", kept.value.digest.to_text());
    f.text("name", kept.value.name);
    f.text("role", kept.value.role);
    f.text("note", kept.value.note);
    f.whole("bytes", kept.value.size_bytes);
}

void describe(Fields& f, const job::WriterEntry& writer) {
    f.is("JobWriter");
    f.text("writer", writer.id.to_text());
    f.text("name", writer.name);
    f.text("since", utc_text(writer.started_ms));
    f.text_or_null("after", id_text(writer.after));
    f.whole("facts", writer.facts);
}

void describe(Fields& f, const job::LogLine& line) {
    f.is("JobFact");
    f.text("fact", line.id.to_text());
    f.text("kind", line.kind);
    f.text("recorded", utc_text(line.recorded_ms));
    f.text("what", line.what);
}

void describe(Fields& f, const JobView& view) {
    f.is("JobView");
    f.text("job", view.summary.job.to_text());
    f.text("title", view.summary.title);
    f.text_or_null("as_of", time_text(view.as_of));
    f.text_or_null("unit", view.unit);
    f.whole("schema", view.summary.schema);
    f.text_or_null("first_recorded", time_text(view.summary.first_recorded_ms));
    f.text_or_null("last_recorded", time_text(view.summary.last_recorded_ms));
    f.records("kinds", view.summary.kinds);
    f.records("marks", view.marks);
    f.whole("points", view.points);
    f.records("stations", view.stations);
    f.records("documents", view.documents);
    f.records("decisions", view.decisions);
    f.records("conflicts", view.conflicts);
    f.records("writers", view.summary.writers);
    f.records("heads", view.summary.heads);
    f.records("last", view.last);
}

void describe(Fields& f, const job::MergeReport& report) {
    f.is("JobMerge");
    f.whole("facts_new", report.facts_new);
    f.whole("facts_known", report.facts_known);
    f.whole("facts_same", report.facts_same);
    f.whole("writers_new", report.writers_new);
    f.records("kinds_new", report.kinds_new);
    f.records("conflicts", report.conflicts);
}

void describe(Fields& f, const job::Finding& finding) {
    f.is("JobFinding");
    f.text("kind", job::to_word(finding.kind));
    f.text_or_null("fact", id_text(finding.fact));
    f.text_or_null("writer", id_text(finding.writer));
    f.whole("position", finding.position);
    f.text("text", finding.text);
}

void describe(Fields& f, const job::VerifyReport& report) {
    f.is("JobVerify");
    f.flag("sound", report.sound());
    f.whole("facts", report.facts);
    f.records("heads", report.heads);
    f.whole("findings_in_all", report.findings_in_all);
    f.records("findings", report.findings);
}

void describe(Fields& f, const TakenDocument& taken) {
    f.is("TakenDocument");
    f.text("name", taken.name);
    f.text("role", taken.role);
    f.text("digest", taken.digest);
    f.flag("known", taken.is_known);
    f.whole("rows_new", taken.rows_new);
    f.whole("rows_known", taken.rows_known);
}

void describe(Fields& f, const TakeAnswer& answer) {
    f.is("TakeAnswer");
    f.records("documents", answer.documents);
    unit_or_null_field(f, answer.unit, "of the job");
    f.texts("notices", answer.notices);
}

void describe(Fields& f, const Decided& decided) {
    f.is("Decided");
    f.text_or_null("fact", decided.fact);
    f.text("what", decided.what);
}

void describe(Fields& f, const DecideAnswer& answer) {
    f.is("DecideAnswer");
    f.word("decision", job::to_word(answer.kind), kDecisionWords);
    f.records("decided", answer.decided);
}

std::string to_json(const TakeAnswer& answer) {
    return json_document(answer);
}

std::string to_json(const DecideAnswer& answer) {
    return json_document(answer);
}

std::string to_json(const JobView& view) {
    return json_document(view);
}

std::string to_json(const job::MergeReport& report) {
    return json_document(report);
}

std::string to_json(const job::VerifyReport& report) {
    return json_document(report);
}

}  // namespace layproof::acts
