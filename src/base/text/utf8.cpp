#include "base/text/utf8.hpp"

#include <algorithm>

namespace layproof {
namespace {

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

bool is_character(char32_t c) {
    return c <= 0x10FFFF && !(c >= 0xD800 && c <= 0xDFFF);
}

}  // namespace

int character_count(std::string_view text) {
    return static_cast<int>(
        std::count_if(text.begin(), text.end(), [](char c) { return !is_continuation(c); }));
}

std::vector<char32_t> code_points(std::string_view text) {
    std::vector<char32_t> result;
    result.reserve(text.size());
    std::size_t i = 0;
    while (i < text.size()) {
        const Lead lead = lead_of(static_cast<unsigned char>(text[i]));
        char32_t c = lead.bits;
        bool good = lead.length > 0 && i + lead.length <= text.size();
        for (std::size_t k = 1; good && k < lead.length; ++k) {
            good = is_continuation(text[i + k]);
            c = (c << 6U) | (static_cast<unsigned char>(text[i + k]) & 0x3FU);
        }
        good = good && c >= lead.smallest;
        result.push_back(good && is_character(c) ? c : kReplacementCharacter);
        i += good ? lead.length : 1;
    }
    return result;
}

void append_utf8(std::string& out, char32_t c) {
    const auto put = [&out](char32_t byte) { out.push_back(static_cast<char>(byte)); };
    if (!is_character(c)) c = kReplacementCharacter;
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

std::string to_utf8(const std::vector<char32_t>& text) {
    std::string out;
    for (const char32_t c : text) append_utf8(out, c);
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

}  // namespace layproof
