#pragma once
// Text of a paper before it is set.

#include <string>
#include <string_view>

namespace layproof::paper {

/// Text that can be set: UTF-8 without control characters; line breaks and tabs are blanks. Marks
/// that turn the direction of all that follows are taken out of names, so that none can turn a
/// figure behind it.
std::string settable(std::string_view text);

}  // namespace layproof::paper
