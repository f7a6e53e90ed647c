#include "exchange/text/number.hpp"

#include <fast_float/fast_float.h>

#include <cmath>
#include <system_error>

#include "exchange/text/text.hpp"

namespace layproof::exchange {

Result<double> parse_number(std::string_view text, const Place& place) {
    constexpr auto kExpected = "a number such as 12.5";
    std::string_view digits = trimmed(text);
    if (digits.empty()) return Refusal{ErrorCode::value_missing, place, "nothing", kExpected};
    if (digits.size() > 1 && digits[0] == '+' && digits[1] != '-') digits.remove_prefix(1);
    double value = 0.0;
    const auto [end, error] =
        fast_float::from_chars(digits.data(), digits.data() + digits.size(), value);
    if (error == std::errc::invalid_argument || end != digits.data() + digits.size()) {
        return Refusal{ErrorCode::not_a_number, place, in_quotes(text), kExpected};
    }
    if (std::isfinite(value)) return value;
    const bool is_word = digits.find_first_of("0123456789") == std::string_view::npos;
    return Refusal{is_word ? ErrorCode::not_finite : ErrorCode::out_of_range, place,
                   in_quotes(text), kExpected};
}

std::optional<double> plain_double(std::string_view text) {
    text = trimmed(text);
    if (text.size() > 1 && text[0] == '+' && text[1] != '-') text.remove_prefix(1);
    double value = 0.0;
    const auto [end, error] = fast_float::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) {
        return std::nullopt;
    }
    return value;
}

}  // namespace layproof::exchange
