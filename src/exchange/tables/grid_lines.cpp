#include "exchange/tables/grid_lines.hpp"

#include <cstddef>
#include <utility>

#include "exchange/tables/rows.hpp"

namespace layproof::exchange {

Result<Table<frame::GridLine>> read_grid_lines(const Document& document,
                                               const ReadOptions& options) {
    const TableSpec& spec = *table_spec("grid_lines");
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t line = column_index(spec, "line");
    const std::size_t east_1 = column_index(spec, "east_1");
    const std::size_t north_1 = column_index(spec, "north_1");
    const std::size_t east_2 = column_index(spec, "east_2");
    const std::size_t north_2 = column_index(spec, "north_2");
    const std::size_t family = column_index(spec, "family");
    internal::Names names;
    auto rows = internal::read_rows<frame::GridLine>(table, [&](frame::GridLine& row) {
        row.name = table.name(line);
        row.start_m.x() = table.needed_length_m(east_1, internal::kCoordinate);
        row.start_m.y() = table.needed_length_m(north_1, internal::kCoordinate);
        row.end_m.x() = table.needed_length_m(east_2, internal::kCoordinate);
        row.end_m.y() = table.needed_length_m(north_2, internal::kCoordinate);
        row.family = table.text(family);
        if (internal::is_first(table, line, row.name, names, ErrorCode::duplicate_point,
                               "a name of its own for each line") &&
            !frame::is_line(row))
            table.refuse(ErrorCode::out_of_range, east_2, "a second end at the place of the first",
                         "two ends of the line at least 10 mm apart");
    });
    if (!rows) return rows.refusal();
    return Table<frame::GridLine>{std::move(*rows), table.length_unit(east_1),
                                  table.take_notices()};
}

}  // namespace layproof::exchange
