#include "acts/shared/refusal_json.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "acts/shared/json.hpp"
#include "acts/shared/refusal_json_value.hpp"

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

namespace internal {

Json refusal_json(const RefusedRequest& refused) {
    const Refusal& r = refused.refusal;
    return {{"code", fmt::format("E{}", static_cast<int>(r.code))},
            {"kind", to_word(r.code)},
            {"file", r.place.file},
            {"line", r.place.line},
            {"column", r.place.column},
            {"found", r.found},
            {"expected", r.expected},
            {"field", refused.field.empty() ? Json(nullptr) : Json(refused.field)},
            {"says", sentence_of(r)}};
}

}  // namespace internal

std::string to_json(const RefusedRequest& refused) {
    const internal::Json out{{"refusal", internal::refusal_json(refused)}};
    return out.dump(-1, ' ', false, internal::Json::error_handler_t::replace) + "\n";
}

}  // namespace layproof::acts
