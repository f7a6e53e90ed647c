#pragma once
// Characters and their bytes (UTF-8, RFC 3629).

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace layproof {

inline constexpr char32_t kReplacementCharacter = 0xFFFD;

/// Whether the byte belongs to the character before it.
constexpr bool is_continuation(char byte) {
    return (static_cast<unsigned char>(byte) & 0xC0U) == 0x80U;
}

/// Number of characters in valid UTF-8.
int character_count(std::string_view text);

/// One for each character. Each byte that is not part of valid UTF-8 becomes U+FFFD; so does a
/// sequence that spells half of a surrogate pair or lies beyond U+10FFFF, the former as one.
std::vector<char32_t> code_points(std::string_view text);

/// Appends the character as UTF-8. What is no Unicode character (surrogates, above 10FFFF):
/// U+FFFD.
void append_utf8(std::string& out, char32_t c);

std::string to_utf8(const std::vector<char32_t>& text);

/// At most `most` characters, the last of them "…" when something was cut off. most > 0.
std::string shorten(std::string_view text, std::size_t most);

}  // namespace layproof
