#include "exchange/tables/level_readers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>
#include <utility>

#include "exchange/tables/control_readers.hpp"
#include "exchange/tables/rows.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

using Kind = CellKind;
using Where = network::LevelFault::Where;

constexpr Range kRodReading{-10.0, 10.0, true, "a reading of the rod within 10 m"};
constexpr Range kSightLength{0.0, 1000.0, false, "a sight length above 0, at most 1,000 m"};
constexpr Range kLevelSd{0.0, 0.1, false, "a standard deviation above 0, at most 100 mm"};

constexpr std::array kRunColumns{
    ColumnSpec{"run", Kind::text, true},
    ColumnSpec{"point", Kind::text, true},
    ColumnSpec{"backsight", Kind::length, true},
    ColumnSpec{"intermediate", Kind::length, false, "backsight"},
    ColumnSpec{"foresight", Kind::length, true, "backsight"},
    ColumnSpec{"backsight_distance", Kind::length},
    ColumnSpec{"foresight_distance", Kind::length, false, "backsight_distance"},
    ColumnSpec{"sd_km", Kind::length},
    ColumnSpec{"sd_turn", Kind::length},
    ColumnSpec{"time", Kind::time},
    ColumnSpec{"note"},
};
const TableSpec kRuns{"level_runs", kRunColumns};

struct RunColumns {
    std::size_t run = column_index(kRuns, "run");
    std::size_t point = column_index(kRuns, "point");
    std::size_t backsight = column_index(kRuns, "backsight");
    std::size_t intermediate = column_index(kRuns, "intermediate");
    std::size_t foresight = column_index(kRuns, "foresight");
    std::size_t backsight_distance = column_index(kRuns, "backsight_distance");
    std::size_t foresight_distance = column_index(kRuns, "foresight_distance");
    std::size_t sd_km = column_index(kRuns, "sd_km");
    std::size_t sd_turn = column_index(kRuns, "sd_turn");
    std::size_t time = column_index(kRuns, "time");

    std::size_t of(Where where) const {
        switch (where) {
            case Where::backsight:
                return backsight;
            case Where::intermediate:
                return intermediate;
            case Where::foresight:
                return foresight;
            case Where::distance_back:
                return backsight_distance;
            case Where::distance_fore:
                return foresight_distance;
            case Where::point:
                break;
        }
        return point;
    }
};

/// Places and texts of a row's cells, for what only the whole run tells.
struct RowCells {
    std::vector<Place> places;
    std::vector<std::string> texts;
};

/// Rows of one run stand together.
void hold_together(TableReader& table, std::size_t column, const std::string& run,
                   std::string& open, std::set<std::string>& ended) {
    if (run == open || table.refusal()) return;
    if (!open.empty()) ended.insert(open);
    open = run;
    if (ended.contains(run))
        table.refuse(ErrorCode::out_of_range, column,
                     fmt::format("run {} again, after other rows", in_quotes(run)),
                     "the rows of a run together, and a name of its own for each run");
}

std::optional<Refusal> whole_runs(const std::vector<network::LevelReading>& readings,
                                  const std::vector<RowCells>& cells, const RunColumns& columns,
                                  const Document& document) {
    std::size_t before = 0;
    for (const network::LevelRun& run : network::level_runs_of(readings)) {
        if (const auto fault = network::level_fault(run)) {
            const std::size_t column = columns.of(fault->where);
            const RowCells& row = cells[before + fault->reading];
            const std::string name(kRuns.columns[column].name);
            return Refusal{fault->is_missing ? ErrorCode::value_missing : ErrorCode::out_of_range,
                           row.places[column],
                           fault->is_missing
                               ? fmt::format("no {} in run {}", name, in_quotes(run.name))
                               : fmt::format("the {} {} in run {}", name,
                                             in_quotes(row.texts[column]), in_quotes(run.name)),
                           fault->expected};
        }
        before += run.readings.size();
    }
    if (readings.empty())
        return Refusal{ErrorCode::value_missing,
                       {document.name, 1, 1},
                       "a header without any row",
                       "one row for each point of the rod"};
    return std::nullopt;
}

}  // namespace

Result<Table<network::LevelReading>> read_level_runs(const Document& document,
                                                     const ReadOptions& options) {
    auto opened = TableReader::open(document, kRuns, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const RunColumns c;
    std::vector<RowCells> cells;
    std::string open;
    std::set<std::string> ended;
    auto rows = internal::read_rows<network::LevelReading>(table, [&](auto& row) {
        row.run = table.name(c.run);
        hold_together(table, c.run, row.run, open, ended);
        // A turning point has no name.
        if (!table.is_blank(c.point)) row.point = table.name(c.point);
        row.backsight_m = table.length_m(c.backsight, kRodReading);
        row.intermediate_m = table.length_m(c.intermediate, kRodReading);
        row.foresight_m = table.length_m(c.foresight, kRodReading);
        row.backsight_distance_m = table.length_m(c.backsight_distance, kSightLength);
        row.foresight_distance_m = table.length_m(c.foresight_distance, kSightLength);
        row.sd_km_m = table.length_m(c.sd_km, kLevelSd);
        row.sd_turn_m = table.length_m(c.sd_turn, kLevelSd);
        row.time_s = table.time_s(c.time);
        row.time_text = table.text(c.time);
        row.note = table.note();
        RowCells& kept = cells.emplace_back();
        for (std::size_t k = 0; k < kRunColumns.size(); ++k) {
            kept.places.push_back(table.place(k));
            kept.texts.emplace_back(table.text(k));
        }
    });
    if (!rows) return rows.refusal();
    if (auto refusal = whole_runs(*rows, cells, c, document)) return *std::move(refusal);
    return Table<network::LevelReading>{std::move(rows).value(), table.length_unit(c.backsight),
                                        table.take_notices()};
}

Result<Levels> read_any_levels(const Document& document, const ReadOptions& options) {
    Levels out;
    const auto is_of_other_columns = [](const Refusal& refusal) {
        return refusal.code == ErrorCode::column_missing ||
               refusal.code == ErrorCode::header_missing;
    };
    auto runs = read_level_runs(document, options);
    if (runs) {
        out.readings = std::move(runs->rows);
        out.unit = runs->unit;
        out.notices = std::move(runs->notices);
        return out;
    }
    if (!is_of_other_columns(runs.refusal())) return runs.refusal();
    auto rises = read_levels(document, options);
    if (rises) {
        out.rises = std::move(rises->rows);
        out.unit = rises->unit;
        out.notices = std::move(rises->notices);
        return out;
    }
    if (!is_of_other_columns(rises.refusal())) return rises.refusal();
    // Neither: what the header looks more like is missing less.
    Refusal refusal = rises.refusal();
    const bool has_readings = document.bytes.find("sight") != std::string::npos &&
                              runs.refusal().code == ErrorCode::column_missing;
    if (has_readings) refusal = runs.refusal();
    if (!has_readings)
        refusal.expected += "; or, for a run as read, run, point, backsight and foresight";
    return refusal;
}

}  // namespace layproof::exchange
