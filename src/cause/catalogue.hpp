#pragma once
// The things that go wrong at a set-up, by name.

#include <optional>
#include <span>
#include <string_view>

namespace layproof::cause {

enum class Cause {
    nothing_wrong,
    mark_moved,  ///< in plan
    mark_height_changed,
    rod_not_plumb,     ///< on one sight
    rod_height_wrong,  ///< on one sight
    rod_height_wrong_on_all,
    prism_constant_wrong,
    distance_scale_wrong,  ///< ppm, kinds of feet, grid against ground
    names_swapped,         ///< of two marks
    wrong_name,            ///< one sight booked to another mark's name
    tripod_disturbed,      ///< between two sights
    out_of_level,
    vertical_index_wrong,
    gross_direction,  ///< one reading
    gross_zenith,
    gross_distance,
};
inline constexpr int kCauseCount = 16;

/// "mark-moved" and so on: the words of the JSON and of the causes file.
std::string_view to_word(Cause cause);
std::optional<Cause> cause_from_word(std::string_view word);
/// All of them, in the order of the enumeration.
std::span<const Cause> all_causes();

}  // namespace layproof::cause
