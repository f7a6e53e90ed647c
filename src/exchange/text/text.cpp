#include "exchange/text/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <vector>

#include "base/text/utf8.hpp"

namespace layproof::exchange {
namespace {

constexpr std::string_view kBom = "\xEF\xBB\xBF";
constexpr std::string_view kNoBreakSpace = "\xC2\xA0";

unsigned byte_at(std::string_view text, std::size_t i) {
    return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
}

bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

/// True when the eight bytes from here are printable ASCII; false may also mean "look closer".
bool is_plain(const char* at) {
    constexpr std::uint64_t kEach = 0x0101010101010101ULL;
    std::uint64_t word = 0;
    std::memcpy(&word, at, sizeof word);
    const std::uint64_t below_blank = word - kEach * 0x20U;
    const std::uint64_t above_tilde = word + kEach;
    return ((word | below_blank | above_tilde) & (kEach * 0x80U)) == 0;
}

/// Length of the valid UTF-8 sequence at i, 0 when there is none (RFC 3629 section 4).
std::size_t sequence_length(std::string_view text, std::size_t i) {
    const unsigned a = byte_at(text, i);
    const auto tail = [&](std::size_t k) { return (byte_at(text, i + k) & 0xC0U) == 0x80U; };
    const unsigned b = byte_at(text, i + 1);
    if (a < 0x80U) return 1;
    if (a >= 0xC2U && a <= 0xDFU) return tail(1) ? 2 : 0;
    if (a >= 0xE0U && a <= 0xEFU) {
        const unsigned low = a == 0xE0U ? 0xA0U : 0x80U;
        const unsigned high = a == 0xEDU ? 0x9FU : 0xBFU;
        return b >= low && b <= high && tail(2) ? 3 : 0;
    }
    if (a >= 0xF0U && a <= 0xF4U) {
        const unsigned low = a == 0xF0U ? 0x90U : 0x80U;
        const unsigned high = a == 0xF4U ? 0x8FU : 0xBFU;
        return b >= low && b <= high && tail(2) && tail(3) ? 4 : 0;
    }
    return 0;
}

Place place_of(const Document& document, std::string_view text, std::size_t offset) {
    Place place{document.name, 1, 1};
    for (std::size_t i = 0; i < offset; ++i) {
        const bool ends = text[i] == '\n' || (text[i] == '\r' && byte_at(text, i + 1) != '\n');
        if (ends) {
            ++place.line;
            place.column = 1;
        } else if (!is_continuation(text[i])) {
            ++place.column;
        }
    }
    return place;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
            diagonal = row[j];
            row[j] = std::min({replaced, row[j] + 1, row[j - 1] + 1});
        }
    }
    return row.back();
}

}  // namespace

std::string_view trimmed(std::string_view text) {
    while (!text.empty()) {
        if (is_blank(text.front())) {
            text.remove_prefix(1);
        } else if (text.substr(0, 2) == kNoBreakSpace) {
            text.remove_prefix(2);
        } else {
            break;
        }
    }
    while (!text.empty()) {
        if (is_blank(text.back())) {
            text.remove_suffix(1);
        } else if (text.size() >= 2 && text.substr(text.size() - 2) == kNoBreakSpace) {
            text.remove_suffix(2);
        } else {
            break;
        }
    }
    return text;
}

std::string lower(std::string_view text) {
    std::string result(text);
    for (char& c : result) {
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    }
    return result;
}

std::string normal_name(std::string_view text) {
    std::string result;
    for (const char c : lower(trimmed(text))) {
        const bool joins = c == ' ' || c == '\t' || c == '_' || c == '-';
        if (!joins) {
            result += c;
        } else if (!result.empty() && result.back() != '_') {
            result += '_';
        }
    }
    return result;
}

std::string in_quotes(std::string_view text) {
    constexpr int kMost = 40;
    std::size_t end = 0;
    int count = 0;
    while (end < text.size() && (count < kMost || is_continuation(text[end]))) {
        if (!is_continuation(text[end])) ++count;
        ++end;
    }
    return fmt::format("\"{}{}\"", text.substr(0, end), end < text.size() ? "…" : "");
}

std::string listed(std::span<const std::string> words) {
    std::string result;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (i > 0) result += i + 1 == words.size() ? " and " : ", ";
        result += words[i];
    }
    return result;
}

std::optional<std::string> nearest(std::string_view word, std::span<const std::string> candidates) {
    if (word.size() > 80) return std::nullopt;
    std::optional<std::string> best;
    std::size_t least = std::max<std::size_t>(1, word.size() / 3) + 1;
    for (const std::string& candidate : candidates) {
        const std::size_t distance = edit_distance(word, candidate);
        if (distance < least) {
            least = distance;
            best = candidate;
        }
    }
    return best;
}

std::optional<Refusal> check_text(const Document& document) {
    const std::string_view text = without_bom(document.bytes);
    if (trimmed(text).empty()) {
        return Refusal{ErrorCode::empty_file,
                       {document.name, 1, 1},
                       "nothing",
                       "a header line and rows of data"};
    }
    const auto refuse = [&](std::size_t offset, std::string found) {
        return Refusal{ErrorCode::not_utf8, place_of(document, text, offset), std::move(found),
                       "plain text in UTF-8"};
    };
    if (text.size() >= 2 && ((byte_at(text, 0) == 0xFFU && byte_at(text, 1) == 0xFEU) ||
                             (byte_at(text, 0) == 0xFEU && byte_at(text, 1) == 0xFFU))) {
        return refuse(0, "text in UTF-16");
    }
    std::size_t i = 0;
    while (i < text.size()) {
        if (i + 8 <= text.size() && is_plain(text.data() + i)) {
            i += 8;
            continue;
        }
        const unsigned byte = byte_at(text, i);
        if (byte < 0x20U || byte == 0x7FU) {
            if (byte != '\t' && byte != '\r' && byte != '\n') {
                return refuse(i, fmt::format("the control byte 0x{:02X}", byte));
            }
            ++i;
        } else if (byte < 0x80U) {
            ++i;
        } else {
            const std::size_t length = sequence_length(text, i);
            if (length == 0) return refuse(i, fmt::format("the byte 0x{:02X}", byte));
            i += length;
        }
    }
    return std::nullopt;
}

std::string_view without_bom(std::string_view bytes) {
    if (bytes.substr(0, kBom.size()) == kBom) bytes.remove_prefix(kBom.size());
    return bytes;
}

}  // namespace layproof::exchange
