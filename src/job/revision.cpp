#include "job/revision.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace layproof::job {
namespace {

struct Run {
    bool is_number = false;
    std::string text;  // upper case, leading zeros of a number left out

    friend bool operator==(const Run&, const Run&) = default;
};

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}
bool is_separator(char c) {
    return c == ' ' || c == '.' || c == '-' || c == '_' || c == '/' || c == ':' || c == '\t';
}
char upper(char c) {
    return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
}

std::vector<Run> runs_of(std::string_view text) {
    std::vector<Run> runs;
    bool joined = false;
    for (const char c : text) {
        if (is_separator(c)) {
            joined = false;
            continue;
        }
        if (!joined || runs.back().is_number != is_digit(c)) runs.push_back({is_digit(c), {}});
        joined = true;
        runs.back().text += upper(c);
    }
    const auto is_rev = [](const Run& run) {
        return run.text == "REV" || run.text == "REVISION" || run.text == "R";
    };
    if (runs.size() > 1 && is_rev(runs.front())) runs.erase(runs.begin());
    for (Run& run : runs) {
        if (!run.is_number) continue;
        const std::size_t first = run.text.find_first_not_of('0');
        run.text = first == std::string::npos ? "0" : run.text.substr(first);
    }
    return runs;
}

std::strong_ordering by_length_then_text(const std::string& a, const std::string& b) {
    if (a.size() != b.size()) return a.size() <=> b.size();
    return a.compare(b) <=> 0;
}

}  // namespace

std::optional<std::strong_ordering> compare_revisions(std::string_view a, std::string_view b) {
    const std::vector<Run> left = runs_of(a);
    const std::vector<Run> right = runs_of(b);
    if (left == right) return std::strong_ordering::equal;
    if (left.empty()) return std::strong_ordering::less;
    if (right.empty()) return std::strong_ordering::greater;
    if (left.size() != right.size()) return std::nullopt;
    const bool one_run_of_letters =
        left.size() == 1 && !left.front().is_number && !right.front().is_number;
    if (one_run_of_letters) return by_length_then_text(left.front().text, right.front().text);
    for (std::size_t i = 0; i < left.size(); ++i) {
        if (left[i] == right[i]) continue;
        if (!left[i].is_number || !right[i].is_number) return std::nullopt;
        return by_length_then_text(left[i].text, right[i].text);
    }
    return std::strong_ordering::equal;
}

}  // namespace layproof::job
