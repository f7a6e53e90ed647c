#pragma once
// Whole outputs in a form that can be read, kept in a file and compared with it.

#include <nlohmann/json.hpp>
#include <string>

namespace layproof::testing {

/// JSON with everything on one line that fits on one, so that a person can read a whole answer.
std::string readable(const nlohmann::ordered_json& json);

/// `now` with each number of `kept` in place of its own that differs from it by no more than
/// compilers and mathematical libraries may differ: one unit in the last decimal printed, and no
/// more than 0.0001; below 1 also a millionth of itself, for numbers printed to many digits.
/// Everything else stays as it is in `now`.
nlohmann::ordered_json settled(nlohmann::ordered_json now, const nlohmann::ordered_json& kept);

/// What differs, as lines that begin with "- " (kept) and "+ " (now) among two lines that are the
/// same on each side, headed by the line numbers in both; empty when nothing does. At most
/// `most_lines`, then how many are left out.
std::string difference(const std::string& kept, const std::string& now, int most_lines = 80);

}  // namespace layproof::testing
