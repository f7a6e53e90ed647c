#include "exchange/tables/obstacle_rows.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>

#include "exchange/tables/rows.hpp"

namespace layproof::exchange {
namespace {

constexpr std::array<ColumnSpec, 14> kObstacleColumns{{
    {"obstacle", CellKind::text, true},
    {"kind", CellKind::text},
    {"east", CellKind::length, true},
    {"north", CellKind::length, true, "east"},
    {"east_2", CellKind::length, false, "east"},
    {"north_2", CellKind::length, false, "east"},
    {"width", CellKind::length, false, "east"},
    {"depth", CellKind::length, false, "east"},
    {"diameter", CellKind::length, false, "east"},
    {"thickness", CellKind::length, false, "east"},
    {"turn", CellKind::angle},
    {"bottom", CellKind::length, false, "east"},
    {"top", CellKind::length, false, "east"},
    {"note", CellKind::text},
}};
constexpr TableSpec kObstacleSpec{"obstacles", kObstacleColumns};

constexpr Range kObstacleSize{0.001, 1000.0, true, "a size of 1 mm to 1,000 m"};
constexpr std::array<std::pair<std::string_view, ObstacleKind>, 5> kKinds{{
    {"column", ObstacleKind::column},
    {"round", ObstacleKind::round},
    {"wall", ObstacleKind::wall},
    {"outline", ObstacleKind::outline},
    {"no-go", ObstacleKind::no_go},
}};

bool has_corners(ObstacleKind kind) {
    return kind == ObstacleKind::outline || kind == ObstacleKind::no_go;
}

/// The kind in words, else by what is filled in.
std::optional<ObstacleKind> kind_of(TableReader& table, std::size_t kind, std::size_t diameter,
                                    std::size_t east_2, std::size_t width) {
    const std::string_view word = table.text(kind);
    for (const auto& [text, value] : kKinds)
        if (word == text) return value;
    if (!word.empty()) {
        table.refuse(ErrorCode::word_unknown, kind, fmt::format("\"{}\"", word),
                     "column, round, wall, outline or no-go");
        return std::nullopt;
    }
    if (!table.is_blank(diameter)) return ObstacleKind::round;
    if (!table.is_blank(east_2)) return ObstacleKind::wall;
    return table.is_blank(width) ? ObstacleKind::outline : ObstacleKind::column;
}

std::optional<Refusal> check_corners(const std::vector<ObstacleRow>& rows) {
    for (const ObstacleRow& row : rows)
        if (has_corners(row.kind) && row.corners.size() < 3)
            return Refusal{ErrorCode::out_of_range, row.place,
                           fmt::format("{} with {} corners", row.name, row.corners.size()),
                           "at least three rows of that name, one for each corner"};
    return std::nullopt;
}

}  // namespace

Refusal too_many_obstacles(const std::string& file) {
    return {ErrorCode::out_of_range,
            {file, 0, 0},
            fmt::format("more than {} obstacles", kMostObstacles),
            "the obstacles of one floor"};
}

std::string_view to_word(ObstacleKind kind) {
    for (const auto& [text, value] : kKinds)
        if (value == kind) return text;
    return "column";
}

Result<Table<ObstacleRow>> read_obstacles(const Document& document, const ReadOptions& options) {
    auto opened = TableReader::open(document, kObstacleSpec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const auto column = [](std::string_view name) { return column_index(kObstacleSpec, name); };
    const std::size_t name = column("obstacle");
    const std::size_t kind = column("kind");
    const std::size_t east = column("east");
    const std::size_t north = column("north");
    const std::size_t east_2 = column("east_2");
    const std::size_t width = column("width");
    const std::size_t diameter = column("diameter");
    const std::size_t bottom = column("bottom");
    const std::size_t top = column("top");
    std::vector<ObstacleRow> out;
    auto rows = internal::read_rows<ObstacleRow>(table, [&](ObstacleRow& row) {
        row.name = table.name(name);
        row.place = table.place(name);
        const auto found = kind_of(table, kind, diameter, east_2, width);
        if (!found) return;
        row.kind = *found;
        const double e = table.needed_length_m(east, internal::kCoordinate);
        const double n = table.needed_length_m(north, internal::kCoordinate);
        row.corners = {{e, n}};
        row.bottom_m = table.length_m(bottom, internal::kCoordinate);
        row.top_m = table.length_m(top, internal::kCoordinate);
        switch (row.kind) {
            case ObstacleKind::column:
                row.width_m = table.needed_length_m(width, kObstacleSize);
                row.depth_m = table.length_m(column("depth"), kObstacleSize).value_or(row.width_m);
                row.turn_rad = table.angle_rad(column("turn")).value_or(0.0);
                break;
            case ObstacleKind::round:
                row.width_m = table.needed_length_m(diameter, kObstacleSize);
                break;
            case ObstacleKind::wall: {
                const double e2 = table.needed_length_m(east_2, internal::kCoordinate);
                const double n2 = table.needed_length_m(column("north_2"), internal::kCoordinate);
                row.corners.emplace_back(e2, n2);
                row.width_m = table.needed_length_m(column("thickness"), kObstacleSize);
                break;
            }
            case ObstacleKind::outline:
            case ObstacleKind::no_go:
                break;
        }
        if (row.bottom_m && row.top_m && !(*row.top_m > *row.bottom_m))
            table.refuse(ErrorCode::out_of_range, top, "a top that is not above the bottom",
                         "heights of bottom and top, the top above");
    });
    if (!rows) return rows.refusal();
    for (ObstacleRow& row : *rows) {
        if (has_corners(row.kind) && !out.empty() && out.back().kind == row.kind &&
            out.back().name == row.name)
            out.back().corners.push_back(row.corners.front());
        else
            out.push_back(std::move(row));
    }
    if (out.size() > kMostObstacles) return too_many_obstacles(document.name);
    if (auto refusal = check_corners(out)) return *refusal;
    return Table<ObstacleRow>{std::move(out), table.length_unit(east), table.take_notices()};
}

}  // namespace layproof::exchange
