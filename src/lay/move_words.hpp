#pragma once
// What the rod or the mark must do so that the point comes to its design place: the opposite of its
// deviation, in field words and whole steps (field_length.hpp).
//
// With grid lines the move is parted along the two lines of the point's grid position, exactly,
// also where they do not cross at 90°; each part runs along one line and is named by where it
// leads: "1/4 in toward B, 1/8 in toward 4". A part that leads away from the nearest line is named
// by the next line on that side, else by the nearest line ("away from B") when the point is 0.1 m
// or more from it, else by the compass. Without grid lines the move is told as seen from the
// instrument
// ("6 mm away from the instrument, 3 mm right"), without an instrument by the compass ("6 mm
// north"). Parts below half a step are left out; with none left it is "on the mark".

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "lay/building_grid.hpp"
#include "measure/length.hpp"

namespace layproof::lay {

/// One part of a move.
struct MovePart {
    double length_m = 0.0;  ///< not rounded, never negative
    std::string toward;     ///< "toward B", "right", "up", …
};

struct Move {
    std::vector<MovePart> parts;  ///< those that reach half a step
    std::string words;            ///< "on the mark" without parts
    bool is_on_the_mark = false;
};

/// Where a point is and where it should be, in plan; heights where both are known.
struct MoveQuestion {
    Eigen::Vector2d laid_m = Eigen::Vector2d::Zero();
    Eigen::Vector2d design_m = Eigen::Vector2d::Zero();
    std::optional<double> raise_m;  ///< design height minus laid height
    std::optional<Eigen::Vector2d> instrument_m;
    const BuildingGrid* grid = nullptr;
    measure::LengthStyle style;
};

/// The grid when it gives two crossing lines, else the instrument, else the compass. An input that
/// is not finite gives "unknown" and no parts.
Move move_of(const MoveQuestion& question);

}  // namespace layproof::lay
