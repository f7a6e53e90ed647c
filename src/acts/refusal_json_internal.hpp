#pragma once
// The record Refusal inside a larger answer.

#include "acts/json_internal.hpp"
#include "acts/refusal_json.hpp"

namespace layproof::acts::internal {

Json refusal_json(const RefusedRequest& refused);

}  // namespace layproof::acts::internal
