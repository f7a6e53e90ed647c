#include "acts/site_grid_internal.hpp"
#include "exchange/column_map.hpp"
#include "exchange/import.hpp"

namespace layproof::acts::internal {

std::optional<Refusal> read_site_grid(const std::optional<exchange::Document>& own,
                                      const StationRequest& station, lay::BuildingGrid& grid,
                                      std::vector<std::string>& notices) {
    const auto& facts = station.facts;
    const bool is_of_job = !own && facts && facts->grid;
    if (!own && !is_of_job) return std::nullopt;
    exchange::ReadOptions options;
    options.unit = is_of_job ? facts->grid_unit : station.unit;
    std::optional<exchange::ColumnMap> map;
    if (is_of_job && facts->grid_map) {
        auto read = exchange::read_column_map(*facts->grid_map);
        if (!read) return read.refusal();
        map = std::move(*read);
        options.map = &*map;
    }
    auto lines = exchange::read_any_grid_lines(is_of_job ? *facts->grid : *own, options);
    if (!lines) return lines.refusal();
    notices.insert(notices.end(), lines->notices.begin(), lines->notices.end());
    grid = lay::BuildingGrid(std::move(lines->rows));
    return std::nullopt;
}

}  // namespace layproof::acts::internal
