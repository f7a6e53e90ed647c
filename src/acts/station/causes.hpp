#pragma once
// The causes table that layproof carries, as text to be copied and changed.

#include <string_view>

namespace layproof::acts {

std::string_view shipped_causes();

}  // namespace layproof::acts
