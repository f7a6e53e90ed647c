#pragma once
// What the readers of delimited files share: the loop over rows, the coordinates of a mark, and
// names that stand once.

#include <fmt/format.h>

#include <optional>
#include <string>
#include <unordered_map>
#include <utility>
#include <vector>

#include "exchange/tables/row_table.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/text.hpp"
#include "frame/mark.hpp"

namespace layproof::exchange::internal {

inline constexpr Range kCoordinate{-kLargestCoordinate_m, kLargestCoordinate_m, true,
                                   "a coordinate within 100,000,000 m of zero"};

inline constexpr Range kMarkSd{0.0, 100.0, true, "a standard deviation from 0 to 100 m"};

/// Where a table of marks or points has its coordinates.
struct PlaceColumns {
    std::size_t east, north, height;
    std::optional<std::size_t> sd_east, sd_north, sd_height;

    explicit PlaceColumns(const TableSpec& spec)
        : east(column_index(spec, "east")),
          north(column_index(spec, "north")),
          height(column_index(spec, "height")) {
        if (spec.table != "marks") return;
        sd_east = column_index(spec, "sd_east");
        sd_north = column_index(spec, "sd_north");
        sd_height = column_index(spec, "sd_height");
    }
};

/// Fills coordinates, standard deviations and note, and refuses a row that has no place.
inline void read_place(TableReader& table, const PlaceColumns& c, frame::Mark& row) {
    row.east_m = table.length_m(c.east, kCoordinate);
    row.north_m = table.length_m(c.north, kCoordinate);
    row.height_m = table.length_m(c.height, kCoordinate);
    const auto sd = [&](const std::optional<std::size_t>& column) {
        return column ? table.length_m(*column, kMarkSd).value_or(frame::kDefaultMarkSd_m)
                      : frame::kDefaultMarkSd_m;
    };
    row.sd_east_m = sd(c.sd_east);
    row.sd_north_m = sd(c.sd_north);
    row.sd_height_m = sd(c.sd_height);
    row.note = table.note();
    if (table.refusal()) return;
    if (row.east_m.has_value() != row.north_m.has_value()) {
        table.refuse(ErrorCode::value_missing, row.east_m ? c.north : c.east,
                     row.east_m ? "an east without a north" : "a north without an east",
                     "both east and north, or neither for a height mark");
    } else if (!row.east_m && !row.height_m) {
        table.refuse(ErrorCode::value_missing, c.east, "a mark without coordinates",
                     "east and north, a height, or all three");
    }
}

/// Name -> line of its first row.
using Names = std::unordered_map<std::string, int>;

/// Refuses a name that stands in an earlier row.
inline bool is_first(TableReader& table, std::size_t column, const std::string& name, Names& names,
                     ErrorCode code, const char* expected = "a name of its own for each row") {
    const auto [known, is_new] = names.emplace(name, table.place(column).line);
    if (!is_new) {
        table.refuse(code, column,
                     fmt::format("{} again, which already stands in line {}", in_quotes(name),
                                 known->second),
                     expected);
    }
    return is_new;
}

/// Reads all rows with `read_row`, which fills its argument from the table.
template <class Row, class ReadRow>
Result<std::vector<Row>> read_rows(TableReader& table, ReadRow read_row) {
    std::vector<Row> rows;
    while (true) {
        const auto more = table.next();
        if (!more) return more.refusal();
        if (!*more) return rows;
        Row row;
        row.place = table.row_place();
        read_row(row);
        if (table.refusal()) return *table.refusal();
        rows.push_back(std::move(row));
    }
}

}  // namespace layproof::exchange::internal
