#include "acts/job/job.hpp"
#include "acts/shared/json.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

using internal::Json;
using internal::list;

std::string document(const Json& json) {
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Json time_or_null(const std::optional<std::int64_t>& time_ms) {
    return time_ms ? Json(utc_text(*time_ms)) : Json(nullptr);
}

Json ids(const std::vector<job::FactId>& facts) {
    return list(facts, [](const job::FactId& id) { return Json(id.to_text()); });
}

Json head_json(const job::ChainHead& head) {
    return {{"hash", head.hash.to_text()},
            {"writer", head.writer.to_text()},
            {"name", head.writer_name},
            {"position", head.position}};
}

Json conflict_json(const job::Conflict& conflict) {
    return {{"kind", job::to_word(conflict.kind)},
            {"name", conflict.name},
            {"revision", conflict.revision},
            {"facts", ids(conflict.facts)},
            {"used", conflict.used ? Json(conflict.used->to_text()) : Json(nullptr)},
            {"settled", conflict.settled},
            {"because", conflict.because}};
}

Json decision_json(const job::Kept<job::Decision>& kept) {
    const job::Decision& decision = kept.value;
    return {
        {"fact", kept.id.to_text()},
        {"decision", job::to_word(decision.kind)},
        {"about", job::to_word(decision.subject.kind)},
        {"name", decision.subject.name},
        {"subject", decision.subject.fact ? Json(decision.subject.fact->to_text()) : Json(nullptr)},
        {"reason", decision.reason},
        {"initials", decision.initials},
        {"time", decision.time_text},
        {"recorded", utc_text(kept.recorded_ms)}};
}

Json kind_json(const job::KindCount& kind) {
    return {{"kind", kind.kind}, {"facts", kind.facts}, {"different", kind.different}};
}

}  // namespace

std::string to_json(const TakeAnswer& answer) {
    return document({{"documents", list(answer.documents,
                                        [](const TakenDocument& taken) {
                                            return Json{{"name", taken.name},
                                                        {"role", taken.role},
                                                        {"digest", taken.digest},
                                                        {"known", taken.is_known},
                                                        {"rows_new", taken.rows_new},
                                                        {"rows_known", taken.rows_known}};
                                        })},
                     {"unit", answer.unit ? Json(measure::to_word(*answer.unit)) : Json(nullptr)},
                     {"notices", answer.notices}});
}

std::string to_json(const DecideAnswer& answer) {
    return document({{"decision", job::to_word(answer.kind)},
                     {"decided", list(answer.decided, [](const Decided& decided) {
                          return Json{
                              {"fact", decided.fact.empty() ? Json(nullptr) : Json(decided.fact)},
                              {"what", decided.what}};
                      })}});
}

std::string to_json(const JobView& view) {
    Json out{{"job", view.summary.job.to_text()},
             {"title", view.summary.title},
             {"as_of", time_or_null(view.as_of)},
             {"unit", view.unit.empty() ? Json(nullptr) : Json(view.unit)},
             {"schema", view.summary.schema},
             {"first_recorded", time_or_null(view.summary.first_recorded_ms)},
             {"last_recorded", time_or_null(view.summary.last_recorded_ms)}};
    out["kinds"] = list(view.summary.kinds, kind_json);
    out["marks"] = list(view.marks, [](const job::Kept<frame::Mark>& kept) {
        return Json{{"fact", kept.id.to_text()},
                    {"mark", kept.value.name},
                    {"east_m", internal::fixed(kept.value.east_m)},
                    {"north_m", internal::fixed(kept.value.north_m)},
                    {"height_m", internal::fixed(kept.value.height_m)},
                    {"revision", kept.source.revision}};
    });
    out["points"] = view.points;
    out["stations"] = list(view.stations, [](const job::StationEntry& station) {
        return Json{{"station", station.name},
                    {"sights", station.sights},
                    {"has_setup", station.has_setup},
                    {"first_recorded", utc_text(station.first_recorded_ms)},
                    {"last_recorded", utc_text(station.last_recorded_ms)}};
    });
    out["documents"] = list(view.documents, [](const job::Kept<job::Document>& kept) {
        return Json{{"digest", kept.value.digest.to_text()},
                    {"name", kept.value.name},
                    {"role", kept.value.role},
                    {"note", kept.value.note},
                    {"bytes", kept.value.size_bytes}};
    });
    out["decisions"] = list(view.decisions, decision_json);
    out["conflicts"] = list(view.conflicts, conflict_json);
    out["writers"] = list(view.summary.writers, [](const job::WriterEntry& writer) {
        return Json{{"writer", writer.id.to_text()},
                    {"name", writer.name},
                    {"since", utc_text(writer.started_ms)},
                    {"after", writer.after ? Json(writer.after->to_text()) : Json(nullptr)},
                    {"facts", writer.facts}};
    });
    out["heads"] = list(view.summary.heads, head_json);
    out["last"] = list(view.last, [](const job::LogLine& line) {
        return Json{{"fact", line.id.to_text()},
                    {"kind", line.kind},
                    {"recorded", utc_text(line.recorded_ms)},
                    {"what", line.what}};
    });
    return document(out);
}

std::string to_json(const job::MergeReport& report) {
    return document({{"facts_new", report.facts_new},
                     {"facts_known", report.facts_known},
                     {"facts_same", report.facts_same},
                     {"writers_new", report.writers_new},
                     {"kinds_new", list(report.kinds_new, kind_json)},
                     {"conflicts", list(report.conflicts, conflict_json)}});
}

std::string to_json(const job::VerifyReport& report) {
    return document(
        {{"sound", report.sound()},
         {"facts", report.facts},
         {"heads", list(report.heads, head_json)},
         {"findings_in_all", report.findings_in_all},
         {"findings", list(report.findings, [](const job::Finding& finding) {
              return Json{
                  {"kind", job::to_word(finding.kind)},
                  {"fact", finding.fact ? Json(finding.fact->to_text()) : Json(nullptr)},
                  {"writer", finding.writer ? Json(finding.writer->to_text()) : Json(nullptr)},
                  {"position", finding.position},
                  {"text", finding.text}};
          })}});
}

}  // namespace layproof::acts
