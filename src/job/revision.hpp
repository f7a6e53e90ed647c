#pragma once
// Which of two revisions of a sheet or drawing is the later one.

#include <compare>
#include <optional>
#include <string_view>

namespace layproof::job {

/// Model: a revision is read as runs of letters and digits, case and separators left out, a leading
/// "rev", "revision" or "r" followed by more runs left out. Runs of digits count as numbers
/// (2 < 10); a revision that is only letters goes A < B < … < Z < AA. No revision is before any.
/// Numbers after equal letters are compared (P2 < P10).
///
/// Nothing comes back where the order is a matter of the office's own scheme: P1 against C1, A
/// against 1, B against B2. Equal text up to case and separators is equal.
std::optional<std::strong_ordering> compare_revisions(std::string_view a, std::string_view b);

}  // namespace layproof::job
