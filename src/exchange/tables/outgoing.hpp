#pragma once
// What goes out in an open format: marks, points, what was laid, setting-out figures, sights and
// set-ups, grid lines. Lengths in metres; the writers turn them into the unit asked for.

#include <optional>
#include <string>
#include <vector>

#include "frame/grid_line.hpp"
#include "frame/mark.hpp"
#include "measure/length.hpp"
#include "measure/sight.hpp"
#include "station/setup.hpp"

namespace layproof::exchange {

/// A point as it was laid. Standard deviations and tolerances where known.
struct LaidPoint {
    std::string name;  ///< of its design point
    double east_m = 0.0;
    double north_m = 0.0;
    std::optional<double> height_m;
    std::optional<double> sd_east_m, sd_north_m, sd_height_m;
    std::optional<double> off_east_m, off_north_m, off_height_m;  ///< laid minus design
    std::optional<double> tolerance_plan_m, tolerance_height_m;
    std::string word;  ///< "proven", "in doubt", "fails"; empty: not judged
    std::optional<double> probability;
    std::string stations;
};

/// What to turn and measure from a station to a point.
struct SettingOutRow {
    std::string station;
    std::string point;
    std::optional<double> azimuth_rad;
    std::optional<double> direction_rad;
    std::optional<double> zenith_rad;
    std::optional<double> horizontal_m;
    std::optional<double> slope_m;
    std::optional<double> height_difference_m;
    double rod_height_m = 0.0;
};

struct Outgoing {
    measure::LengthUnit unit = measure::LengthUnit::metre;  ///< metre, foot or us_foot
    std::string title;
    std::string frame;  ///< name of the coordinate system, if known
    std::string date = "1970-01-01";
    std::string time = "00:00:00";
    std::vector<frame::Mark> marks;
    std::vector<frame::DesignPoint> points;
    std::vector<LaidPoint> laid;
    std::vector<SettingOutRow> setting_out;
    std::vector<measure::Sight> sights;
    std::vector<station::Setup> setups;
    std::vector<frame::GridLine> grid_lines;
};

/// The file's text, and in words what the format could not carry.
struct Written {
    std::string text;
    std::vector<std::string> lost;
};

/// Behind the name of a laid point, so that it is told from its design point.
inline constexpr const char* kLaidSuffix = " laid";

}  // namespace layproof::exchange
