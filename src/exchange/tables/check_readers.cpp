#include "exchange/tables/check_readers.hpp"

#include <array>
#include <utility>

#include "exchange/tables/rows.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using Kind = CellKind;

constexpr Range kLength{0.0, kLargestDistance_m, false, "a length above 0, at most 100,000 m"};
constexpr Range kRodHeight{0.0, 20.0, false, "a height above 0, at most 20 m"};

constexpr std::array kSetColumns{
    ColumnSpec{"series"},
    ColumnSpec{"set", Kind::text, true},
    ColumnSpec{"target", Kind::text, true},
    ColumnSpec{"direction", Kind::angle, true},
    ColumnSpec{"zenith", Kind::angle, true},
    ColumnSpec{"note"},
};
constexpr std::array kBaseColumns{
    ColumnSpec{"known", Kind::length, true},
    ColumnSpec{"measured", Kind::length, true, "known"},
    ColumnSpec{"note"},
};
constexpr std::array kRodColumns{
    ColumnSpec{"turn", Kind::angle, true},
    ColumnSpec{"direction", Kind::angle, true},
    ColumnSpec{"zenith", Kind::angle, true},
    ColumnSpec{"slope_distance", Kind::length, true},
    ColumnSpec{"target_height", Kind::length, true},
    ColumnSpec{"note"},
};
const TableSpec kSets{"sets", kSetColumns};
const TableSpec kBases{"bases", kBaseColumns};
const TableSpec kRod{"rod", kRodColumns};

double needed_angle(TableReader& table, std::size_t column) {
    const auto angle = table.angle_rad(column);
    if (!angle && !table.refusal())
        table.refuse(ErrorCode::value_missing, column, "nothing", "an angle");
    return angle.value_or(0.0);
}

double needed_zenith(TableReader& table, std::size_t column) {
    const double angle = needed_angle(table, column);
    if (!table.refusal() && (angle <= 0.0 || angle >= measure::kTwoPi))
        table.refuse(ErrorCode::angle_out_of_range, column, std::string(table.text(column)),
                     "a zenith angle above 0° and below 360°");
    return angle;
}

template <class Row, class ReadRow>
Result<Table<Row>> read_table(const Document& document, const TableSpec& spec,
                              const ReadOptions& options, const char* unit_column,
                              ReadRow read_row) {
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    Table<Row> out;
    auto rows = internal::read_rows<Row>(table, [&](Row& row) { read_row(table, row); });
    if (!rows) return rows.refusal();
    out.rows = std::move(rows).value();
    if (out.rows.empty())
        return Refusal{ErrorCode::value_missing,
                       {document.name, 0, 0},
                       "a header without any row",
                       "one row for each reading"};
    if (unit_column != nullptr) out.unit = table.length_unit(column_index(spec, unit_column));
    out.notices = table.take_notices();
    return out;
}

}  // namespace

Result<Table<SetRow>> read_sets(const Document& document, const ReadOptions& options) {
    return read_table<SetRow>(document, kSets, options, nullptr, [](TableReader& t, SetRow& row) {
        row.series = t.text(column_index(kSets, "series"));
        row.set = t.name(column_index(kSets, "set"));
        row.target = t.name(column_index(kSets, "target"));
        row.direction_rad = needed_angle(t, column_index(kSets, "direction"));
        row.zenith_rad = needed_zenith(t, column_index(kSets, "zenith"));
    });
}

Result<Table<BaseRow>> read_bases(const Document& document, const ReadOptions& options) {
    return read_table<BaseRow>(
        document, kBases, options, "known", [](TableReader& t, BaseRow& row) {
            row.reading.known_m = t.needed_length_m(column_index(kBases, "known"), kLength);
            row.reading.measured_m = t.needed_length_m(column_index(kBases, "measured"), kLength);
        });
}

Result<Table<RodRow>> read_rod_turns(const Document& document, const ReadOptions& options) {
    return read_table<RodRow>(
        document, kRod, options, "slope_distance", [](TableReader& t, RodRow& row) {
            row.sight.turn_rad = needed_angle(t, column_index(kRod, "turn"));
            row.sight.direction_rad = needed_angle(t, column_index(kRod, "direction"));
            const double zenith = needed_zenith(t, column_index(kRod, "zenith"));
            row.sight.zenith_rad = zenith;
            if (!t.refusal() && zenith >= measure::kPi)
                t.refuse(ErrorCode::angle_out_of_range, column_index(kRod, "zenith"),
                         std::string(t.text(column_index(kRod, "zenith"))),
                         "a zenith angle of face one, below 180°");
            row.sight.slope_m = t.needed_length_m(column_index(kRod, "slope_distance"), kLength);
            row.sight.height_m = t.needed_length_m(column_index(kRod, "target_height"), kRodHeight);
        });
}

}  // namespace layproof::exchange
