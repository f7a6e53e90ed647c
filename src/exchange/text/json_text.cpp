#include <algorithm>
#include <charconv>
#include <cstdint>
#include <optional>
#include <tuple>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/text/code_point.hpp"
#include "exchange/text/json_text.hpp"
#include "exchange/text/number.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

constexpr std::size_t kMostBytes = std::size_t{64} << 20U;
constexpr std::size_t kMostValues = 4'000'000;
constexpr int kDeepest = 64;

class Parser {
public:
    explicit Parser(const Document& document)
        : document_(document),
          text_(document.bytes),
          at_(text_.size() - without_bom(text_).size()) {}

    Result<JsonValue> parse() {
        auto value = this->value(0);
        if (!value) return value;
        skip_blanks();
        if (at_ < text_.size()) return broken("something behind the end");
        return value;
    }

private:
    Refusal broken(const char* what) const {
        return {ErrorCode::not_well_formed, place_of(document_, at_), what,
                "JSON as RFC 8259 has it"};
    }
    char peek() const { return at_ < text_.size() ? text_[at_] : '\0'; }
    void skip_blanks() {
        while (peek() == ' ' || peek() == '\n' || peek() == '\r' || peek() == '\t') ++at_;
    }

    Result<JsonValue> value(int depth) {
        skip_blanks();
        if (depth > kDeepest) {
            return Refusal{ErrorCode::nested_too_deep, place_of(document_, at_),
                           "values more than 64 deep", "a file as programs write it"};
        }
        if (++count_ > kMostValues) {
            return Refusal{ErrorCode::file_too_large, place_of(document_, at_),
                           "more than 4,000,000 values", "a file with fewer"};
        }
        JsonValue out;
        out.offset = at_;
        const char c = peek();
        if (c == '{') return object(std::move(out), depth);
        if (c == '[') return array(std::move(out), depth);
        if (c == '"') {
            auto text = string();
            if (!text) return text.refusal();
            out.kind = JsonValue::Kind::text;
            out.text = std::move(text).value();
            return out;
        }
        for (const auto& [word, kind, number] : {std::tuple{"true", JsonValue::Kind::boolean, 1.0},
                                                 std::tuple{"false", JsonValue::Kind::boolean, 0.0},
                                                 std::tuple{"null", JsonValue::Kind::null, 0.0}}) {
            if (!text_.substr(at_).starts_with(word)) continue;
            at_ += std::string_view(word).size();
            out.kind = kind;
            out.number = number;
            return out;
        }
        const std::size_t end =
            std::min(text_.find_first_not_of("0123456789+-.eE", at_), text_.size());
        const auto number = plain_double(text_.substr(at_, end - at_));
        if (end == at_ || !number) return broken("no value");
        at_ = end;
        out.kind = JsonValue::Kind::number;
        out.number = *number;
        return out;
    }

    Result<JsonValue> array(JsonValue out, int depth) {
        out.kind = JsonValue::Kind::array;
        ++at_;
        skip_blanks();
        if (peek() == ']') {
            ++at_;
            return out;
        }
        for (;;) {
            auto element = value(depth + 1);
            if (!element) return element;
            out.array.push_back(std::move(element).value());
            skip_blanks();
            const char c = peek();
            if (c != ',' && c != ']') return broken("neither comma nor ] in an array");
            ++at_;
            if (c == ']') return out;
        }
    }

    Result<JsonValue> object(JsonValue out, int depth) {
        out.kind = JsonValue::Kind::object;
        ++at_;
        skip_blanks();
        if (peek() == '}') {
            ++at_;
            return out;
        }
        for (;;) {
            skip_blanks();
            if (peek() != '"') return broken("a member without name");
            auto name = string();
            if (!name) return name.refusal();
            skip_blanks();
            if (peek() != ':') return broken("a member without :");
            ++at_;
            auto member = value(depth + 1);
            if (!member) return member;
            out.names.push_back(std::move(name).value());
            out.array.push_back(std::move(member).value());
            skip_blanks();
            const char c = peek();
            if (c != ',' && c != '}') return broken("neither comma nor } in an object");
            ++at_;
            if (c == '}') return out;
        }
    }

    std::optional<std::uint32_t> unicode() {
        if (at_ + 4 > text_.size()) return std::nullopt;
        std::uint32_t c = 0;
        const char* const begin = text_.data() + at_;
        const auto [end, error] = std::from_chars(begin, begin + 4, c, 16);
        if (error != std::errc{} || end != begin + 4) return std::nullopt;
        at_ += 4;
        return c;
    }

    Result<std::string> string() {
        std::string out;
        ++at_;
        for (;;) {
            if (at_ >= text_.size()) return broken("a string without end");
            const char c = text_[at_++];
            if (c == '"') return out;
            if (static_cast<unsigned char>(c) < 0x20)
                return broken("a control character in a string");
            if (c != '\\') {
                out += c;
                continue;
            }
            const char e = peek();
            ++at_;
            switch (e) {
                case '"':
                case '\\':
                case '/':
                    out += e;
                    break;
                case 'b':
                case 'f':
                case 'n':
                case 'r':
                case 't':
                    out += ' ';
                    break;
                case 'u': {
                    auto high = unicode();
                    if (!high) return broken("a \\u without four digits");
                    std::uint32_t code = *high;
                    if (code >= 0xD800 && code < 0xDC00 && text_.substr(at_).starts_with("\\u")) {
                        at_ += 2;
                        const auto low = unicode();
                        if (!low) return broken("a \\u without four digits");
                        const bool is_pair = *low >= 0xDC00 && *low < 0xE000;
                        code = is_pair ? 0x10000U + ((code - 0xD800U) << 10U) + (*low - 0xDC00U)
                                       : 0xFFFDU;
                    } else if (code >= 0xD800 && code < 0xE000) {
                        code = 0xFFFDU;
                    }
                    append_escaped(out, code);
                    break;
                }
                default:
                    return broken("an escape that JSON does not have");
            }
        }
    }

    const Document& document_;
    std::string_view text_;
    std::size_t at_;
    std::size_t count_ = 0;
};

}  // namespace

const JsonValue* JsonValue::find(std::string_view name) const {
    for (std::size_t i = 0; i < names.size(); ++i) {
        if (names[i] == name) return &array[i];
    }
    return nullptr;
}

Place place_of(const Document& document, std::size_t offset) {
    Place place{document.name, 1, 1};
    const std::string_view before = std::string_view(document.bytes).substr(0, offset);
    for (const char c : before) {
        if (c == '\n') {
            ++place.line;
            place.column = 1;
        } else if (!is_continuation(c)) {
            ++place.column;
        }
    }
    return place;
}

Result<JsonValue> parse_json(const Document& document) {
    if (document.bytes.size() > kMostBytes) {
        return Refusal{
            ErrorCode::file_too_large, {document.name, 1, 1}, "more than 64 MiB", "a smaller file"};
    }
    if (auto refusal = check_text(document)) return *refusal;
    Parser parser(document);
    return parser.parse();
}

}  // namespace layproof::exchange
