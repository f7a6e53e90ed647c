#include "drawing/xml_text.hpp"

namespace layproof::drawing {
namespace {

constexpr char32_t kReplacement = 0xFFFD;

bool allowed_in_xml(char32_t c) {
    if (c < 0x20) return c == 0x9 || c == 0xA || c == 0xD;
    if (c >= 0x7F && c <= 0x9F) return false;  // allowed but discouraged; no glyph to show
    if (c >= 0xD800 && c <= 0xDFFF) return false;
    return c <= 0x10FFFF && c != 0xFFFE && c != 0xFFFF;
}

struct Lead {
    std::size_t length;
    char32_t bits;
    char32_t smallest;
};

Lead lead_of(unsigned char byte) {
    if (byte < 0x80) return {1, byte, 0};
    if (byte >= 0xC2 && byte <= 0xDF) return {2, byte & 0x1FU, 0x80};
    if (byte >= 0xE0 && byte <= 0xEF) return {3, byte & 0x0FU, 0x800};
    if (byte >= 0xF0 && byte <= 0xF4) return {4, byte & 0x07U, 0x10000};
    return {0, 0, 0};
}

}  // namespace

std::vector<char32_t> code_points(std::string_view text) {
    std::vector<char32_t> result;
    result.reserve(text.size());
    std::size_t i = 0;
    while (i < text.size()) {
        const Lead lead = lead_of(static_cast<unsigned char>(text[i]));
        char32_t c = lead.bits;
        bool good = lead.length > 0 && i + lead.length <= text.size();
        for (std::size_t k = 1; good && k < lead.length; ++k) {
            const auto byte = static_cast<unsigned char>(text[i + k]);
            good = (byte & 0xC0U) == 0x80U;
            c = (c << 6U) | (byte & 0x3FU);
        }
        good = good && c >= lead.smallest;
        result.push_back(good && allowed_in_xml(c) ? c : kReplacement);
        i += good ? lead.length : 1;
    }
    return result;
}

std::string to_utf8(const std::vector<char32_t>& text) {
    std::string out;
    const auto put = [&out](char32_t byte) { out.push_back(static_cast<char>(byte)); };
    for (const char32_t c : text) {
        if (c < 0x80) {
            put(c);
        } else if (c < 0x800) {
            put(0xC0U | (c >> 6U));
            put(0x80U | (c & 0x3FU));
        } else if (c < 0x10000) {
            put(0xE0U | (c >> 12U));
            put(0x80U | ((c >> 6U) & 0x3FU));
            put(0x80U | (c & 0x3FU));
        } else {
            put(0xF0U | (c >> 18U));
            put(0x80U | ((c >> 12U) & 0x3FU));
            put(0x80U | ((c >> 6U) & 0x3FU));
            put(0x80U | (c & 0x3FU));
        }
    }
    return out;
}

std::string escape_xml(std::string_view text) {
    const std::string clean = to_utf8(code_points(text));
    std::string out;
    out.reserve(clean.size());
    for (const char c : clean) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += "&#39;";
                break;
            case '\n':
            case '\r':
            case '\t':
                out += ' ';
                break;
            default:
                out += c;
        }
    }
    return out;
}

std::string shorten(std::string_view text, std::size_t most) {
    std::vector<char32_t> points = code_points(text);
    if (points.size() > most) {
        points.resize(most);
        points.back() = U'…';
    }
    return to_utf8(points);
}

}  // namespace layproof::drawing
