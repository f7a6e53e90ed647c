#include "acts/setup/site_grid.hpp"

#include "exchange/tables/column_map.hpp"

namespace layproof::acts::internal {

Result<exchange::Table<frame::GridLine>> read_grid_file(
    const exchange::Document& file, const std::optional<exchange::Document>& map,
    std::optional<measure::LengthUnit> unit) {
    exchange::ReadOptions options;
    options.unit = unit;
    std::optional<exchange::ColumnMap> columns;
    if (map) {
        auto read = exchange::read_column_map(*map);
        if (!read) return read.refusal();
        columns = std::move(*read);
        options.map = &*columns;
    }
    return exchange::read_any_grid_lines(file, options);
}

std::optional<Refusal> read_site_grid(const std::optional<exchange::Document>& own,
                                      const StationRequest& station, lay::BuildingGrid& grid,
                                      std::vector<std::string>& notices) {
    const auto& facts = station.facts;
    const bool is_of_job = !own && facts && facts->grid;
    if (!own && !is_of_job) return std::nullopt;
    auto lines = is_of_job ? read_grid_file(*facts->grid, facts->grid_map, facts->grid_unit)
                           : read_grid_file(*own, std::nullopt, station.unit);
    if (!lines) return lines.refusal();
    notices.insert(notices.end(), lines->notices.begin(), lines->notices.end());
    grid = lay::BuildingGrid(std::move(lines->rows));
    return std::nullopt;
}

}  // namespace layproof::acts::internal
