#pragma once
// How often each thing goes wrong and how large it then is: the prior table.
//
// A frequency is the chance per set-up, shared evenly among the cause's subjects (the marks, the
// sights, the gaps between sights, the pairs of names); several sizes share it evenly again. A size
// is a standard deviation; the amount is normal about zero. The shipped table is causes.toml beside
// this file: engineering judgement, no source, and replaceable.

#include <array>
#include <string_view>
#include <vector>

#include "cause/catalogue.hpp"

namespace layproof::cause {

/// Standard deviations of the amounts of one cause. Which ones count depends on the cause:
/// length_m: marks, rods, prism, distances, and the tripod's shift per plan axis; angle_rad: the
/// tripod's turn, tilt per axis, index, directions and zenith angles; ratio: distance scale.
struct CauseSize {
    double length_m = 0.0;
    double angle_rad = 0.0;
    double ratio = 0.0;

    bool operator==(const CauseSize&) const = default;
};

struct CausePrior {
    double frequency = 0.0;
    std::vector<CauseSize> sizes;  ///< empty for nothing-wrong, names-swapped, wrong-name

    bool operator==(const CausePrior&) const = default;
};

struct CauseTable {
    std::array<CausePrior, kCauseCount> causes;
    double pairs =
        0.0;  ///< chance that two things are wrong at once, shared by the product of theirs

    const CausePrior& of(Cause cause) const { return causes[static_cast<std::size_t>(cause)]; }
    CausePrior& of(Cause cause) { return causes[static_cast<std::size_t>(cause)]; }
    /// Sum of all frequencies, pairs included; 1 for a table that is complete.
    double total() const;

    bool operator==(const CauseTable&) const = default;
};

enum class SizeKind { none, length, angle, ratio, length_and_angle };
/// What the sizes of a cause are.
SizeKind size_kind(Cause cause);

/// The text of the shipped causes.toml.
std::string_view shipped_causes_toml();

}  // namespace layproof::cause
