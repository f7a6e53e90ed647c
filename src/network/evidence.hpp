#pragma once
// Everything a crew was handed or measured about its control: lists of marks (sheets and drawings),
// tapes between marks, level differences, and sights of any number of set-ups.

#include <optional>
#include <string>
#include <vector>

#include "frame/mark.hpp"
#include "station/prepared.hpp"

namespace layproof::network {

/// Standard deviation of one number on a list against the same number on another: rounding to 0.01
/// ft or 1 mm and copying (engineering judgement, no source).
inline constexpr double kListRounding_m = 0.001;

/// A tape pulled by two people over 10 to 30 m (common practice, no source).
inline constexpr double kDefaultTapeSd_m = 0.003;
/// A levelled difference with a builder's level (common practice, no source).
inline constexpr double kDefaultLevelSd_m = 0.0015;

/// One list of marks. Names may stand twice and places may coincide: that is what vetting is for.
struct MarkList {
    std::string name;  ///< of the file, with its revision when one is known
    std::string revision;
    bool is_drawing = false;
    std::vector<frame::Mark> entries;
};

struct Tape {
    std::string from, to;
    double distance_m = 0.0;
    double sd_m = kDefaultTapeSd_m;
    bool is_slope = false;  ///< along the slope between the marks; else level
    Place place;

    bool operator==(const Tape&) const = default;
};

struct LevelRise {
    std::string from, to;
    double rise_m = 0.0;  ///< height of `to` less height of `from`
    double sd_m = kDefaultLevelSd_m;
    Place place;

    bool operator==(const LevelRise&) const = default;
};

struct Evidence {
    std::vector<MarkList> lists;  ///< the first is the one to lay from
    std::vector<Tape> tapes;
    std::vector<LevelRise> levels;
    std::vector<station::StationInput> setups;  ///< `marks` is filled by the vetting
    double scale_factor = 1.0;                  ///< grid distance / ground distance
};

}  // namespace layproof::network
