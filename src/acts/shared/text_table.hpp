#pragma once
// Plain text of a fixed width: tables and wrapped sentences. Width is counted in characters.

#include <string>
#include <string_view>
#include <vector>

namespace layproof::acts::internal {

inline constexpr std::size_t kTextWidth = 92;

class TextTable {
public:
    explicit TextTable(std::vector<std::string> header) : rows_{std::move(header)} {}

    void add(std::vector<std::string> row) { rows_.push_back(std::move(row)); }
    bool is_empty() const { return rows_.size() <= 1; }
    /// First column to the left, the others to the right; `left_last` also the last.
    std::string to_text(bool left_last = false) const;

private:
    std::vector<std::vector<std::string>> rows_;
};

/// Breaks at blanks, every line begun with `indent` blanks.
std::string wrapped(std::string_view text, std::size_t indent);

}  // namespace layproof::acts::internal
