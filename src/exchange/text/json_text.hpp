#pragma once
// JSON (RFC 8259) as a tree in which every value knows where it stands: what is wrong with a value
// is then said with line and column.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct JsonValue {
    enum class Kind { null, boolean, number, text, array, object };
    Kind kind = Kind::null;
    double number = 0.0;  ///< 1 for true
    std::string text;
    std::vector<JsonValue> array;    ///< elements, or the members of an object
    std::vector<std::string> names;  ///< of the members
    std::size_t offset = 0;          ///< in the bytes

    /// The first member of that name; null when there is none.
    const JsonValue* find(std::string_view name) const;
};

/// Error codes: empty_file, not_utf8, not_well_formed, nested_too_deep (64), file_too_large (above
/// 64 MiB, or 4,000,000 values).
Result<JsonValue> parse_json(const Document& document);

/// Line and column of a value.
Place place_of(const Document& document, std::size_t offset);

}  // namespace layproof::exchange
