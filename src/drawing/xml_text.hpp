#pragma once
// Text for XML and SVG: any bytes in, well-formed character data out.

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace layproof::drawing {

/// Code points of a UTF-8 text. Each byte that is not part of valid UTF-8 (RFC 3629), and each
/// character that XML 1.0 does not allow, becomes U+FFFD.
std::vector<char32_t> code_points(std::string_view text);

/// UTF-8 of code points.
std::string to_utf8(const std::vector<char32_t>& text);

/// Character data and attribute values: & < > " ' as entities, the rest as code_points says. Line
/// breaks and tabs become blanks.
std::string escape_xml(std::string_view text);

/// At most `most` code points, the last of them "…" when something was cut off. most > 0.
std::string shorten(std::string_view text, std::size_t most);

}  // namespace layproof::drawing
