#include "base/text/xml.hpp"

#include <array>
#include <utility>

#include "base/text/utf8.hpp"

namespace layproof {
namespace {

constexpr std::array<std::pair<char, std::string_view>, 5> kEntities{
    {{'&', "&amp;"}, {'<', "&lt;"}, {'>', "&gt;"}, {'"', "&quot;"}, {'\'', "&#39;"}}};

bool allowed_in_xml(char32_t c) {
    if (c < 0x20) return c == 0x9 || c == 0xA || c == 0xD;
    if (c >= 0x7F && c <= 0x9F) return false;  // allowed but discouraged; no glyph to show
    return c != 0xFFFE && c != 0xFFFF;
}

}  // namespace

std::vector<char32_t> code_points_in_xml(std::string_view text) {
    std::vector<char32_t> points = code_points(text);
    for (char32_t& c : points)
        if (!allowed_in_xml(c)) c = kReplacementCharacter;
    return points;
}

std::string escape_xml(std::string_view text) {
    const std::string clean = to_utf8(code_points_in_xml(text));
    std::string out;
    out.reserve(clean.size());
    for (const char c : clean) {
        const std::string_view* entity = nullptr;
        for (const auto& [plain, written] : kEntities)
            if (c == plain) entity = &written;
        if (entity != nullptr)
            out += *entity;
        else
            out += c == '\n' || c == '\r' || c == '\t' ? ' ' : c;
    }
    return out;
}

std::string unescape_xml(std::string_view text) {
    std::string out;
    while (!text.empty()) {
        std::size_t taken = 0;
        for (const auto& [plain, written] : kEntities) {
            if (!text.starts_with(written)) continue;
            out += plain;
            taken = written.size();
        }
        if (taken == 0) {
            out += text.front();
            taken = 1;
        }
        text.remove_prefix(taken);
    }
    return out;
}

}  // namespace layproof
