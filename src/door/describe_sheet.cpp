#include <algorithm>

#include "acts/job/job.hpp"
#include "acts/shared/describe_shared.hpp"
#include "acts/shared/version.hpp"
#include "base/text/time.hpp"
#include "door/sheet.hpp"

namespace layproof::acts {
namespace {

struct SheetJob {
    const Sheet& of;
};

struct SheetLine {
    const frame::GridLine& of;
};

struct SheetDecision {
    const job::Kept<job::Decision>& of;
};

struct SheetConflict {
    const job::Conflict& of;
};

void describe(Fields& f, const SheetJob& job) {
    f.is("SheetJob");
    f.text("id", job.of.id.to_text());
    f.text("title", job.of.title);
    f.text("file", job.of.file);
    unit_or_null_field(f, job.of.unit);
    f.whole("facts", job.of.state.facts);
    f.text("head", job.of.state.head);
}

void describe(Fields& f, const SheetLine& line) {
    const Eigen::Vector2d ends[] = {line.of.start_m, line.of.end_m};
    f.is("SheetLine");
    f.text("line", line.of.name);
    f.word("kind", "straight", {"straight", "offset", "radial", "curved"});
    f.rows(
        "path", std::size(ends),
        [&](std::size_t i) {
            f.pair({}, [&] {
                f.length({}, ends[i].x());
                f.length({}, ends[i].y());
            });
        },
        "east, north");
}

void describe(Fields& f, const SheetDecision& decision) {
    const job::Decision& d = decision.of.value;
    f.is("SheetDecision");
    f.text("time", instant_text(decision.of.recorded_ms));
    f.word("kind", job::to_word(d.kind), kDecisionWords);
    f.text("subject", d.subject.name);
    f.text("reason", d.reason);
    f.text("initials", d.initials);
}

void describe(Fields& f, const SheetConflict& conflict) {
    f.is("SheetConflict");
    f.text("says", conflict.of.because);
    f.flag("settled", conflict.of.settled);
}

}  // namespace

void describe(Fields& f, const SheetMark& m) {
    const double sd_m = std::max(m.mark.sd_east_m, m.mark.sd_north_m);
    f.is("SheetMark");
    f.text("mark", m.mark.name);
    f.length_or_null("east", m.mark.east_m);
    f.length_or_null("north", m.mark.north_m);
    f.length_or_null("height", m.mark.height_m);
    f.number_or_null("sd_mm", known(m.mark.has_plan(), in_mm(sd_m)),
                     "the larger of east and north");
    f.text_or_null("from", m.from, "name of the document");
    f.text("revision", m.revision);
    f.flag("is_moved", m.is_moved);
}

void describe(Fields& f, const frame::DesignPoint& p) {
    f.is("SheetPoint");
    f.text("point", p.name);
    f.length("east", p.east_m);
    f.length("north", p.north_m);
    f.length_or_null("height", p.height_m);
    f.text("element", p.element);
    f.number_or_null("tolerance_plan_mm", in_mm(p.tolerance_plan_m));
    f.number_or_null("tolerance_height_mm", in_mm(p.tolerance_height_m));
}

void describe(Fields& f, const SheetStation& s) {
    f.is("SheetStation");
    f.text("station", s.name);
    f.word("kind", setup_word(s.setup ? s.setup->kind : station::SetupKind::free), kSetupWords);
    f.text_or_null("mark", s.setup ? s.setup->mark : std::string());
    f.number_or_null("instrument_height_m",
                     s.setup ? s.setup->instrument_height_m : std::optional<double>());
    f.text_or_null("first", s.first, "time of its first sight or set-up");
    f.text_or_null("last", s.last);
    f.whole("sights", s.sights);
    f.record_or_null("pose", s.pose);
    f.or_null(s.word.has_value())
        .word("word", s.word ? station::to_word(*s.word) : std::string_view(), kVerdictWords);
}

void describe(Fields& f, const Moment& moment) {
    f.is("SheetMoment");
    f.text("time", instant_text(moment.time_ms), "to ask for the job as of then");
    f.word("what", moment.what, {"take", "book", "decide", "merge"});
    f.text("says", moment.says);
    f.whole("facts", moment.facts, "added then");
}

void describe(Fields& f, const SheetDocument& document) {
    f.is("SheetDocument");
    f.text("name", document.document.name);
    f.text("role", document.document.role);
    f.text("digest", document.document.digest.to_text());
    f.whole("size", document.document.size_bytes);
    f.text("taken", instant_text(document.taken_ms));
    f.text("revision", document.revision);
}

void describe(Fields& f, const job::Setting& checked) {
    f.is("SheetChecked");
    f.text("finding", checked.name);
    f.text("says", checked.value, "value, sd and time");
}

void describe(Fields& f, const Sheet& sheet) {
    f.is("SheetAnswer");
    f.word("act", "sheet", {"sheet"});
    f.text("version", version());
    f.lengths_in(measure::metres_per(sheet.unit.value_or(measure::LengthUnit::metre)));
    f.record("job", SheetJob{sheet});
    f.text_or_null("as_of", sheet.as_of ? instant_text(*sheet.as_of) : std::string());
    f.records("marks", sheet.marks);
    f.records("points", sheet.points);
    f.list("grid", sheet.grid, [&](const frame::GridLine& line) { f.record({}, SheetLine{line}); });
    f.records("stations", sheet.stations);
    f.records("moments", sheet.moments, "of the whole job, whatever as_of");
    f.records("documents", sheet.documents);
    f.list("decisions", sheet.decisions, [&](const job::Kept<job::Decision>& decision) {
        f.record({}, SheetDecision{decision});
    });
    f.list("conflicts", sheet.conflicts,
           [&](const job::Conflict& conflict) { f.record({}, SheetConflict{conflict}); });
    f.records("checked", sheet.checked, "kept from field checks");
}

std::string to_json(const Sheet& sheet) {
    return json_document(sheet);
}

}  // namespace layproof::acts
