#pragma once
// Where a point is, in the words of the drawing: by the named lines of the building grid.
//
// Lines belong to families that run the same way (letters one way, numbers the other). A family
// stated for a line counts; lines that state none are put together when their directions agree
// within 5°. A point is told by the nearest line and by the nearest line of another family that
// crosses it at 30° or more. The lines run on past their ends.
//
// A side is named by the next line of the family on that side ("toward C"); where there is none, by
// the compass ("north-east").

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "frame/grid_line.hpp"
#include "measure/length.hpp"

namespace layproof::lay {

/// A point by one line.
struct LineOffset {
    int line = -1;  ///< into BuildingGrid::lines
    std::string name;
    double along_m = 0.0;   ///< from the line's start
    double across_m = 0.0;  ///< to the right of its sense positive
    std::string side;       ///< on which side the point lies: "toward C", "east"; empty on the line
};

/// A point by two crossing lines, letters before numbers.
struct GridPosition {
    LineOffset first;
    LineOffset second;
    /// "B/4"; "on B, 3'-0\" from 4 toward 5"; "1'-2 1/2\" from B toward C, 3'-0\" from 4 toward 5".
    std::string words;
};

class BuildingGrid {
public:
    BuildingGrid() = default;
    /// Lines that are none (frame::is_line) are left out.
    explicit BuildingGrid(std::vector<frame::GridLine> lines);

    const std::vector<frame::GridLine>& lines() const { return lines_; }
    bool is_empty() const { return lines_.empty(); }
    /// The line of that name, −1 if there is none.
    int find(std::string_view name) const;
    /// Number of the family of a line.
    int family(int line) const { return families_[static_cast<std::size_t>(line)]; }

    /// The nearest line of each family, nearest first.
    std::vector<LineOffset> offsets(const Eigen::Vector2d& point_m) const;

    /// The offset from one line.
    LineOffset offset(int line, const Eigen::Vector2d& point_m) const;

    /// Nothing without two lines of different families that cross at 30° or more.
    std::optional<GridPosition> position(const Eigen::Vector2d& point_m,
                                         const measure::LengthStyle& style) const;

    /// The same from the crossing of both lines, with the sides by the compass: "C/4",
    /// "C/4 + 1'-2 1/2\" east", "C/4 + 1'-2 1/2\" east + 3'-0\" north". As short as a label may be,
    /// where position() has room for the lines on either side.
    std::optional<std::string> crossing_words(const Eigen::Vector2d& point_m,
                                              const measure::LengthStyle& style) const;

    /// The name of the side of `line` that lies in the plan direction `toward` (not along the
    /// line): "toward C", or a compass word.
    std::string side_name(int line, const Eigen::Vector2d& toward) const;

private:
    std::vector<frame::GridLine> lines_;
    std::vector<int> families_;
};

/// "north", "north-east", … for a plan vector; "north" for none.
std::string compass_word(const Eigen::Vector2d& toward);

}  // namespace layproof::lay
