// Typed text as the cell of a table.

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include "door/typed.hpp"
#include "door/typed_internal.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using internal::TypedKind;
using measure::LengthUnit;

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

bool has_any(std::string_view text, std::string_view characters) {
    return text.find_first_of(characters) != std::string_view::npos;
}

/// The typographic marks of phones in plain ones; blanks run together.
std::string plain(std::string_view text) {
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 12> kMarks{{
        {"\u2032", "'"},
        {"\u2019", "'"},
        {"\u2018", "'"},
        {"\u00B4", "'"},
        {"\u2033", "\""},
        {"\u201D", "\""},
        {"\u201C", "\""},
        {"\u2212", "-"},
        {"\u2013", "-"},
        {"\u2044", "/"},
        {"\u00BA", "\u00B0"},
        {"\u00A0", " "},
    }};
    std::string out(exchange::trimmed(text));
    for (const auto& [mark, plain_mark] : kMarks)
        for (std::size_t at = out.find(mark); at != std::string::npos; at = out.find(mark, at))
            out.replace(at, mark.size(), plain_mark);
    const auto both_blank = [](char a, char b) { return a == ' ' && b == ' '; };
    out.erase(std::unique(out.begin(), out.end(), both_blank), out.end());
    return out;
}

/// Takes a unit's word off the end; the word as our tables write it.
std::string take_word(std::string& text,
                      std::initializer_list<std::pair<std::string_view, std::string_view>> words) {
    const std::string lower = exchange::lower(text);
    for (const auto& [word, ours] : words) {
        if (!lower.ends_with(word) || lower.size() == word.size()) continue;
        const char before = lower[lower.size() - word.size() - 1];
        if (!is_digit(before) && before != ' ' && before != '.') continue;
        text = std::string(exchange::trimmed(text.substr(0, text.size() - word.size())));
        return std::string(ours);
    }
    return {};
}

/// "123.4506": decimals that could be minutes and seconds run together, and say something else so.
bool is_packed_or_decimal(const std::string& text) {
    const std::size_t point = text.find('.');
    if (point == std::string::npos || has_any(text, " -'\"\u00B0/")) return false;
    const std::string decimals = text.substr(point + 1);
    if (decimals.size() < 4 || !std::all_of(decimals.begin(), decimals.end(), is_digit))
        return false;
    if (decimals.find_first_not_of('0') == std::string::npos) return false;
    return decimals[0] < '6' && decimals[2] < '6';
}

Result<TypedCell> angle_cell(std::string text) {
    if (const std::string gon = take_word(text, {{"gon", "gon"}}); !gon.empty())
        return TypedCell{text, "gon"};
    const bool says_degrees = !take_word(text, {{"degrees", "deg"}, {"deg", "deg"}}).empty();
    // 123.45.06 and 123.45.06.7: the keypad of a phone has no hyphen and no degree sign.
    const auto points = std::count(text.begin(), text.end(), '.');
    if ((points == 2 || points == 3) && !has_any(text, " -'\"\u00B0")) {
        const std::size_t first = text.find('.');
        const std::size_t second = text.find('.', first + 1);
        text[first] = '-';
        text[second] = '-';
        return TypedCell{text, "deg"};
    }
    if (!says_degrees && is_packed_or_decimal(text)) {
        const std::size_t point = text.find('.');
        const std::string dms = fmt::format("{}.{}.{}", text.substr(0, point),
                                            text.substr(point + 1, 2), text.substr(point + 3, 2));
        return Refusal{ErrorCode::not_an_angle,
                       {},
                       exchange::in_quotes(text),
                       fmt::format("{} for minutes and seconds or {}\u00B0 for decimal degrees, "
                                   "because it may be either,",
                                   dms, text)};
    }
    return TypedCell{text, "deg"};
}

/// Digits from `at` on, with decimals; where they end.
std::size_t number_end(const std::string& text, std::size_t at) {
    while (at < text.size() && (is_digit(text[at]) || text[at] == '.')) ++at;
    return at;
}

/// "12-3 1/2", "12 3 1/2", "12-3", "12 3.5" as 12'-3 1/2"; anything else as it was.
std::string with_feet_marks(const std::string& text) {
    std::size_t begin = 0;
    const bool is_negative = text.starts_with("-");
    if (is_negative) begin = 1;
    const std::size_t feet = number_end(text, begin);
    if (feet == begin || feet + 1 >= text.size() || (text[feet] != '-' && text[feet] != ' '))
        return text;
    const std::size_t inches_at = text[feet] == '-' && text[feet + 1] == ' ' ? feet + 2 : feet + 1;
    const std::size_t inches = number_end(text, inches_at);
    if (inches == inches_at) return text;
    std::string rest = text.substr(inches);
    // "12 1/2": a lone fraction of feet or of inches, which nobody can tell.
    if (rest.starts_with("/")) return text;
    if (rest.starts_with("-")) rest[0] = ' ';
    if (!rest.empty() && rest.find('/') == std::string::npos) return text;
    return fmt::format("{}{}'-{}{}\"", is_negative ? "-" : "", text.substr(begin, feet - begin),
                       text.substr(inches_at, inches - inches_at), rest);
}

