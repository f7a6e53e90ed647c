#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <utility>

#include "exchange/ifc/step_file_internal.hpp"
#include "exchange/text/code_point.hpp"
#include "exchange/text/number.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

constexpr std::size_t kMostRecords = 20'000'000;
constexpr std::size_t kLongestRecord = std::size_t{16} << 20U;
constexpr int kDeepestList = 32;
constexpr std::size_t kMostTypes = 10'000;

bool is_step_blank(char c) {
    return c == ' ' || c == '\n' || c == '\r' || c == '\t';
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool is_word_sign(char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || is_digit(c) || c == '_';
}

/// \X2\ and \X4\: characters of a width up to \X0\. The bytes taken, 0 when it is no such thing.
std::size_t take_wide(std::string_view rest, std::string& out) {
    const bool is_two = rest.starts_with("\\X2\\");
    if (!is_two && !rest.starts_with("\\X4\\")) return 0;
    const std::size_t width = is_two ? 4 : 8;
    const std::size_t end = rest.find("\\X0\\", 4);
    if (end == std::string_view::npos) return 0;
    std::uint32_t high = 0;
    for (std::size_t i = 4; i + width <= end; i += width) {
        const auto c = hexadecimal(rest.substr(i, width));
        if (!c) return 0;
        if (*c >= 0xD800 && *c < 0xDC00) {
            high = *c;
        } else if (high != 0 && *c >= 0xDC00 && *c < 0xE000) {
            append_escaped(out, 0x10000U + ((high - 0xD800U) << 10U) + (*c - 0xDC00U));
            high = 0;
        } else {
            append_escaped(out, *c);
        }
    }
    return end + 4;
}

class Scanner {
public:
    Scanner(std::string_view text, std::size_t at, int line) : text_(text), at_(at), line_(line) {}

    bool at_end() const { return at_ >= text_.size(); }
    char peek() const { return at_end() ? '\0' : text_[at_]; }
    std::size_t position() const { return at_; }
    int line() const { return line_; }
    void move_to(std::size_t at) { at_ = at; }
    void advance() {
        if (text_[at_] == '\n') ++line_;
        ++at_;
    }
    /// Blanks and comments; false when a comment has no end.
    bool skip_blanks() {
        while (!at_end()) {
            if (is_step_blank(text_[at_])) {
                advance();
            } else if (text_[at_] == '/' && at_ + 1 < text_.size() && text_[at_ + 1] == '*') {
                const std::size_t end = text_.find("*/", at_ + 2);
                if (end == std::string_view::npos) return false;
                while (at_ < end + 2) advance();
            } else {
                break;
            }
        }
        return true;
    }
    std::string_view word() {
        const std::size_t from = at_;
        while (!at_end() && is_word_sign(text_[at_])) ++at_;
        return text_.substr(from, at_ - from);
    }
    std::optional<std::uint64_t> whole() {
        std::uint64_t value = 0;
        const char* const begin = text_.data() + at_;
        const auto [end, error] = std::from_chars(begin, text_.data() + text_.size(), value);
        if (error != std::errc{}) return std::nullopt;
        at_ += static_cast<std::size_t>(end - begin);
        return value;
    }
    /// Behind a quote: the raw text of the string, the closing quote passed; nothing without one.
    std::optional<std::string_view> string() {
        const std::size_t from = at_;
        for (;;) {
            const std::size_t quote = text_.find('\'', at_);
            if (quote == std::string_view::npos) return std::nullopt;
            line_ += static_cast<int>(std::count(text_.begin() + static_cast<std::ptrdiff_t>(at_),
                                                 text_.begin() + static_cast<std::ptrdiff_t>(quote),
                                                 '\n'));
            at_ = quote + 1;
            if (peek() != '\'') return text_.substr(from, quote - from);
            ++at_;
        }
    }
    /// Passes over everything up to and with the semicolon that ends a record.
    bool skip_record() {
        while (!at_end()) {
            const char c = text_[at_];
            if (c == ';') {
                ++at_;
                return true;
            }
            if (c == '\'') {
                ++at_;
                if (!string()) return false;
            } else if (c == '/' || is_step_blank(c)) {
                const std::size_t before = at_;
                if (!skip_blanks()) return false;
                if (at_ == before) ++at_;
            } else {
                ++at_;
            }
        }
        return false;
    }

private:
    std::string_view text_;
    std::size_t at_;
    int line_;
};

/// Reads the values of one record.
class ValueReader {
public:
    ValueReader(std::string_view text, std::size_t at, int line, std::string file)
        : scanner_(text, at, line), text_(text), from_(at), file_(std::move(file)) {}

    Result<std::vector<StepValue>> list(int depth) {
        if (depth > kDeepestList) {
            return Refusal{ErrorCode::nested_too_deep, place(), "lists more than 32 deep",
                           "a model as programs write it"};
        }
        std::vector<StepValue> values;
        scanner_.advance();  // (
        for (bool is_first = true;; is_first = false) {
            if (!scanner_.skip_blanks()) return broken("a comment without end");
            if (scanner_.peek() == ')' && is_first) break;
            auto read = value(depth);
            if (!read) return std::move(read).refusal();
            values.push_back(std::move(read).value());
            if (!scanner_.skip_blanks()) return broken("a comment without end");
            if (scanner_.peek() == ')') break;
            if (scanner_.peek() != ',') return broken("something else than a comma");
            scanner_.advance();
            if (scanner_.position() - from_ > kLongestRecord) {
                return Refusal{ErrorCode::file_too_large, place(), "a record of more than 16 MiB",
                               "a model as programs write it"};
            }
        }
        scanner_.advance();  // )
        return values;
    }

private:
    Place place() const { return {file_, scanner_.line(), 1}; }
    Refusal broken(const char* what) const {
        return {ErrorCode::not_well_formed, place(), what, "a record as ISO 10303-21 has it"};
    }

    Result<StepValue> value(int depth) {
        StepValue out;
        const char c = scanner_.peek();
        if (c == '$' || c == '*') {
            out.kind = c == '$' ? StepValue::Kind::missing : StepValue::Kind::derived;
            scanner_.advance();
        } else if (c == '#') {
            scanner_.advance();
            const auto id = scanner_.whole();
            if (!id) return broken("a # without a number");
            out.kind = StepValue::Kind::reference;
            out.reference = *id;
        } else if (c == '\'') {
            scanner_.advance();
            const auto raw = scanner_.string();
            if (!raw) return broken("a string without end");
            out.kind = StepValue::Kind::text;
            out.text = step_text(*raw);
        } else if (c == '.') {
            scanner_.advance();
            out.kind = StepValue::Kind::word;
            out.text = std::string(scanner_.word());
            if (scanner_.peek() != '.') return broken("a word without its closing point");
            scanner_.advance();
        } else if (c == '"') {
            scanner_.advance();
            while (!scanner_.at_end() && scanner_.peek() != '"') scanner_.advance();
            if (scanner_.at_end()) return broken("a binary without end");
            scanner_.advance();
        } else if (c == '(') {
            auto values = list(depth + 1);
            if (!values) return std::move(values).refusal();
            out.kind = StepValue::Kind::list;
            out.list = std::move(values).value();
        } else if (is_digit(c) || c == '-' || c == '+') {
            return number();
        } else if (is_word_sign(c)) {
            const std::string type(scanner_.word());
            if (!scanner_.skip_blanks() || scanner_.peek() != '(') return broken("a bare word");
            auto values = list(depth + 1);
            if (!values) return std::move(values).refusal();
            if (values->size() != 1) return broken("a typed value that is not one value");
            out = std::move((*values)[0]);
            if (out.kind == StepValue::Kind::number || out.kind == StepValue::Kind::list)
                out.text = type;
        } else {
            return broken("a sign that begins no value");
        }
        return out;
    }

    Result<StepValue> number() {
        const std::size_t from = scanner_.position();
        while (is_digit(scanner_.peek()) || scanner_.peek() == '-' || scanner_.peek() == '+' ||
               scanner_.peek() == '.' || scanner_.peek() == 'E' || scanner_.peek() == 'e') {
            scanner_.advance();
        }
        const auto read = plain_double(text_.substr(from, scanner_.position() - from));
        if (!read) {
            return Refusal{ErrorCode::not_a_number, place(),
                           in_quotes(text_.substr(from, scanner_.position() - from)),
                           "a finite number"};
        }
        StepValue out;
        out.kind = StepValue::Kind::number;
        out.number = *read;
        return out;
    }

    Scanner scanner_;
    std::string_view text_;
    std::size_t from_;
    std::string file_;
};

}  // namespace

