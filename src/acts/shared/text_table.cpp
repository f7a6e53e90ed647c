#include <algorithm>

#include "acts/shared/text_table.hpp"
#include "base/text/utf8.hpp"

namespace layproof::acts::internal {
namespace {

std::size_t width_of(std::string_view text) {
    return static_cast<std::size_t>(character_count(text));
}

}  // namespace

std::string TextTable::to_text(bool left_last) const {
    std::vector<std::size_t> widths;
    for (const auto& row : rows_) {
        widths.resize(std::max(widths.size(), row.size()), 0);
        for (std::size_t i = 0; i < row.size(); ++i)
            widths[i] = std::max(widths[i], width_of(row[i]));
    }
    std::string out;
    for (const auto& row : rows_) {
        std::string line = "  ";
        for (std::size_t i = 0; i < row.size(); ++i) {
            const std::string fill(widths[i] - width_of(row[i]), ' ');
            const bool left = i == 0 || (left_last && i + 1 == widths.size());
            if (i > 0) line += "  ";
            line += left ? row[i] + fill : fill + row[i];
        }
        line.erase(line.find_last_not_of(' ') + 1);
        out += line + "\n";
    }
    return out;
}

std::string wrapped(std::string_view text, std::size_t indent) {
    std::string out;
    std::string line;
    const auto flush = [&] {
        if (line.empty()) return;
        out += std::string(indent, ' ') + line + "\n";
        line.clear();
    };
    std::size_t from = 0;
    while (from < text.size()) {
        std::size_t to = text.find(' ', from);
        // A figure stays with its unit.
        while (to != std::string_view::npos && to > from && to + 1 < text.size()) {
            const std::string_view rest = text.substr(to + 1);
            const char before = text[to - 1];
            const bool is_figure = before >= '0' && before <= '9';
            const bool is_unit = rest.starts_with("mm") || rest.starts_with("m ") ||
                                 rest.starts_with("%") || rest.starts_with("ft") ||
                                 rest.starts_with("us-ft") || rest.starts_with("in,") ||
                                 rest.starts_with("in ") || rest.starts_with("m.");
            if (!is_figure || !is_unit) break;
            to = text.find(' ', to + 1);
        }
        if (to == std::string_view::npos) to = text.size();
        const std::string_view word = text.substr(from, to - from);
        if (!line.empty() && indent + width_of(line) + 1 + width_of(word) > kTextWidth) flush();
        if (!word.empty()) {
            if (!line.empty()) line += ' ';
            line += word;
        }
        from = to + 1;
    }
    flush();
    return out;
}

}  // namespace layproof::acts::internal