Result<TypedCell> length_cell(std::string text, std::optional<LengthUnit> unit) {
    const std::string word = take_word(text, {{"us-ft", "us-ft"},
                                              {"usft", "us-ft"},
                                              {"mm", "mm"},
                                              {"ft", "ft"},
                                              {"in", "in"},
                                              {"m", "m"}});
    if (!word.empty()) return TypedCell{text, word};
    const bool is_foot = unit == LengthUnit::foot || unit == LengthUnit::us_foot;
    if (has_any(text, "'\"")) {
        // Feet and inches where the job counts in metres are international ones.
        return TypedCell{text, unit == LengthUnit::us_foot ? "us-ft" : "ft"};
    }
    if (!unit)
        return Refusal{ErrorCode::unit_missing,
                       {},
                       fmt::format("{} without a unit", exchange::in_quotes(text)),
                       "the unit, as in 3.2 m or 10.5 ft"};
    return TypedCell{is_foot ? with_feet_marks(text) : text, std::string(measure::to_word(*unit))};
}

Result<TypedCell> unit_cell(std::string text, TypedKind kind) {
    const std::string word =
        kind == TypedKind::temperature
            ? take_word(text,
                        {{"\u00B0c", "C"}, {"\u00B0f", "F"}, {"c", "C"}, {"f", "F"}, {"k", "K"}})
            : take_word(text,
                        {{"hpa", "hPa"}, {"mbar", "mbar"}, {"mmhg", "mmHg"}, {"inhg", "inHg"}});
    if (!word.empty()) return TypedCell{text, word};
    return Refusal{ErrorCode::unit_missing,
                   {},
                   fmt::format("{} without a unit", exchange::in_quotes(text)),
                   kind == TypedKind::temperature ? "the unit, as in 20 C or 68 F"
                                                  : "the unit, as in 1013 hPa or 29.92 inHg"};
}

}  // namespace

namespace internal {

std::optional<TypedKind> typed_kind(std::string_view field) {
    static const std::map<std::string_view, TypedKind> kKinds{
        {"direction", TypedKind::angle},
        {"zenith", TypedKind::angle},
        {"slope_distance", TypedKind::length},
        {"horizontal_distance", TypedKind::length},
        {"target_height", TypedKind::length},
        {"instrument_height", TypedKind::length},
        {"east", TypedKind::length},
        {"north", TypedKind::length},
        {"height", TypedKind::length},
        {"time", TypedKind::time},
        {"temperature", TypedKind::temperature},
        {"pressure", TypedKind::pressure},
    };
    const auto at = kKinds.find(field);
    if (at == kKinds.end()) return std::nullopt;
    return at->second;
}

}  // namespace internal

bool is_typed_field(std::string_view field) {
    return internal::typed_kind(field).has_value();
}

Result<TypedCell> typed_cell(std::string_view field, std::string_view text,
                             std::optional<LengthUnit> unit) {
    constexpr std::size_t kLongestTyped = 100;
    const auto kind = internal::typed_kind(field);
    std::string typed = plain(text);
    if (typed.empty())
        return Refusal{ErrorCode::value_missing, {}, "nothing", typed_hint(field, unit)};
    if (!kind || typed.size() > kLongestTyped)
        return Refusal{
            ErrorCode::out_of_range, {}, exchange::in_quotes(text), typed_hint(field, unit)};
    switch (*kind) {
        case TypedKind::angle:
            return angle_cell(std::move(typed));
        case TypedKind::length:
            return length_cell(std::move(typed), unit);
        case TypedKind::temperature:
        case TypedKind::pressure:
            return unit_cell(std::move(typed), *kind);
        case TypedKind::time:
            return TypedCell{std::move(typed), {}};
    }
    return TypedCell{std::move(typed), {}};
}

std::string typed_hint(std::string_view field, std::optional<LengthUnit> unit) {
    switch (internal::typed_kind(field).value_or(TypedKind::time)) {
        case TypedKind::angle:
            return "123-45-06, 123.45.06 or 123 45 06; decimal degrees as 123.75\u00B0";
        case TypedKind::length:
            if (unit == LengthUnit::foot || unit == LengthUnit::us_foot)
                return "12.25, 12-3 1/2 or 12'-3 1/2\", or with its unit as 3.75 m";
            return "12.345, or with its unit as 12.345 m, 40.5 ft or 12'-3 1/2\"";
        case TypedKind::temperature:
            return "20 C or 68 F";
        case TypedKind::pressure:
            return "1013 hPa, 760 mmHg or 29.92 inHg";
        case TypedKind::time:
            break;
    }
    return "a date and time with its offset, such as 2026-03-04T07:45:00-05:00";
}

}  // namespace layproof::acts