std::string step_text(std::string_view raw) {
    constexpr std::size_t kLongest = 4000;
    raw = raw.substr(0, kLongest);
    std::string out;
    for (std::size_t i = 0; i < raw.size();) {
        const std::string_view rest = raw.substr(i);
        if (rest[0] == '\'' && rest.size() > 1) {  // always doubled here
            out += '\'';
            i += 2;
        } else if (rest[0] != '\\') {
            out += rest[0];
            ++i;
        } else if (const std::size_t taken = take_wide(rest, out)) {
            i += taken;
        } else if (rest.starts_with("\\X\\") && rest.size() >= 5 &&
                   hexadecimal(rest.substr(3, 2))) {
            append_escaped(out, *hexadecimal(rest.substr(3, 2)));
            i += 5;
        } else if (rest.starts_with("\\S\\") && rest.size() >= 4) {
            append_escaped(out, static_cast<unsigned char>(rest[3]) | 0x80U);
            i += 4;
        } else if (rest.size() >= 4 && rest[1] == 'P' && rest[3] == '\\') {
            i += 4;
        } else if (rest.starts_with("\\\\")) {
            out += '\\';
            i += 2;
        } else {
            out += '\\';
            ++i;
        }
    }
    for (char& c : out) {
        if (static_cast<unsigned char>(c) < 0x20) c = ' ';
    }
    if (!out.empty() && check_text({"", out})) {
        std::string utf8;
        for (const char c : out) append_escaped(utf8, static_cast<unsigned char>(c));
        return utf8;
    }
    return out;
}

