#include "exchange/tables/imported.hpp"

#include <fmt/format.h>

namespace layproof::exchange {

std::string_view to_word(PointSource source) {
    switch (source) {
        case PointSource::point:
            return "point";
        case PointSource::monument:
            return "monument";
        case PointSource::grid_crossing:
            return "grid crossing";
        case PointSource::column:
            return "column";
        case PointSource::footing:
            return "footing";
        case PointSource::fastener:
            return "anchor bolt";
        case PointSource::opening:
            return "opening";
        case PointSource::circle:
            return "circle";
        case PointSource::insert:
            break;
    }
    return "insert";
}

std::string_view Import::word(int index) const {
    return index < 0 || static_cast<std::size_t>(index) >= words.size()
               ? std::string_view{}
               : words[static_cast<std::size_t>(index)];
}

int Import::keep_word(std::string_view word) {
    constexpr std::size_t kMostWords = 100'000;
    if (word.empty()) return -1;
    const auto found = word_numbers_.find(std::string(word));
    if (found != word_numbers_.end()) return found->second;
    if (words.size() >= kMostWords) return -1;
    const int index = static_cast<int>(words.size());
    words.emplace_back(word);
    word_numbers_.emplace(words.back(), index);
    return index;
}

void Import::leave(std::string_view what, std::string_view why, const Place& place, int count) {
    constexpr std::size_t kMostGroups = 200;
    for (LeftOut& group : left) {
        if (group.what == what && group.why == why) {
            group.count += count;
            return;
        }
    }
    if (left.size() < kMostGroups) {
        left.push_back({std::string(what), count, std::string(why), place});
        return;
    }
    // A file with endless kinds of things is told in one line.
    if (left.back().what != "other things")
        left.back() = {"other things", 0, "of other kinds", place};
    left.back().count += count;
}

std::vector<std::string> sentences(const Import& import) {
    std::vector<std::string> out;
    for (const LeftOut& group : import.left) {
        const std::string at = group.first.line > 0
                                   ? fmt::format("{}:{}: ", group.first.file, group.first.line)
                                   : fmt::format("{}: ", group.first.file);
        out.push_back(fmt::format("{}{} {} left: {}", at, group.count, group.what, group.why));
    }
    return out;
}

}  // namespace layproof::exchange
