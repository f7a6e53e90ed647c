#pragma once
// The records of all requests.

#include <vector>

#include "door/shapes.hpp"

namespace layproof::acts::internal {

std::vector<ShapeRecord> request_shapes();

}  // namespace layproof::acts::internal
