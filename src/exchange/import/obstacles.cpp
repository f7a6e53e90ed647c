#include "exchange/import/obstacles.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <map>
#include <utility>

#include "exchange/dxf/dxf.hpp"
#include "exchange/ifc/ifc_obstacles.hpp"
#include "exchange/tables/rows_internal.hpp"

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
/// Ends of drawn lines nearer than this meet.
constexpr double kMeet_m = 0.002;

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

Refusal too_many(const std::string& file) {
    return {ErrorCode::out_of_range,
            {file, 0, 0},
            fmt::format("more than {} obstacles", kMostObstacles),
            "the obstacles of one floor"};
}

std::string lower_case(std::string_view text) {
    std::string out(text);
    for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return out;
}

bool is_no_go_layer(std::string_view layer) {
    const std::string word = lower_case(layer);
    return word.find("no-go") != std::string::npos || word.find("nogo") != std::string::npos ||
           word.find("keep-out") != std::string::npos;
}

/// Runs of lines of one layer that meet end to end.
std::vector<std::vector<Eigen::Vector2d>> runs_of(const Drawing& drawing, int layer, double unit) {
    std::vector<std::pair<Eigen::Vector2d, Eigen::Vector2d>> lines;
    for (const DrawnLine& line : drawing.lines)
        if (line.layer == layer)
            lines.emplace_back(unit * line.from.head<2>(), unit * line.to.head<2>());
    std::vector<std::vector<Eigen::Vector2d>> runs;
    for (const auto& [from, to] : lines) {
        // Polylines come piece by piece, so a run goes on where the last one ended.
        if (!runs.empty() && (runs.back().back() - from).norm() < kMeet_m &&
            !(runs.back().size() > 2 &&
              (runs.back().front() - runs.back().back()).norm() < kMeet_m))
            runs.back().push_back(to);
        else
            runs.push_back({from, to});
    }
    return runs;
}

Result<Table<ObstacleRow>> from_drawing(const Document& document, const ReadOptions& options) {
    auto drawing = read_drawing(document);
    if (!drawing) return drawing.refusal();
    if (!options.unit)
        return Refusal{ErrorCode::unit_missing,
                       {document.name, 0, 0},
                       unit_evidence(*drawing),
                       "the unit of the drawing, stated with --unit"};
    const double unit = measure::metres_per(*options.unit);
    Table<ObstacleRow> out;
    out.unit = options.unit;
    int number = 0;
    const auto add = [&](ObstacleKind kind, std::string_view layer) -> ObstacleRow& {
        ObstacleRow row;
        row.kind = kind;
        row.name = fmt::format("{} {}", layer.empty() ? "drawn" : layer, ++number);
        row.place = {document.name, 0, 0};
        out.rows.push_back(std::move(row));
        return out.rows.back();
    };
    for (const DrawnPoint& point : drawing->points) {
        if (point.source != PointSource::circle || !(point.radius * unit >= 0.001)) continue;
        ObstacleRow& row = add(ObstacleKind::round, drawing->word(point.layer));
        row.corners = {unit * point.at.head<2>()};
        row.width_m = 2.0 * unit * point.radius;
    }
    int open = 0;
    for (std::size_t layer = 0; layer < drawing->words.size(); ++layer) {
        const std::string& name = drawing->words[layer];
        for (auto& run : runs_of(*drawing, static_cast<int>(layer), unit)) {
            const bool is_closed = run.size() > 3 && (run.front() - run.back()).norm() < kMeet_m;
            if (is_no_go_layer(name) && run.size() >= 3) {
                add(ObstacleKind::no_go, name).corners = std::move(run);
            } else if (is_closed) {
                run.pop_back();
                add(ObstacleKind::outline, name).corners = std::move(run);
            } else {
                ObstacleRow& row = add(ObstacleKind::wall, name);
                row.corners = std::move(run);
                row.width_m = kDrawnWall_m;
                ++open;
            }
        }
    }
    if (out.rows.size() > kMostObstacles) return too_many(document.name);
    const std::size_t drawn = out.rows.size();
    out.notices.push_back(fmt::format(
        "{}: {} drawn; the height is open, so nothing is seen over {}.", document.name,
        drawn == 1 ? "1 obstacle or area" : fmt::format("{} obstacles and areas", drawn),
        drawn == 1 ? "it" : "them"));
    if (open > 0)
        out.notices.push_back(open == 1
                                  ? fmt::format("{}: 1 open line taken as a wall of {:.0f} mm.",
                                                document.name, kDrawnWall_m * 1000.0)
                                  : fmt::format("{}: {} open lines taken as walls of {:.0f} mm.",
                                                document.name, open, kDrawnWall_m * 1000.0));
    return out;
}

}  // namespace

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
    if (out.size() > kMostObstacles) return too_many(document.name);
    if (auto refusal = check_corners(out)) return *refusal;
    return Table<ObstacleRow>{std::move(out), table.length_unit(east), table.take_notices()};
}

Result<Table<ObstacleRow>> read_any_obstacles(const Document& document,
                                              const ReadOptions& options) {
    switch (format_of(document)) {
        case FileFormat::dxf:
            return from_drawing(document, options);
        case FileFormat::ifc:
            return read_ifc_obstacles(document, options);
        case FileFormat::delimited:
            return read_obstacles(document, options);
        default:
            return Refusal{ErrorCode::format_unknown,
                           {document.name, 0, 0},
                           std::string(to_word(format_of(document))),
                           "obstacles as delimited text, DXF or IFC"};
    }
}

}  // namespace layproof::exchange