const StepValue& StepRecord::at(std::size_t i) const {
    static const StepValue kMissing;
    return i < values.size() ? values[i] : kMissing;
}

std::optional<double> StepRecord::number(std::size_t i) const {
    const StepValue& v = at(i);
    return v.kind == StepValue::Kind::number ? std::optional(v.number) : std::nullopt;
}

std::optional<std::uint64_t> StepRecord::reference(std::size_t i) const {
    const StepValue& v = at(i);
    return v.kind == StepValue::Kind::reference ? std::optional(v.reference) : std::nullopt;
}

std::string StepRecord::text(std::size_t i) const {
    const StepValue& v = at(i);
    const bool is_text = v.kind == StepValue::Kind::text || v.kind == StepValue::Kind::word;
    return is_text ? v.text : std::string();
}

std::vector<std::uint64_t> StepRecord::references(std::size_t i) const {
    std::vector<std::uint64_t> out;
    for (const StepValue& v : at(i).list) {
        if (v.kind == StepValue::Kind::reference) out.push_back(v.reference);
    }
    return out;
}

std::vector<double> StepRecord::numbers(std::size_t i) const {
    std::vector<double> out;
    for (const StepValue& v : at(i).list) {
        if (v.kind == StepValue::Kind::number) out.push_back(v.number);
    }
    return out;
}

Result<StepFile> StepFile::open(const Document& document) {
    StepFile file(document);
    auto done = file.index();
    if (!done) return done.refusal();
    return file;
}

