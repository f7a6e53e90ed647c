#include "paper/settable.hpp"

#include <vector>

#include "base/text/utf8.hpp"
#include "base/text/xml.hpp"

namespace layproof::paper {
namespace {

/// U+202A to U+202E and U+2066 to U+2069.
bool turns_direction(char32_t c) {
    return (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
}

}  // namespace

std::string settable(std::string_view text) {
    bool is_plain = true;
    for (const char c : text) is_plain = is_plain && c >= 0x20 && c < 0x7F;
    if (is_plain) return std::string(text);
    std::vector<char32_t> points = code_points_in_xml(text);
    for (char32_t& c : points) {
        // U+2028 and U+2029 break lines too.
        if (c == U'\n' || c == U'\r' || c == U'\t' || c == 0x2028 || c == 0x2029 || c == 0x85)
            c = U' ';
        else if (c < 0x20 || (c >= 0x7F && c < 0xA0) || turns_direction(c))
            c = 0xFFFD;
    }
    return to_utf8(points);
}

}  // namespace layproof::paper
