#pragma once
// What can be wrong with control that was handed over: the catalogue with its prior frequencies and
// sizes.
//
// Two kinds. Of the writing: a whole list of marks is in another frame, unit, order or revision
// than the rest. Of the ground or of one measurement: one mark, one entry, one tape, one level, one
// sight.
//
// A frequency is the chance per job, shared evenly among what it can happen to (lists, marks,
// pairs, tapes …); sizes are standard deviations that share it evenly. Engineering judgement, no
// source: nobody has counted. What cannot happen in a job (no tape was pulled) is left out and the
// rest brought to 1.

#include <span>
#include <string_view>
#include <vector>

namespace layproof::vet {

enum class Trap {
    nothing_wrong,
    mark_off,         ///< the ground is not where the paper says, in plan
    mark_height_off,  ///< the same in height
    entry_wrong,      ///< one list has one mark wrong: a slip of the pen
    other_revision,   ///< one list has a set of marks at other places
    names_exchanged,  ///< of two marks
    duplicate_name,   ///< a list has one name twice, at two places
    one_place,        ///< a list has two names in one place
    axes_exchanged,   ///< east and north
    mirrored,         ///< one axis counts the other way
    turned,           ///< and shifted
    shifted,
    wrong_unit,       ///< metres for feet or feet for metres
    foot_kind,        ///< US survey foot for the international one, or the other way
    grid_for_ground,  ///< an unknown scale near 1
    tape_wrong,
    level_wrong,
    sight_wrong,         ///< one sight in plan: the rod leaned, another mark
    sight_height_wrong,  ///< one sight in height: the rod height booked is not the one used
    prism_constant_wrong,
};
inline constexpr int kTrapCount = 20;

/// "mark-off" and so on: the words of the JSON.
std::string_view to_word(Trap trap);
std::span<const Trap> all_traps();

/// True for what a whole list has: axes, mirror, turn, shift, unit, foot, grid.
bool is_of_frame(Trap trap);

struct TrapPrior {
    double frequency = 0.0;
    /// m for places and lengths, a ratio for grid_for_ground; empty where the amount is known.
    std::vector<double> sizes;
};
TrapPrior prior_of(Trap trap);

/// Two things wrong at once: the chance of a pair is the product of its members' over this.
inline constexpr double kNothingWrongFrequency = 0.45;

}  // namespace layproof::vet
