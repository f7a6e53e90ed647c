#include <algorithm>
#include <charconv>
#include <cstdint>
#include <optional>

#include "exchange/dxf/dxf_groups_internal.hpp"
#include "exchange/text/code_point.hpp"
#include "exchange/text/number.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

constexpr int kLowestCode = -5;
constexpr int kHighestCode = 1071;

/// Old files are in the code page of their maker; 1252 is the likeliest, and all of it but 32
/// characters is Latin-1.
std::string as_utf8(std::string_view value) {
    const Document probe{"", std::string(value)};
    if (value.empty() || !check_text(probe)) return std::string(value);
    std::string out;
    for (const char c : value) append_escaped(out, static_cast<unsigned char>(c));
    return out;
}

/// Length of the MTEXT formatting code after a backslash, with its argument.
std::size_t format_length(std::string_view rest) {
    constexpr std::string_view kWithArgument = "ACFHQTWfpcS";
    if (rest.empty()) return 0;
    if (kWithArgument.find(rest[0]) == std::string_view::npos) return 1;
    const std::size_t end = rest.find(';');
    return end == std::string_view::npos ? rest.size() : end + 1;
}

}  // namespace

DxfGroups::DxfGroups(const Document& document)
    : document_(document), rest_(without_bom(document.bytes)) {}

std::string_view DxfGroups::take_line() {
    const std::size_t end = std::min(rest_.find('\n'), rest_.size());
    const std::string_view line = rest_.substr(0, end);
    rest_.remove_prefix(std::min(end + 1, rest_.size()));
    ++line_;
    return trimmed(line);
}

Result<bool> DxfGroups::next(DxfGroup& group) {
    if (is_back_) {
        is_back_ = false;
        group = last_;
        return true;
    }
    if (rest_.empty()) return false;
    const std::string_view code = take_line();
    int number = 0;
    const auto [end, error] = std::from_chars(code.data(), code.data() + code.size(), number);
    if (error != std::errc{} || end != code.data() + code.size() || number < kLowestCode ||
        number > kHighestCode) {
        if (code.empty() && trimmed(rest_).empty()) {
            rest_ = {};
            return false;
        }
        return Refusal{ErrorCode::not_well_formed, place(),
                       code.size() < 200 ? in_quotes(code) : "a long line",
                       "a group code, a whole number from -5 to 1071"};
    }
    if (rest_.empty()) {
        return Refusal{ErrorCode::not_well_formed, place(), "a group code at the end of the file",
                       "a value in the line after it"};
    }
    const std::string_view value = take_line();
    last_ = {number, value, line_};
    group = last_;
    return true;
}

Result<double> dxf_number(const DxfGroups& groups, const DxfGroup& group) {
    const auto value = plain_double(group.value);
    if (value) return *value;
    return Refusal{ErrorCode::not_a_number, groups.place(group),
                   group.value.size() < 200 ? in_quotes(group.value) : "a long text",
                   "a number in group " + std::to_string(group.code)};
}

std::string dxf_text(std::string_view value, bool is_mtext) {
    constexpr std::size_t kLongest = 1000;
    value = value.substr(0, kLongest);
    std::string out;
    for (std::size_t i = 0; i < value.size(); ++i) {
        const std::string_view rest = value.substr(i);
        if (rest.size() >= 7 && (rest.starts_with("\\U+") || rest.starts_with("\\u+"))) {
            if (const auto c = hexadecimal(rest.substr(3, 4))) {
                append_escaped(out, *c);
                i += 6;
                continue;
            }
        }
        if (rest.size() >= 3 && rest.starts_with("%%")) {
            const char c = rest[2];
            if (c == 'd' || c == 'D') out += "°";
            if (c == 'c' || c == 'C') out += "⌀";
            if (c == 'p' || c == 'P') out += "±";
            if (c == '%') out += '%';
            i += 2;
            continue;
        }
        if (is_mtext && value[i] == '\\' && rest.size() >= 2) {
            const char c = rest[1];
            if (c == 'P' || c == 'N' || c == '~') {
                out += ' ';
                ++i;
            } else if (c == '\\' || c == '{' || c == '}') {
                out += c;
                ++i;
            } else {
                i += format_length(rest.substr(1));
            }
            continue;
        }
        if (is_mtext && (value[i] == '{' || value[i] == '}')) continue;
        out += value[i] == '\t' ? ' ' : value[i];
    }
    return std::string(trimmed(as_utf8(out)));
}

}  // namespace layproof::exchange
