#pragma once
// Requests as JSON values. Answers need none: acts/shared/describe.hpp.

#include <nlohmann/json.hpp>

namespace layproof::acts::internal {

using Json = nlohmann::ordered_json;

inline constexpr double kMillimetre = 1000.0;

}  // namespace layproof::acts::internal
