#pragma once
// Text for XML, SVG and HTML: any bytes in, well-formed character data out.

#include <string>
#include <string_view>
#include <vector>

namespace layproof {

/// Code points of a UTF-8 text. Each byte that is not part of valid UTF-8, and each character that
/// XML 1.0 does not allow or discourages, becomes U+FFFD.
std::vector<char32_t> code_points_in_xml(std::string_view text);

/// Character data and attribute values: & < > " ' as entities, the rest as code_points_in_xml says.
/// Line breaks and tabs become blanks.
std::string escape_xml(std::string_view text);

/// The text behind the entities of escape_xml.
std::string unescape_xml(std::string_view text);

}  // namespace layproof
