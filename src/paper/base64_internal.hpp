#pragma once
// Base64 (RFC 4648, with padding).

#include <optional>
#include <string>
#include <string_view>

namespace layproof::paper {

std::string to_base64(std::string_view bytes);
/// Nothing when it is anything else; white space is passed over.
std::optional<std::string> from_base64(std::string_view text);

}  // namespace layproof::paper
