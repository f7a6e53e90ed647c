#pragma once
// Reading of typed numbers, shared by angle.cpp and length.cpp. Locale-free.

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

#include "base/result.hpp"

namespace layproof::measure::internal {

/// Stands for ° in normalised text, since one byte is easier to scan than two.
inline constexpr char kDegree = '\x01';

/// Trimmed, with typographic marks made plain: ′ ’ ‘ to ', ″ ” “ and '' to ", − – to -, º and ° to
/// kDegree, hard and thin spaces and tabs to a blank. Other bytes stay as they are.
std::string normalise(std::string_view text);

/// A whole text as one number: "12.345", "-3", "+0.5", ".5", "1e-3". Infinite when it says so or
/// is too large for a double, NaN when it says "nan"; nothing when it is not a number.
std::optional<double> whole_number(std::string_view text);

/// The text in quotes, cut to a readable length at a character boundary.
std::string quoted(std::string_view text);

/// value_missing, not_finite or `code`, by what the text is.
Refusal refuse(ErrorCode code, std::string_view text, std::string expected, const Place& place);

/// Walks over normalised text.
class Scanner {
public:
    explicit Scanner(std::string_view text) : text_(text) {}

    bool at_end() const { return position_ >= text_.size(); }
    char peek() const { return at_end() ? '\0' : text_[position_]; }
    bool take(char c);
    /// True when at least one blank was skipped.
    bool skip_blanks();
    std::string_view rest() const { return text_.substr(position_); }

    /// An unsigned decimal without exponent: digits, at most one point, at least one digit.
    struct Decimal {
        double value = 0.0;
        bool is_whole = true;  ///< no point in it
    };
    std::optional<Decimal> decimal();

private:
    std::string_view text_;
    std::size_t position_ = 0;
};

}  // namespace layproof::measure::internal
