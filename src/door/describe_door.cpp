#include "acts/shared/describe_shared.hpp"
#include "base/text/time.hpp"
#include "door/door.hpp"
#include "door/door_answers.hpp"
#include "door/sheet.hpp"

namespace layproof::acts {

void describe(Fields& f, const KeptFile& file) {
    f.is("RecordFile");
    f.text("name", file.name);
    f.text("mime", file.mime);
    f.text("description", file.description);
    f.whole("bytes", file.bytes);
    f.text("path", file.path, "where the server gives it");
}

void describe(Fields& f, const KeptRecord& record) {
    f.is("RecordAnswer");
    f.word("act", "record", {"record"});
    f.text("head", record.head, "of the job it was made from");
    f.text_or_null("as_of", record.as_of);
    f.record("verdict", record.verdict);
    f.whole("points_proven", record.proven);
    f.whole("points_in_doubt", record.in_doubt);
    f.whole("points_fail", record.fails);
    f.text("digest", record.digest, "of its facts");
    f.records("files", record.files);
}

void describe(Fields& f, const KeepAnswer& answer) {
    f.is("KeepAnswer");
    f.word("act", "keep", {"keep"});
    f.whole("kept", answer.kept, "numbers");
}

void describe(Fields& f, const StopAnswer& answer) {
    f.is("StopAnswer");
    f.word("act", "stop", {"stop"});
    f.flag("stopped", answer.is_stopped);
}

void describe(Fields& f, const PairAnswer& answer) {
    f.is("PairAnswer");
    f.text("token", answer.token);
}

void describe(Fields& f, const JobState& state) {
    f.is("JobEvent");
    f.whole("facts", state.facts);
    f.text("head", state.head);
    f.text("time", instant_text(state.last_ms));
}

void describe(Fields& f, const WorkNote& note) {
    f.is("WorkEvent");
    f.text("work", note.work);
    f.text("says", note.says);
    f.number("done", note.done, 4, "0 to 1");
    f.flag("ended", note.ended);
}

std::string to_json(const PairAnswer& answer) {
    return json_document(answer, -1);
}

std::string Door::state_json(const JobState& state) {
    return json_line(state);
}

std::string Door::note_json(const WorkNote& note) {
    return json_line(note);
}

}  // namespace layproof::acts
