// The columns of our tables, in the order in which they are written.

#include <array>
#include <cassert>

#include "exchange/tables/column_specs.hpp"

namespace layproof::exchange {
namespace {

using Kind = CellKind;

constexpr std::array kMarkColumns{
    ColumnSpec{"mark", Kind::text, true},
    ColumnSpec{"east", Kind::length, true},
    ColumnSpec{"north", Kind::length, true},
    ColumnSpec{"height", Kind::length, true},
    ColumnSpec{"sd_east", Kind::length, false, "east"},
    ColumnSpec{"sd_north", Kind::length, false, "north"},
    ColumnSpec{"sd_height", Kind::length, false, "height"},
    ColumnSpec{"role"},
    ColumnSpec{"note"},
};

constexpr std::array kSightColumns{
    ColumnSpec{"station", Kind::text, true},
    ColumnSpec{"target", Kind::text, true},
    ColumnSpec{"direction", Kind::angle, true},
    ColumnSpec{"zenith", Kind::angle, true},
    ColumnSpec{"slope_distance", Kind::length, true},
    ColumnSpec{"target_height", Kind::length, true},
    ColumnSpec{"horizontal_distance", Kind::length},
    ColumnSpec{"time", Kind::time},
    ColumnSpec{"face"},
    ColumnSpec{"purpose"},
    ColumnSpec{"prism_constant", Kind::length},
    ColumnSpec{"temperature", Kind::temperature},
    ColumnSpec{"pressure", Kind::pressure},
    ColumnSpec{"note"},
};
constexpr std::array<std::string_view, 2> kSightReplaceable{"zenith", "slope_distance"};

constexpr std::array kSetupColumns{
    ColumnSpec{"station", Kind::text, true},
    ColumnSpec{"kind", Kind::text, true},
    ColumnSpec{"mark"},
    ColumnSpec{"instrument_height", Kind::length},
    ColumnSpec{"time", Kind::time},
    ColumnSpec{"temperature", Kind::temperature},
    ColumnSpec{"pressure", Kind::pressure},
};

constexpr std::array kPointColumns{
    ColumnSpec{"point", Kind::text, true},
    ColumnSpec{"east", Kind::length, true},
    ColumnSpec{"north", Kind::length, true},
    ColumnSpec{"height", Kind::length},
    ColumnSpec{"element"},
    ColumnSpec{"tolerance_plan", Kind::length},
    ColumnSpec{"tolerance_height", Kind::length},
    ColumnSpec{"note"},
};

constexpr std::array kGridLineColumns{
    ColumnSpec{"line", Kind::text, true},
    ColumnSpec{"east_1", Kind::length, true},
    ColumnSpec{"north_1", Kind::length, true, "east_1"},
    ColumnSpec{"east_2", Kind::length, true, "east_1"},
    ColumnSpec{"north_2", Kind::length, true, "east_1"},
    ColumnSpec{"family"},
};

const std::array<TableSpec, 5> kTables{
    TableSpec{"marks", kMarkColumns},
    TableSpec{"sights", kSightColumns, kSightReplaceable, "horizontal_distance"},
    TableSpec{"setups", kSetupColumns},
    TableSpec{"points", kPointColumns},
    TableSpec{"grid_lines", kGridLineColumns},
};

}  // namespace

const TableSpec* table_spec(std::string_view table) {
    for (const TableSpec& spec : kTables) {
        if (spec.table == table) return &spec;
    }
    return nullptr;
}

std::size_t column_index(const TableSpec& spec, std::string_view name) {
    for (std::size_t i = 0; i < spec.columns.size(); ++i) {
        if (spec.columns[i].name == name) return i;
    }
    assert(false && "the table has no such column");
    return 0;
}

}  // namespace layproof::exchange
