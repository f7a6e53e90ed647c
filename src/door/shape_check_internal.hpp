#pragma once
// JSON held against a shape.

#include <optional>
#include <string>
#include <string_view>

#include "door/json_internal.hpp"
#include "door/shapes.hpp"

namespace layproof::acts::internal {

/// Null when `text` is not one JSON value in UTF-8, or nests deeper than kDeepestJson.
std::optional<Json> parse_json(std::string_view text);

inline constexpr int kDeepestJson = 16;

/// The request of an act, checked. Fields that may be absent and are null are taken out, so that
/// the act need look for absence only.
Result<Json> read_request(std::string_view act, std::string_view text);

}  // namespace layproof::acts::internal
