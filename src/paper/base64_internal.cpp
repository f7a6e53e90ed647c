#include "paper/base64_internal.hpp"

#include <array>
#include <cstdint>

namespace layproof::paper {
namespace {

constexpr std::string_view kBase64 =
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

}  // namespace

std::string to_base64(std::string_view bytes) {
    std::string out;
    out.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        std::uint32_t three = 0;
        for (std::size_t k = 0; k < 3; ++k)
            three = three << 8U |
                    (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
        for (std::size_t k = 0; k < 4; ++k)
            out += i + k > bytes.size() ? '=' : kBase64[three >> (18U - 6U * k) & 63U];
    }
    return out;
}

std::optional<std::string> from_base64(std::string_view text) {
    std::array<int, 256> value{};
    value.fill(-1);
    for (std::size_t i = 0; i < kBase64.size(); ++i)
        value[static_cast<unsigned char>(kBase64[i])] = static_cast<int>(i);
    std::string out;
    std::uint32_t bits = 0;
    int have = 0;
    std::size_t digits = 0;
    std::size_t padding = 0;
    for (const char c : text) {
        if (c == ' ' || c == '\n' || c == '\r' || c == '\t') continue;
        if (c == '=') {
            ++padding;
            continue;
        }
        const int v = value[static_cast<unsigned char>(c)];
        if (v < 0 || padding > 0) return std::nullopt;
        ++digits;
        bits = bits << 6U | static_cast<std::uint32_t>(v);
        have += 6;
        if (have >= 8) {
            have -= 8;
            out += static_cast<char>(bits >> static_cast<unsigned>(have) & 255U);
        }
    }
    const std::size_t left = digits % 4;
    if (left == 1 || padding > 2 || (digits + padding) % 4 != 0) return std::nullopt;
    return out;
}

}  // namespace layproof::paper
