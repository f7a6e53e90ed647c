#pragma once
// TOML files as toml++ tables, with its exceptions turned into refusals. Only .cpp files of this
// room include this header.

#include <fmt/format.h>
#include <toml++/toml.h>

#include <cstddef>
#include <string>
#include <utility>

#include "base/result.hpp"
#include "exchange/text/document.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {

/// A settings file above this is not one.
inline constexpr std::size_t kLargestTomlBytes = std::size_t{1} << 20U;

inline Place place_of(const std::string& file, const toml::source_region& source) {
    return {file, static_cast<int>(source.begin.line), static_cast<int>(source.begin.column)};
}

/// Error codes: file_too_large, empty_file, not_utf8, not_toml.
inline Result<toml::table> parse_toml(const Document& document) {
    if (document.bytes.size() > kLargestTomlBytes) {
        return Refusal{ErrorCode::file_too_large,
                       {document.name, 0, 0},
                       fmt::format("{} bytes", document.bytes.size()),
                       "a TOML file of at most 1 MiB"};
    }
    if (auto refusal = check_text(document)) {
        if (refusal->code == ErrorCode::empty_file) refusal->expected = "lines such as key = value";
        return *std::move(refusal);
    }
    try {
        return toml::parse(without_bom(document.bytes), document.name);
    } catch (const toml::parse_error& error) {
        return Refusal{ErrorCode::not_toml, place_of(document.name, error.source()),
                       fmt::format("text that does not read: {}", error.description()),
                       "lines such as key = value"};
    }
}

}  // namespace layproof::exchange
