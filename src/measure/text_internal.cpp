#include "measure/text_internal.hpp"

#include <fast_float/fast_float.h>

#include <array>
#include <cmath>
#include <limits>
#include <system_error>
#include <utility>

#include "base/text/utf8.hpp"

namespace layproof::measure::internal {
namespace {

constexpr std::size_t kLongestQuote = 40;

struct Plain {
    std::string_view typed;
    char plain;
};

constexpr std::array<Plain, 15> kPlain{{
    {"\xE2\x80\xB2", '\''},  // U+2032 prime
    {"\xE2\x80\x99", '\''},  // U+2019 right single quotation mark
    {"\xE2\x80\x98", '\''},  // U+2018 left single quotation mark
    {"\xE2\x80\xB3", '"'},   // U+2033 double prime
    {"\xE2\x80\x9D", '"'},   // U+201D right double quotation mark
    {"\xE2\x80\x9C", '"'},   // U+201C left double quotation mark
    {"\xE2\x88\x92", '-'},   // U+2212 minus sign
    {"\xE2\x80\x93", '-'},   // U+2013 en dash
    {"\xC2\xB0", kDegree},   // U+00B0 degree sign
    {"\xC2\xBA", kDegree},   // U+00BA ordinal indicator, typed for it on many keyboards
    {"\xC2\xA0", ' '},       // U+00A0 no-break space
    {"\xE2\x80\x89", ' '},   // U+2009 thin space
    {"\xE2\x80\xAF", ' '},   // U+202F narrow no-break space
    {"\t", ' '},
    {"\x01", '?'},  // must not pass for a degree sign
}};

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

std::string_view trim(std::string_view text) {
    constexpr std::string_view kBlank = " \t\r\n";
    const auto first = text.find_first_not_of(kBlank);
    if (first == std::string_view::npos) return {};
    return text.substr(first, text.find_last_not_of(kBlank) - first + 1);
}

}  // namespace

std::string normalise(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        bool found = false;
        for (const auto& [typed, plain] : kPlain) {
            if (text.substr(0, typed.size()) != typed) continue;
            out += plain;
            text.remove_prefix(typed.size());
            found = true;
            break;
        }
        if (!found) {
            out += text.front();
            text.remove_prefix(1);
        }
        if (out.size() >= 2 && out.back() == '\'' && out[out.size() - 2] == '\'') {
            out.pop_back();
            out.back() = '"';
        }
    }
    return std::string(trim(out));
}

std::optional<double> whole_number(std::string_view text) {
    if (!text.empty() && text.front() == '+') {
        text.remove_prefix(1);
        if (!text.empty() && text.front() == '-') return std::nullopt;
    }
    if (text.empty()) return std::nullopt;
    double value = 0.0;
    const char* const last = text.data() + text.size();
    const auto [end, error] = fast_float::from_chars(text.data(), last, value);
    if (end != last) return std::nullopt;
    // Newer releases report what does not fit; a number too small for a double is then 0.
    if (error == std::errc::result_out_of_range) return value;
    if (error != std::errc()) return std::nullopt;
    return value;
}

std::string quoted(std::string_view text) {
    const std::string_view trimmed = trim(text);
    if (trimmed.size() <= kLongestQuote) return '"' + std::string(trimmed) + '"';
    std::size_t cut = kLongestQuote;
    while (cut > 0 && is_continuation(trimmed[cut])) --cut;
    return '"' + std::string(trimmed.substr(0, cut)) + "...\"";
}

Refusal refuse(ErrorCode code, std::string_view text, std::string expected, const Place& place) {
    if (trim(text).empty()) {
        return {ErrorCode::value_missing, place, "nothing", std::move(expected)};
    }
    return {code, place, quoted(text), std::move(expected)};
}

bool Scanner::take(char c) {
    if (peek() != c || at_end()) return false;
    ++position_;
    return true;
}

bool Scanner::skip_blanks() {
    const std::size_t start = position_;
    while (!at_end() && text_[position_] == ' ') ++position_;
    return position_ > start;
}

std::optional<Scanner::Decimal> Scanner::decimal() {
    std::size_t end = position_;
    bool has_digit = false;
    bool has_point = false;
    while (end < text_.size() && (is_digit(text_[end]) || (text_[end] == '.' && !has_point))) {
        if (text_[end] == '.') {
            has_point = true;
        } else {
            has_digit = true;
        }
        ++end;
    }
    if (!has_digit) return std::nullopt;
    const auto value = whole_number(text_.substr(position_, end - position_));
    if (!value) return std::nullopt;
    position_ = end;
    return Decimal{*value, !has_point};
}

}  // namespace layproof::measure::internal
