#pragma once
// The building grid that a request is about.

#include <optional>
#include <string>
#include <vector>

#include "acts/setup/station_request.hpp"
#include "base/result.hpp"
#include "exchange/import/import.hpp"
#include "exchange/text/document.hpp"
#include "lay/building_grid.hpp"

namespace layproof::acts::internal {

/// The lines of a grid file. `unit`: where it names none; `map`: the columns it was taken with.
/// Refuses as read_column_map and read_any_grid_lines do.
Result<exchange::Table<frame::GridLine>> read_grid_file(
    const exchange::Document& file, const std::optional<exchange::Document>& map,
    std::optional<measure::LengthUnit> unit);

/// The lines of the request's own file, else of its job; without either `grid` stays as it is.
/// Refuses as read_grid_file does.
std::optional<Refusal> read_site_grid(const std::optional<exchange::Document>& own,
                                      const StationRequest& station, lay::BuildingGrid& grid,
                                      std::vector<std::string>& notices);

}  // namespace layproof::acts::internal