Result<Done> StepFile::index() {
    const std::string_view text = without_bom(document_->bytes);
    const std::string& name = document_->name;
    if (trimmed(text).empty()) {
        return Refusal{ErrorCode::empty_file, {name, 1, 1}, "nothing", "an IFC file"};
    }
    if (!trimmed(text.substr(0, 200)).starts_with("ISO-10303-21")) {
        return Refusal{ErrorCode::format_unknown,
                       {name, 1, 1},
                       in_quotes(text.substr(0, 40)),
                       "ISO-10303-21 at the beginning of an IFC file"};
    }
    Scanner scanner(text, 0, 1);
    const auto broken = [&](std::string found, const char* expected) {
        return Refusal{
            ErrorCode::not_well_formed, {name, scanner.line(), 1}, std::move(found), expected};
    };
    bool has_end = false;
    bool is_sorted = true;
    while (!has_end) {
        if (!scanner.skip_blanks()) return broken("a comment without end", "*/");
        if (scanner.at_end()) break;
        if (scanner.peek() != '#') {
            const std::size_t from = scanner.position();
            const int line = scanner.line();
            const std::string_view word = scanner.word();
            has_end = word == "END" && text.substr(from).starts_with("END-ISO-10303-21");
            if (has_end) break;
            if (!scanner.skip_record()) return broken("the end of the file", "a semicolon");
            if (word == "FILE_SCHEMA") {
                const std::string_view record = text.substr(from, scanner.position() - from);
                const std::size_t open = record.find('\'');
                const std::size_t close = record.find('\'', open + 1);
                if (open != std::string_view::npos && close != std::string_view::npos) {
                    schema_ = std::string(
                        record.substr(open + 1, std::min(close - open - 1, std::size_t{40})));
                }
            }
            if (scanner.position() == from) {
                return Refusal{
                    ErrorCode::not_well_formed, {name, line, 1}, "a sign out of place", "a record"};
            }
            continue;
        }
        const int line = scanner.line();
        scanner.advance();
        const auto id = scanner.whole();
        if (!id) return broken("a # without a number", "#12= TYPE(...);");
        if (!scanner.skip_blanks() || scanner.peek() != '=') {
            return broken("a record without =", "#12= TYPE(...);");
        }
        scanner.advance();
        if (!scanner.skip_blanks()) return broken("a comment without end", "*/");
        const std::size_t begin = scanner.position();
        const std::string_view word = scanner.word();  // empty for a complex instance
        std::string type(word.substr(0, 100));
        for (char& c : type) {
            if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
        }
        auto known = type_numbers_.find(type);
        if (known == type_numbers_.end()) {
            if (type_names_.size() >= kMostTypes) {
                return Refusal{ErrorCode::file_too_large,
                               {name, line, 1},
                               "more than 10,000 types of record",
                               "an IFC file"};
            }
            if (type_names_.capacity() == 0) type_names_.reserve(kMostTypes);  // names stay put
            const auto number = static_cast<std::uint32_t>(type_names_.size());
            type_names_.push_back(type);
            by_type_.emplace_back();
            known = type_numbers_.emplace(type_names_.back(), number).first;
        }
        if (!scanner.skip_record()) return broken("the end of the file", "a semicolon");
        if (entries_.size() >= kMostRecords) {
            return Refusal{ErrorCode::file_too_large,
                           {name, line, 1},
                           "more than 20,000,000 records",
                           "a file with fewer"};
        }
        if (!entries_.empty() && *id <= entries_.back().id) is_sorted = false;
        entries_.push_back({*id, static_cast<std::uint32_t>(line), known->second, begin});
        by_type_[known->second].push_back(*id);
    }
    if (!has_end) return broken("the end of the file", "END-ISO-10303-21: the file was cut short");
    if (!is_sorted) {
        std::stable_sort(entries_.begin(), entries_.end(),
                         [](const Entry& a, const Entry& b) { return a.id < b.id; });
        const auto twice =
            std::adjacent_find(entries_.begin(), entries_.end(),
                               [](const Entry& a, const Entry& b) { return a.id == b.id; });
        if (twice != entries_.end()) {
            return Refusal{ErrorCode::not_well_formed,
                           {name, static_cast<int>((twice + 1)->line), 1},
                           fmt::format("#{} a second time", twice->id),
                           "a number of its own for each record"};
        }
    }
    return Done{};
}

const StepFile::Entry* StepFile::find(std::uint64_t id) const {
    const auto found = std::lower_bound(entries_.begin(), entries_.end(), id,
                                        [](const Entry& e, std::uint64_t i) { return e.id < i; });
    return found != entries_.end() && found->id == id ? &*found : nullptr;
}

const std::vector<std::uint64_t>& StepFile::of_type(std::string_view type) const {
    static const std::vector<std::uint64_t> kNone;
    const auto found = type_numbers_.find(type);
    return found == type_numbers_.end() ? kNone : by_type_[found->second];
}

std::string_view StepFile::type(std::uint64_t id) const {
    const Entry* entry = find(id);
    return entry == nullptr ? std::string_view{} : std::string_view(type_names_[entry->type]);
}

Place StepFile::place(std::uint64_t id) const {
    const Entry* entry = find(id);
    return {document_->name, entry == nullptr ? 1 : static_cast<int>(entry->line), 1};
}

Result<StepRecord> StepFile::record(std::uint64_t id) const {
    const Entry* entry = find(id);
    if (entry == nullptr) {
        return Refusal{ErrorCode::reference_missing,
                       {document_->name, 1, 1},
                       fmt::format("#{}, which is not in the file", id),
                       "a whole file"};
    }
    StepRecord out;
    out.id = id;
    out.type = type_names_[entry->type];
    out.line = static_cast<int>(entry->line);
    const std::string_view text = without_bom(document_->bytes);
    Scanner scanner(text, entry->begin, out.line);
    scanner.word();
    const bool is_list = scanner.skip_blanks() && scanner.peek() == '(';
    if (!is_list) {
        return Refusal{ErrorCode::not_well_formed, place(id), "a record without values",
                       "#12= TYPE(...);"};
    }
    ValueReader reader(text, scanner.position(), scanner.line(), document_->name);
    auto values = reader.list(0);
    if (!values) return values.refusal();
    out.values = std::move(values).value();
    return out;
}

}  // namespace layproof::exchange
