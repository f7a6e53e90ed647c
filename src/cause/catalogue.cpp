#include "cause/catalogue.hpp"

#include <array>

namespace layproof::cause {
namespace {

constexpr std::array<std::string_view, kCauseCount> kWords{
    "nothing-wrong",        "mark-moved",           "mark-height-changed",
    "rod-not-plumb",        "rod-height-wrong",     "rod-height-wrong-on-all",
    "prism-constant-wrong", "distance-scale-wrong", "names-swapped",
    "wrong-name",           "tripod-disturbed",     "out-of-level",
    "vertical-index-wrong", "gross-direction",      "gross-zenith",
    "gross-distance"};

constexpr std::array<Cause, kCauseCount> kAll = [] {
    std::array<Cause, kCauseCount> out{};
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = static_cast<Cause>(i);
    return out;
}();

}  // namespace

std::string_view to_word(Cause cause) {
    return kWords[static_cast<std::size_t>(cause)];
}

std::optional<Cause> cause_from_word(std::string_view word) {
    for (std::size_t i = 0; i < kWords.size(); ++i)
        if (kWords[i] == word) return static_cast<Cause>(i);
    return std::nullopt;
}

std::span<const Cause> all_causes() {
    return kAll;
}

}  // namespace layproof::cause
