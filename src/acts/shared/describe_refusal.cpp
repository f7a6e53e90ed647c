#include <fmt/format.h>

#include <algorithm>

#include "acts/shared/describe.hpp"
#include "acts/shared/refusal_json.hpp"

namespace layproof::acts {

std::string sentence_of(const Refusal& refusal) {
    const auto table = error_table();
    const auto entry = std::find_if(table.begin(), table.end(),
                                    [&](const ErrorEntry& e) { return e.code == refusal.code; });
    std::string where = refusal.place.file;
    if (refusal.place.line > 0)
        where += fmt::format("{}line {}", where.empty() ? "" : ", ", refusal.place.line);
    if (refusal.place.line > 0 && refusal.place.column > 0)
        where += fmt::format(", column {}", refusal.place.column);
    return fmt::format("{}{}ound {}, expected {}.",
                       entry == table.end() ? std::string() : std::string(entry->meaning) + " ",
                       where.empty() ? "F" : "In " + where + ": f", refusal.found,
                       refusal.expected);
}

void describe(Fields& f, const RefusedRequest& refused) {
    const Refusal& r = refused.refusal;
    f.is("Refusal");
    f.text("code", fmt::format("E{}", static_cast<int>(r.code)), "E109");
    f.text("kind", to_word(r.code), "unit-missing");
    f.text("file", r.place.file);
    f.whole("line", r.place.line, "from 1; 0: not applicable");
    f.whole("column", r.place.column);
    f.text("found", r.found);
    f.text("expected", r.expected);
    f.text_or_null("field", refused.field, "of the request that was refused");
    f.text("says", sentence_of(r), "the whole sentence");
}

void describe(Fields& f, const RefusalAnswer& answer) {
    f.is("RefusalAnswer");
    f.record("refusal", answer.refused);
}

std::string to_json(const RefusedRequest& refused) {
    return json_document(RefusalAnswer{refused}, -1);
}

}  // namespace layproof::acts
