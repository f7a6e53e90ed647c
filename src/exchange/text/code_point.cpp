#include "exchange/text/code_point.hpp"

#include <charconv>

#include "base/text/utf8.hpp"

namespace layproof::exchange {

void append_escaped(std::string& out, std::uint32_t c) {
    append_utf8(out, c < 0x20 ? U' ' : static_cast<char32_t>(c));
}

std::optional<std::uint32_t> hexadecimal(std::string_view digits) {
    std::uint32_t value = 0;
    const auto [end, error] =
        std::from_chars(digits.data(), digits.data() + digits.size(), value, 16);
    if (digits.empty() || error != std::errc{} || end != digits.data() + digits.size()) {
        return std::nullopt;
    }
    return value;
}

}  // namespace layproof::exchange
