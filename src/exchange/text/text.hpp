#pragma once
// Small helpers on text, free of locale.

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "base/result.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

/// Without blanks, tabs, line ends and no-break spaces (U+00A0) at both ends.
std::string_view trimmed(std::string_view text);

/// ASCII letters in lower case, everything else as it was.
std::string lower(std::string_view text);

/// A column or key name as it is compared: lower case, every run of blanks, underscores and hyphens
/// one underscore.
std::string normal_name(std::string_view text);

/// In double quotes, cut after 40 characters: for the "found" of a refusal.
std::string in_quotes(std::string_view text);

/// "a, b and c".
std::string listed(std::span<const std::string> words);

/// The candidate with the smallest edit distance when that is at most a third of the word, else
/// nothing: "did you mean".
std::optional<std::string> nearest(std::string_view word, std::span<const std::string> candidates);

/// Refuses what is not UTF-8 text (RFC 3629), and control characters other than tab, CR and LF,
/// with line and column (in characters) of the first offending byte. Error codes: empty_file,
/// not_utf8. Cost: one pass; rubbish is refused at its first bad byte.
std::optional<Refusal> check_text(const Document& document);

/// The bytes without a byte order mark.
std::string_view without_bom(std::string_view bytes);

}  // namespace layproof::exchange
