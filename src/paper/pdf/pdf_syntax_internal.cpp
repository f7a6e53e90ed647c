#include "paper/pdf/pdf_syntax_internal.hpp"

#include <algorithm>
#include <charconv>
#include <limits>
#include <system_error>

namespace layproof::paper {
namespace {

/// Deeper than any program nests one object; objects beyond are not read.
constexpr int kDeepest = 100;

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

bool is_whole(std::string_view word) {
    return !word.empty() && std::all_of(word.begin(), word.end(), is_digit);
}

bool is_number(std::string_view word) {
    bool has_digit = false, has_point = false;
    for (std::size_t i = 0; i < word.size(); ++i) {
        if (is_digit(word[i]))
            has_digit = true;
        else if (word[i] == '.' && !has_point)
            has_point = true;
        else if (i != 0 || (word[i] != '+' && word[i] != '-'))
            return false;
    }
    return has_digit;
}

std::optional<std::size_t> value_of_digits(std::string_view word) {
    if (!is_whole(word)) return std::nullopt;
    std::size_t value = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
    if (error != std::errc{}) return std::nullopt;
    return value;
}

int hexadecimal(char c) {
    if (is_digit(c)) return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
}

}  // namespace

bool is_pdf_blank(char c) {
    return c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == '\f' || c == '\0';
}

bool is_pdf_delimiter(char c) {
    return c == '(' || c == ')' || c == '<' || c == '>' || c == '[' || c == ']' || c == '/' ||
           c == '%' || c == '{' || c == '}';
}

std::optional<std::size_t> end_of_pdf_string(std::string_view text, std::size_t at) {
    int depth = 0;
    for (; at < text.size(); ++at) {
        const char c = text[at];
        if (c == '\\') {
            ++at;
        } else if (c == '(') {
            ++depth;
        } else if (c == ')' && --depth == 0) {
            return at + 1;
        }
    }
    return std::nullopt;
}

void PdfReading::skip_blanks() {
    while (at_ < text_.size()) {
        if (is_pdf_blank(text_[at_]))
            ++at_;
        else if (text_[at_] == '%')
            at_ = std::min(text_.find_first_of("\r\n", at_), text_.size());
        else
            return;
    }
}

std::string_view PdfReading::word_here() const {
    std::size_t end = at_;
    while (end < text_.size() && !is_pdf_blank(text_[end]) && !is_pdf_delimiter(text_[end])) ++end;
    return text_.substr(at_, end - at_);
}

bool PdfReading::skip_object(int depth) {
    skip_blanks();
    if (at_ >= text_.size() || depth > kDeepest) return false;
    const char c = text_[at_];
    if (c == '(') {
        const auto end = end_of_pdf_string(text_, at_);
        at_ = end.value_or(text_.size());
        return end.has_value();
    }
    if (c == '/') {
        ++at_;
        at_ += word_here().size();
        return true;
    }
    const bool is_dictionary = text_.substr(at_, 2) == "<<";
    if (is_dictionary || c == '[') {
        const std::string_view close = is_dictionary ? ">>" : "]";
        at_ += close.size();
        while (true) {
            skip_blanks();
            if (text_.substr(std::min(at_, text_.size()), close.size()) == close) {
                at_ += close.size();
                return true;
            }
            if (is_dictionary && (at_ >= text_.size() || text_[at_] != '/')) return false;
            if (is_dictionary && !skip_object(depth + 1)) return false;
            if (!skip_object(depth + 1)) return false;
        }
    }
    if (c == '<') {
        const std::size_t end = text_.find('>', at_);
        if (end == std::string_view::npos) return false;
        at_ = end + 1;
        return true;
    }
    const std::string_view word = word_here();
    if (word == "true" || word == "false" || word == "null") {
        at_ += word.size();
        return true;
    }
    if (!is_number(word)) return false;
    at_ += word.size();
    if (!is_whole(word)) return true;
    // "12 0 R" is one object; else the number stands alone.
    const std::size_t behind = at_;
    skip_blanks();
    const std::string_view generation = word_here();
    if (is_whole(generation)) {
        at_ += generation.size();
        if (takes("R")) return true;
    }
    at_ = behind;
    return true;
}

std::optional<std::string_view> PdfReading::object() {
    const std::size_t before = at_;
    skip_blanks();
    const std::size_t from = at_;
    if (skip_object(0)) return text_.substr(from, at_ - from);
    at_ = before;
    return std::nullopt;
}

bool PdfReading::takes(std::string_view word) {
    const std::size_t before = at_;
    skip_blanks();
    if (word_here() == word) {
        at_ += word.size();
        return true;
    }
    at_ = before;
    return false;
}

std::optional<std::size_t> PdfReading::number() {
    const std::size_t before = at_;
    skip_blanks();
    const std::string_view word = word_here();
    if (const auto value = value_of_digits(word)) {
        at_ += word.size();
        return value;
    }
    at_ = before;
    return std::nullopt;
}

std::optional<std::vector<PdfKey>> keys_of(std::string_view object) {
    if (object.substr(0, 2) != "<<") return std::nullopt;
    std::vector<PdfKey> out;
    PdfReading inside(object, 2);
    while (true) {
        const auto name = inside.object();
        if (!name) return out;
        const auto value = inside.object();
        if (!value) return std::nullopt;
        out.push_back({*name, *value});
    }
}

std::optional<std::string_view> value_of(std::string_view dictionary, std::string_view key) {
    if (dictionary.substr(0, 2) != "<<") return std::nullopt;
    PdfReading inside(dictionary, 2);
    while (true) {
        const auto name = inside.object();
        const auto value = name ? inside.object() : std::nullopt;
        if (!value) return std::nullopt;
        if (is_name(*name, key)) return value;
    }
}

std::vector<std::string_view> elements_of(std::string_view object) {
    if (object.empty() || object.front() != '[') return {object};
    std::vector<std::string_view> out;
    PdfReading inside(object, 1);
    while (const auto element = inside.object()) out.push_back(*element);
    return out;
}

bool is_name(std::string_view object, std::string_view name) {
    if (object == name) return true;
    if (object.find('#') == std::string_view::npos) return false;
    std::string plain;
    for (std::size_t i = 0; i < object.size(); ++i) {
        const int high = i + 2 < object.size() ? hexadecimal(object[i + 1]) : -1;
        const int low = i + 2 < object.size() ? hexadecimal(object[i + 2]) : -1;
        if (object[i] == '#' && high >= 0 && low >= 0) {
            plain += static_cast<char>(high * 16 + low);
            i += 2;
        } else {
            plain += object[i];
        }
    }
    return plain == name;
}

std::optional<int> reference_of(std::string_view object) {
    PdfReading reading(object);
    const auto number = reading.number();
    if (!number || !reading.number() || !reading.takes("R") ||
        *number > static_cast<std::size_t>(std::numeric_limits<int>::max()))
        return std::nullopt;
    return static_cast<int>(*number);
}

std::optional<std::size_t> whole_number_of(std::string_view object) {
    return value_of_digits(object);
}

std::string with_key(std::string_view dictionary, std::string_view key, std::string_view value) {
    std::string out(dictionary);
    if (const auto old = value_of(dictionary, key)) {
        out.replace(static_cast<std::size_t>(old->data() - dictionary.data()), old->size(), value);
        return out;
    }
    const std::size_t end = out.rfind(">>");
    if (end != std::string::npos)
        out.insert(end, std::string(key) + " " + std::string(value) + " ");
    return out;
}

}  // namespace layproof::paper
