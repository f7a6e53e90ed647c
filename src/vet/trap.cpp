#include "vet/trap.hpp"

#include <array>

namespace layproof::vet {
namespace {

constexpr std::array<std::string_view, kTrapCount> kWords{"nothing-wrong",
                                                          "mark-off",
                                                          "mark-height-off",
                                                          "entry-wrong",
                                                          "other-revision",
                                                          "names-exchanged",
                                                          "duplicate-name",
                                                          "names-in-one-place",
                                                          "axes-exchanged",
                                                          "mirrored",
                                                          "turned",
                                                          "shifted",
                                                          "wrong-unit",
                                                          "foot-kind",
                                                          "grid-for-ground",
                                                          "tape-wrong",
                                                          "level-wrong",
                                                          "sight-wrong",
                                                          "sight-height-wrong",
                                                          "prism-constant-wrong"};

constexpr std::array<Trap, kTrapCount> kAll = [] {
    std::array<Trap, kTrapCount> out{};
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = static_cast<Trap>(i);
    return out;
}();

}  // namespace

std::string_view to_word(Trap trap) {
    return kWords[static_cast<std::size_t>(trap)];
}

std::span<const Trap> all_traps() {
    return kAll;
}

bool is_of_frame(Trap trap) {
    switch (trap) {
        case Trap::axes_exchanged:
        case Trap::mirrored:
        case Trap::turned:
        case Trap::shifted:
        case Trap::wrong_unit:
        case Trap::foot_kind:
        case Trap::grid_for_ground:
            return true;
        default:
            return false;
    }
}

TrapPrior prior_of(Trap trap) {
    switch (trap) {
        case Trap::nothing_wrong:
            return {kNothingWrongFrequency, {}};
        case Trap::mark_off:
            return {0.16, {0.006, 0.020, 0.060}};
        case Trap::mark_height_off:
            return {0.05, {0.006, 0.020, 0.060}};
        case Trap::entry_wrong:
            return {0.04, {0.020, 0.300, 20.0}};
        case Trap::other_revision:
            return {0.04, {0.010, 0.050, 0.500}};
        case Trap::names_exchanged:
            return {0.03, {}};
        case Trap::duplicate_name:
        case Trap::one_place:
            return {0.0, {}};  // seen on the paper itself, never weighed
        case Trap::axes_exchanged:
            return {0.03, {}};
        case Trap::mirrored:
            return {0.01, {}};
        case Trap::turned:
            return {0.02, {}};
        case Trap::shifted:
            return {0.015, {}};
        case Trap::wrong_unit:
            return {0.015, {}};
        case Trap::foot_kind:
            return {0.015, {}};
        case Trap::grid_for_ground:
            return {0.03, {50e-6, 200e-6, 500e-6}};
        case Trap::tape_wrong:
            return {0.03, {0.010, 0.300}};
        case Trap::level_wrong:
            return {0.01, {0.010, 0.300}};
        case Trap::sight_wrong:
            return {0.03, {0.006, 0.015, 0.300}};
        case Trap::sight_height_wrong:
            return {0.015, {0.300}};
        case Trap::prism_constant_wrong:
            return {0.01, {0.020}};
    }
    return {};
}

}  // namespace layproof::vet
