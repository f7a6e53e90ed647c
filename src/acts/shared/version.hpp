#pragma once
// The version of this build.

#include <string_view>

namespace layproof::acts {

std::string_view version();

}  // namespace layproof::acts
