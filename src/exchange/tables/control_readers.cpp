#include "exchange/tables/control_readers.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>
#include <vector>

#include "exchange/tables/rows.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

using internal::read_rows;

using Kind = CellKind;

constexpr Range kMeasuredSd{0.0, 100.0, false, "a standard deviation above 0, at most 100 m"};
constexpr Range kTapeDistance{0.0, kLargestDistance_m, false,
                              "a distance above 0, at most 100,000 m"};
constexpr Range kRise{-10000.0, 10000.0, true, "a height difference within 10,000 m"};

constexpr std::array kTapeColumns{
    ColumnSpec{"from", Kind::text, true},
    ColumnSpec{"to", Kind::text, true},
    ColumnSpec{"distance", Kind::length, true},
    ColumnSpec{"sd", Kind::length, false, "distance"},
    ColumnSpec{"held"},
    ColumnSpec{"note"},
};
constexpr std::array kLevelColumns{
    ColumnSpec{"from", Kind::text, true},
    ColumnSpec{"to", Kind::text, true},
    ColumnSpec{"rise", Kind::length, true},
    ColumnSpec{"sd", Kind::length, false, "rise"},
    ColumnSpec{"note"},
};
const TableSpec kTapes{"tapes", kTapeColumns};
const TableSpec kLevels{"levels", kLevelColumns};

Result<Table<frame::Mark>> read_named(const Document& document, const ReadOptions& options,
                                      std::string_view word, std::string_view name_column) {
    const TableSpec& spec = *table_spec(word);
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t name = column_index(spec, name_column);
    const internal::PlaceColumns columns(spec);
    int number = 0;
    auto rows = read_rows<frame::Mark>(table, [&](frame::Mark& row) {
        ++number;
        row.name = table.is_blank(name) ? fmt::format("#{}", number) : table.name(name);
        internal::read_place(table, columns, row);
    });
    if (!rows) return rows.refusal();
    if (rows->empty())
        return Refusal{ErrorCode::no_marks,
                       {document.name, 0, 0},
                       "a header without any mark",
                       "one row for each mark"};
    return Table<frame::Mark>{std::move(rows).value(), table.length_unit(columns.east),
                              table.take_notices()};
}

/// Both ends, and that they are two.
template <class Row>
void read_ends(TableReader& table, std::size_t from, std::size_t to, Row& row) {
    row.from = table.name(from);
    row.to = table.name(to);
    if (!table.refusal() && row.from == row.to)
        table.refuse(ErrorCode::out_of_range, to, in_quotes(row.to), "another mark than `from`");
}

}  // namespace

Result<Table<frame::Mark>> read_sheet(const Document& document, const ReadOptions& options) {
    auto marks = read_named(document, options, "marks", "mark");
    if (marks || marks.refusal().code != ErrorCode::column_missing) return marks;
    auto points = read_named(document, options, "points", "point");
    if (points || points.refusal().code != ErrorCode::column_missing) return points;
    return marks;
}

Result<Table<network::Tape>> read_tapes(const Document& document, const ReadOptions& options) {
    auto opened = TableReader::open(document, kTapes, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t from = column_index(kTapes, "from");
    const std::size_t to = column_index(kTapes, "to");
    const std::size_t distance = column_index(kTapes, "distance");
    const std::size_t sd = column_index(kTapes, "sd");
    const std::size_t held = column_index(kTapes, "held");
    auto rows = read_rows<network::Tape>(table, [&](network::Tape& row) {
        read_ends(table, from, to, row);
        row.distance_m = table.needed_length_m(distance, kTapeDistance);
        row.sd_m = table.length_m(sd, kMeasuredSd).value_or(network::kDefaultTapeSd_m);
        const std::string_view word = table.text(held);
        row.is_slope = word == "slope";
        if (!word.empty() && word != "slope" && word != "level")
            table.refuse(ErrorCode::word_unknown, held, in_quotes(word), "level or slope");
    });
    if (!rows) return rows.refusal();
    return Table<network::Tape>{std::move(rows).value(), table.length_unit(distance),
                                table.take_notices()};
}

Result<Table<network::LevelRise>> read_levels(const Document& document,
                                              const ReadOptions& options) {
    auto opened = TableReader::open(document, kLevels, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t from = column_index(kLevels, "from");
    const std::size_t to = column_index(kLevels, "to");
    const std::size_t rise = column_index(kLevels, "rise");
    const std::size_t sd = column_index(kLevels, "sd");
    auto rows = read_rows<network::LevelRise>(table, [&](network::LevelRise& row) {
        read_ends(table, from, to, row);
        row.rise_m = table.needed_length_m(rise, kRise);
        row.sd_m = table.length_m(sd, kMeasuredSd).value_or(network::kDefaultLevelSd_m);
    });
    if (!rows) return rows.refusal();
    return Table<network::LevelRise>{std::move(rows).value(), table.length_unit(rise),
                                     table.take_notices()};
}

}  // namespace layproof::exchange
