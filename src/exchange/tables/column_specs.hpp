#pragma once
// The columns of our tables: their names, what a cell holds, which must be there.

#include <cstddef>
#include <span>
#include <string_view>

#include "exchange/text/units.hpp"

namespace layproof::exchange {

struct ColumnSpec {
    std::string_view name;
    CellKind kind = CellKind::text;
    bool is_required = false;
    std::string_view unit_from{};  ///< the length column whose unit stands in
};

struct TableSpec {
    std::string_view table;  ///< the map's word for it
    std::span<const ColumnSpec> columns;
    /// Columns that need not be there when `instead` is.
    std::span<const std::string_view> replaceable{};
    std::string_view instead{};
};

/// The table of that word (marks, sights, setups, points, grid_lines); nothing when there is none.
const TableSpec* table_spec(std::string_view table);

/// The column's number in its table; the name must be one of its columns.
std::size_t column_index(const TableSpec& spec, std::string_view name);

}  // namespace layproof::exchange
