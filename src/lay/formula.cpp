#include "lay/formula.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <system_error>
#include <utility>

namespace layproof::lay {
namespace {

constexpr double kMmPerMetre = 1000.0;
constexpr double kMetresPerFoot = 0.3048;
/// Deeper than any formula; keeps hostile text from using up the stack.
constexpr int kDeepest = 32;

bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}
bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

class Parser {
public:
    Parser(std::string_view text, const Sizes& sizes, const Place& place)
        : text_(text), sizes_(sizes), place_(place) {}

    Result<double> run() {
        const double value = formula();
        skip();
        if (!refusal_ && at_ < text_.size()) unreadable();
        if (!refusal_ && !(std::isfinite(value) && value >= 0.0)) {
            refuse(ErrorCode::out_of_range, fmt::format("a limit of {}", value),
                   "sizes for which the formula gives a limit");
        }
        if (refusal_) return *refusal_;
        return value;
    }

private:
    void refuse(ErrorCode code, std::string found, std::string expected) {
        if (!refusal_) refusal_ = Refusal{code, place_, std::move(found), std::move(expected)};
    }
    void unreadable() {
        refuse(ErrorCode::word_unknown,
               fmt::format("\"{}\" in the formula {}",
                           text_.substr(std::min(at_, text_.size()), std::size_t{12}), text_),
               "numbers, sizes, + - * /, min, max, sqrt, or a condition");
    }
    void skip() {
        while (at_ < text_.size() && text_[at_] == ' ') ++at_;
    }
    bool take(std::string_view token) {
        skip();
        if (text_.substr(at_, token.size()) != token) return false;
        at_ += token.size();
        return true;
    }

    // Both branches are read, so that a mistake in either shows; only the one that holds may ask
    // for a size.
    double formula() {
        const std::size_t colon = text_.find(':');
        if (colon == std::string_view::npos) return sum();
        const double left = sum();
        const bool or_equal = text_.find("<=") != std::string_view::npos ||
                              text_.find(">=") != std::string_view::npos;
        skip();
        const char sign = at_ < text_.size() ? text_[at_] : '\0';
        if (sign != '<' && sign != '>') unreadable();
        if (refusal_) return 0.0;
        at_ += or_equal ? 2 : 1;
        const double right = sum();
        bool holds = sign == '<' ? left < right : left > right;
        if (or_equal) holds = holds || left == right;
        if (!take(":")) unreadable();
        const double first = branch(holds);
        if (!take("else")) unreadable();
        const double second = branch(!holds);
        return holds ? first : second;
    }

    double branch(bool counts) {
        const bool before = asks_;
        asks_ = counts;
        const double value = sum();
        asks_ = before;
        return value;
    }

    double sum() {
        if (++depth_ > kDeepest) unreadable();
        double value = product();
        while (!refusal_) {
            if (take("+")) {
                value += product();
            } else if (take("-")) {
                value -= product();
            } else {
                break;
            }
        }
        --depth_;
        return value;
    }

    double product() {
        double value = atom();
        while (!refusal_) {
            if (take("*")) {
                value *= atom();
            } else if (take("/")) {
                value /= atom();
            } else {
                break;
            }
        }
        return value;
    }

    double atom() {
        if (refusal_) return 0.0;
        if (take("(")) {
            const double value = sum();
            if (!take(")")) unreadable();
            return value;
        }
        skip();
        if (at_ >= text_.size()) {
            unreadable();
            return 0.0;
        }
        if (is_digit(text_[at_]) || text_[at_] == '.') return number();
        std::size_t end = at_;
        while (end < text_.size() && is_letter(text_[end])) ++end;
        const std::string_view word = text_.substr(at_, end - at_);
        if (word == "min" || word == "max" || word == "sqrt") {
            at_ = end;
            return call(word);
        }
        return size(word);
    }

    double number() {
        double value = 0.0;
        const char* first = text_.data() + at_;
        const auto [end, error] = fast_float::from_chars(first, text_.data() + text_.size(), value,
                                                         fast_float::chars_format::fixed);
        if (error != std::errc{} || !std::isfinite(value)) {
            unreadable();
            return 0.0;
        }
        at_ += static_cast<std::size_t>(end - first);
        skip();
        const bool metres = at_ < text_.size() && text_[at_] == 'm' &&
                            (at_ + 1 == text_.size() || !is_letter(text_[at_ + 1]));
        if (!metres) return value;
        ++at_;
        return value * kMmPerMetre;
    }

    double call(std::string_view word) {
        if (!take("(")) unreadable();
        double value = sum();
        while (word != "sqrt" && !refusal_ && take(";")) {
            const double other = sum();
            value = word == "min" ? std::min(value, other) : std::max(value, other);
        }
        if (!take(")")) unreadable();
        if (word != "sqrt") return value;
        return std::sqrt(std::max(value, 0.0));
    }

    double size(std::string_view word) {
        double per_metre = kMmPerMetre;
        std::string_view name = word;
        if (word.ends_with("_m")) {
            per_metre = 1.0;
            name.remove_suffix(2);
        } else if (word.ends_with("_ft")) {
            per_metre = 1.0 / kMetresPerFoot;
            name.remove_suffix(3);
        }
        const std::optional<double>* value = nullptr;
        std::string_view what;
        if (name == "H" || name == "h" || name == "height") {
            value = &sizes_.height_m;
            what = "height";
        } else if (name == "L" || name == "l" || name == "length") {
            value = &sizes_.length_m;
            what = "length";
        } else if (name == "W" || name == "w" || name == "width") {
            value = &sizes_.width_m;
            what = "width";
        } else {
            unreadable();
            return 0.0;
        }
        at_ += word.size();
        if (!asks_) return 1.0;
        if (!*value) {
            refuse(ErrorCode::value_missing, fmt::format("no {}", what),
                   fmt::format("the {} that the formula {} needs", what, text_));
            return 0.0;
        }
        if (!(std::isfinite(**value) && **value > 0.0)) {
            refuse(ErrorCode::out_of_range, fmt::format("a {} of {} m", what, **value),
                   fmt::format("a {} above zero", what));
            return 0.0;
        }
        return **value * per_metre;
    }

    std::string_view text_;
    const Sizes& sizes_;
    const Place& place_;
    std::size_t at_ = 0;
    int depth_ = 0;
    bool asks_ = true;
    std::optional<Refusal> refusal_;
};

}  // namespace

Result<double> evaluate(std::string_view formula, const Sizes& sizes, const Place& place) {
    return Parser(formula, sizes, place).run();
}

}  // namespace layproof::lay
