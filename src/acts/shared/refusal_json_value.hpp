#pragma once
// The record Refusal inside a larger answer.

#include "acts/shared/json.hpp"
#include "acts/shared/refusal_json.hpp"

namespace layproof::acts::internal {

Json refusal_json(const RefusedRequest& refused);

}  // namespace layproof::acts::internal
