#pragma once
// Characters given by their number, as files write them in escapes.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace layproof::exchange {

/// Appends the character as append_utf8 does; a blank for control characters.
void append_escaped(std::string& out, std::uint32_t c);

/// The number of all of `digits`; nothing when one is no hexadecimal digit, there is none, or it is
/// larger than 32 bits.
std::optional<std::uint32_t> hexadecimal(std::string_view digits);

}  // namespace layproof::exchange
