#pragma once
// Our tables as CSV text with units in the header: what is written reads back the same, apart
// from the last digit of a length in feet or an angle.

#include <span>
#include <string>

#include "frame/grid_line.hpp"
#include "frame/mark.hpp"
#include "measure/length.hpp"
#include "measure/sight.hpp"
#include "network/evidence.hpp"
#include "network/level_run.hpp"
#include "station/setup.hpp"

namespace layproof::exchange {

/// All columns; standard deviations and tolerances too, in `unit`.
std::string write_marks(std::span<const frame::Mark> marks, measure::LengthUnit unit);
/// Angles in decimal degrees, prism constants in mm, temperatures in K, pressures in hPa.
std::string write_sights(std::span<const measure::Sight> sights, measure::LengthUnit unit);
std::string write_setups(std::span<const station::Setup> setups, measure::LengthUnit unit);
std::string write_points(std::span<const frame::DesignPoint> points, measure::LengthUnit unit);
std::string write_grid_lines(std::span<const frame::GridLine> lines, measure::LengthUnit unit);
/// Standard deviations of these in mm.
std::string write_tapes(std::span<const network::Tape> tapes, measure::LengthUnit unit);
std::string write_levels(std::span<const network::LevelRise> levels, measure::LengthUnit unit);
/// A run's rows with its name, whatever file they came from.
std::string write_level_runs(std::span<const network::LevelRun> runs, measure::LengthUnit unit);

}  // namespace layproof::exchange
