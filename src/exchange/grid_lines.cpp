#include "exchange/grid_lines.hpp"

#include <fmt/format.h>

#include <cstddef>
#include <string>
#include <unordered_map>
#include <utility>

#include "exchange/text.hpp"

namespace layproof::exchange {
namespace {

constexpr Range kCoordinate{-kLargestCoordinate_m, kLargestCoordinate_m, true,
                            "a coordinate within 100,000,000 m of zero"};

}  // namespace

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
    std::unordered_map<std::string, int> names;
    Table<frame::GridLine> out;
    while (true) {
        const auto more = table.next();
        if (!more) return more.refusal();
        if (!*more) break;
        frame::GridLine row;
        row.place = table.row_place();
        row.name = table.name(line);
        row.start_m.x() = table.needed_length_m(east_1, kCoordinate);
        row.start_m.y() = table.needed_length_m(north_1, kCoordinate);
        row.end_m.x() = table.needed_length_m(east_2, kCoordinate);
        row.end_m.y() = table.needed_length_m(north_2, kCoordinate);
        row.family = table.text(family);
        const auto [known, is_new] = names.emplace(row.name, row.place.line);
        if (!is_new) {
            table.refuse(ErrorCode::duplicate_point, line,
                         fmt::format("{} again, which already stands in line {}",
                                     in_quotes(row.name), known->second),
                         "a name of its own for each line");
        } else if (!frame::is_line(row)) {
            table.refuse(ErrorCode::out_of_range, east_2, "a second end at the place of the first",
                         "two ends of the line at least 10 mm apart");
        }
        if (table.refusal()) return *table.refusal();
        out.rows.push_back(std::move(row));
    }
    out.unit = table.length_unit(east_1);
    out.notices = table.take_notices();
    return out;
}

}  // namespace layproof::exchange
