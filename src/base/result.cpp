#include "base/result.hpp"

#include <fmt/format.h>

namespace layproof {

std::string Refusal::to_text() const {
    std::string where = place.file;
    if (place.line > 0) where += fmt::format(":{}", place.line);
    if (place.column > 0) where += fmt::format(":{}", place.column);
    if (!where.empty()) where += ": ";
    return fmt::format("{}found {}, expected {} [E{} {}]", where, found, expected,
                       static_cast<int>(code), to_word(code));
}

}  // namespace layproof
