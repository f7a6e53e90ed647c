// What the acts that write into the job take and give.

#include "acts/shared/shape_words.hpp"

namespace layproof::acts::internal::shape {

void add_job_shapes(Records& out) {
    const auto role = [] {
        return word({"marks", "sights", "setups", "points", "instrument", "grid", "causes", "tapes",
                     "levels", "drawing"});
    };
    out.push_back({"TakeFile",
                   {{"digest", text(), false, "of a file sent before"},
                    {"role", role()},
                    absent("unit", unit_word(), "of lengths whose column states none"),
                    absent("map", by_name(text()), "which column of the file each field is"),
                    absent("revision", text()),
                    absent("note", text())},
                   true});
    out.push_back({"TakeRequest", {{"files", list(record("TakeFile"))}}, true});
    out.push_back({"TakenDocument",
                   {{"name", text()},
                    {"role", text()},
                    {"digest", text()},
                    {"known", flag()},
                    {"rows_new", whole()},
                    {"rows_known", whole()}}});
    out.push_back({"TakeAnswer",
                   {{"documents", list(record("TakenDocument"))},
                    {"unit", or_null(unit_word()), false, "of the job"},
                    {"notices", list(text())}}});

    const auto decision = [] { return word({"set-aside", "put-back", "accept", "mark-moved"}); };
    out.push_back({"DecideRequest",
                   {{"kind", decision()},
                    {"subject", text(), false, "\"S1:H3\", \"S1:H3#2\", a fact's id, or a mark"},
                    {"reason", text()},
                    {"initials", text()}},
                   true});
    out.push_back({"Decided", {{"fact", or_null(text())}, {"what", text()}}});
    out.push_back(
        {"DecideAnswer", {{"decision", decision()}, {"decided", list(record("Decided"))}}});

    out.push_back({"PreviewRequest",
                   {{"digest", text()},
                    absent("role", role()),
                    absent("unit", unit_word()),
                    absent("map", by_name(text()))},
                   true});
    out.push_back({"PreviewField",
                   {{"field", text()},
                    {"needed", flag()},
                    {"unit_kind", word({"length", "angle", "none"})},
                    {"column", or_null(text()), false, "of the file"}}});
    out.push_back({"PreviewAnswer",
                   {{"act", word({"preview"})},
                    {"digest", text()},
                    {"name", text()},
                    {"role", or_null(role()), false, "as asked for, else guessed from the header"},
                    {"columns", list(text())},
                    {"rows", list(list(text())), false, "the first eight"},
                    {"fields", list(record("PreviewField"))},
                    {"needs_unit", flag()},
                    {"refusal", or_null(record("Refusal")), false, "what take would say"},
                    {"rows_total", whole()}}});

    out.push_back({"StopRequest", {{"work", text()}}, true});
    out.push_back({"StopAnswer", {{"act", word({"stop"})}, {"stopped", flag()}}});
}

}  // namespace layproof::acts::internal::shape
