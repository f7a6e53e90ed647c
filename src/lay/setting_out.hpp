#pragma once
// The figures by which a point is laid from a set-up: what to turn, how far to go, how much to dig.
//
// Model, the forward of a sight (station/solution.hpp): plan distance on the grid D, on the ground
// d = D / scale; azimuth from the axes to the point, direction = azimuth − orientation; the rod's
// target stands v = design height + rod height − axes height − (1−k) d²/(2R) above the line of a
// level instrument; zenith = atan2(d, v), slope = √(d² + v²).
//
// A point less than 0.1 m from the instrument in plan cannot be turned to: at_instrument is true
// and direction, zenith and slope hold nothing. Heights need those of station and point. Cut and
// fill also need the ground's (or what was found there).

#include <Eigen/Core>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "frame/mark.hpp"
#include "lay/building_grid.hpp"
#include "measure/instrument.hpp"
#include "measure/length.hpp"
#include "station/pose.hpp"

namespace layproof::lay {

struct SettingOutStation {
    const station::Pose& pose;
    double rod_height_m = 0.0;
    double scale_factor = 1.0;
    double refraction_k = 0.13;
};

enum class Earthwork { on_grade, cut, fill };
/// "on grade", "cut", "fill".
std::string_view to_word(Earthwork earthwork);

/// Ground to design: below 0.5 mm it is on grade.
struct CutFill {
    Earthwork word = Earthwork::on_grade;
    double amount_m = 0.0;  ///< never negative
};
CutFill cut_fill(double design_height_m, double ground_height_m);

struct SettingOut {
    std::string point;
    bool at_instrument = false;
    double azimuth_rad = 0.0;
    std::optional<double> direction_rad;  ///< circle reading, [0, 2π), face one
    double horizontal_m = 0.0;            ///< on the ground, as a tape or the instrument gives it
    std::optional<double> slope_m;        ///< to the target at rod height
    std::optional<double> zenith_rad;     ///< to the target at rod height
    std::optional<double> height_difference_m;  ///< design point minus the instrument's axes
    std::optional<CutFill> earthwork;
    std::optional<GridPosition> grid;
    std::vector<LineOffset> offsets;  ///< nearest line of each family
};

/// Nothing when the pose or the point is not finite, or the scale not above zero. `style` is for
/// the grid's words.
std::optional<SettingOut> setting_out(const SettingOutStation& station,
                                      const frame::DesignPoint& point,
                                      const BuildingGrid& grid = {},
                                      const measure::LengthStyle& style = {},
                                      std::optional<double> ground_height_m = std::nullopt);

}  // namespace layproof::lay
