#pragma once
// Traps that the misfits of the catalogue cannot tell apart or never show, each named from its own
// evidence: turning sense, scale, the size of coordinates, the units the files state.

#include <optional>
#include <string_view>
#include <vector>

#include "measure/length.hpp"
#include "station/prepared.hpp"

namespace layproof::cause {

enum class TrapKind {
    axes_exchanged,      ///< three or more marks fit as a mirror image and not as given
    lengths_in_feet,     ///< distances fit when taken as the other of feet and metres
    mirror_possible,     ///< two marks: exchanged axes or names would fit as well
    foot_kinds_mixed,    ///< one file in ft, another in us-ft
    foot_kind_unproven,  ///< coordinates so large that the kind of foot moves them
};
std::string_view to_word(TrapKind kind);

struct Trap {
    TrapKind kind{};
    bool is_certain = false;  ///< the evidence shows it; false: it cannot be excluded from here
    double amount_m = 0.0;    ///< how far points move: the two feet; rms misfit otherwise
    double ratio = 1.0;       ///< lengths_in_feet: distance measured over distance of the sheet
};

/// Evidence from the sights alone. Mirror: the rigid fit of the local vectors to the marks with
/// east and north exchanged is 20 times better than as given, which misfits by more than 0.1 m, and
/// itself within 50 mm rms. Feet: the similarity fit's scale is within 1 % of 3.2808 or its
/// inverse, and fits.
std::vector<Trap> traps_of_sights(const station::Prepared& setup);

/// Evidence from the files: units (nothing: the file states none of its own) and the largest
/// coordinate of the marks. The two feet differ by 2.000 ppm; what shifts by more than 1 mm is
/// said.
std::vector<Trap> traps_of_units(std::optional<measure::LengthUnit> marks,
                                 std::optional<measure::LengthUnit> points,
                                 double largest_coordinate_m);

}  // namespace layproof::cause
