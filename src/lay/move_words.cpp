#include "lay/move_words.hpp"

#include <fmt/format.h>

#include <cmath>

#include "lay/field_length.hpp"
#include "measure/angle.hpp"

namespace layproof::lay {
namespace {

/// So far from a line that "away from" it cannot be misread.
constexpr double kPlainlyOff_m = 0.1;
/// Lines crossing within this of 90° need no word about the way to go.
constexpr double kSquare_rad = 2.0 * measure::kRadPerDeg;
constexpr double kShortestSight_m = 0.1;

double cross(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

/// Name of a part that changes the distance from `line`; `part` is the plan vector of it.
std::string name_by(const BuildingGrid& grid, int line, const Eigen::Vector2d& laid,
                    const Eigen::Vector2d& part) {
    const frame::GridLine& of = grid.lines()[static_cast<std::size_t>(line)];
    const Eigen::Vector2d to_line = frame::foot_on(of, laid) - laid;
    if (to_line.dot(part) > 0.0) return "toward " + of.name;
    std::string side = grid.side_name(line, part);
    if (side.starts_with("toward ")) return side;
    if (to_line.norm() >= kPlainlyOff_m) return "away from " + of.name;
    return side;
}

bool by_grid(const MoveQuestion& q, std::vector<MovePart>& parts) {
    if (q.grid == nullptr) return false;
    const auto position = q.grid->position(q.design_m, q.style);
    if (!position) return false;
    const auto line = [&](const LineOffset& o) -> const frame::GridLine& {
        return q.grid->lines()[static_cast<std::size_t>(o.line)];
    };
    const Eigen::Vector2d first = frame::direction_of(line(position->first));
    const Eigen::Vector2d second = frame::direction_of(line(position->second));
    const Eigen::Vector2d move = q.design_m - q.laid_m;
    const double sine = cross(first, second);
    // move = a·first + b·second; the part along the second line is what changes the first offset.
    const Eigen::Vector2d along_first = cross(move, second) / sine * first;
    const Eigen::Vector2d along_second = cross(first, move) / sine * second;
    const bool square =
        std::abs(std::asin(std::min(1.0, std::abs(sine))) - measure::kPi / 2.0) < kSquare_rad;
    const auto add = [&](const Eigen::Vector2d& part, const LineOffset& leads_by,
                         const LineOffset& runs_on) {
        std::string name = name_by(*q.grid, leads_by.line, q.laid_m, part);
        if (!square) name += " along " + runs_on.name;
        parts.push_back({part.norm(), std::move(name)});
    };
    add(along_second, position->first, position->second);
    add(along_first, position->second, position->first);
    return true;
}

bool by_instrument(const MoveQuestion& q, std::vector<MovePart>& parts) {
    if (!q.instrument_m || !q.instrument_m->allFinite()) return false;
    const Eigen::Vector2d sight = q.design_m - *q.instrument_m;
    if (sight.norm() < kShortestSight_m) return false;
    const Eigen::Vector2d ahead = sight.normalized();
    const Eigen::Vector2d move = q.design_m - q.laid_m;
    const double away = ahead.dot(move);
    const double right = cross(move, ahead);
    parts.push_back(
        {std::abs(away), away >= 0.0 ? "away from the instrument" : "toward the instrument"});
    parts.push_back({std::abs(right), right >= 0.0 ? "right as the instrument looks"
                                                   : "left as the instrument looks"});
    return true;
}

void by_compass(const MoveQuestion& q, std::vector<MovePart>& parts) {
    const Eigen::Vector2d move = q.design_m - q.laid_m;
    parts.push_back({std::abs(move.y()), move.y() >= 0.0 ? "north" : "south"});
    parts.push_back({std::abs(move.x()), move.x() >= 0.0 ? "east" : "west"});
}

}  // namespace

Move move_of(const MoveQuestion& question) {
    Move out;
    if (!question.laid_m.allFinite() || !question.design_m.allFinite() ||
        (question.raise_m && !std::isfinite(*question.raise_m))) {
        out.words = "unknown";
        return out;
    }
    std::vector<MovePart> parts;
    if (!by_grid(question, parts) && !by_instrument(question, parts)) by_compass(question, parts);
    if (question.raise_m) {
        parts.push_back({std::abs(*question.raise_m), *question.raise_m >= 0.0 ? "up" : "down"});
    }
    for (MovePart& part : parts) {
        if (rounds_to_zero(part.length_m, question.style)) continue;
        out.words += fmt::format("{}{} {}", out.words.empty() ? "" : ", ",
                                 field_length(part.length_m, question.style), part.toward);
        out.parts.push_back(std::move(part));
    }
    out.is_on_the_mark = out.parts.empty();
    if (out.is_on_the_mark) out.words = "on the mark";
    return out;
}

}  // namespace layproof::lay
