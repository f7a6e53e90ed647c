#include "exchange/import/obstacles.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>
#include <utility>

#include "exchange/dxf/dxf.hpp"
#include "exchange/ifc/ifc_obstacles.hpp"
#include "exchange/import/import.hpp"

namespace layproof::exchange {
namespace {

/// Ends of drawn lines nearer than this meet.
constexpr double kMeet_m = 0.002;

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
    if (out.rows.size() > kMostObstacles) return too_many_obstacles(document.name);
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
