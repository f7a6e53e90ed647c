#include "lay/building_grid.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <string_view>
#include <utility>

#include "lay/field_length.hpp"
#include "measure/angle.hpp"

namespace layproof::lay {
namespace {

constexpr double kSameDirection_rad = 5.0 * measure::kRadPerDeg;
constexpr double kLeastCrossing_rad = 30.0 * measure::kRadPerDeg;
/// Lines of a family closer than this are one place and name no side.
constexpr double kLinesApart_m = 0.01;

bool starts_with_letter(const std::string& name) {
    if (name.empty()) return false;
    const char c = name.front();
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
}

}  // namespace

BuildingGrid::BuildingGrid(std::vector<frame::GridLine> lines) {
    for (frame::GridLine& line : lines) {
        if (frame::is_line(line)) lines_.push_back(std::move(line));
    }
    int count = 0;
    for (std::size_t i = 0; i < lines_.size(); ++i) {
        int family = -1;
        for (std::size_t j = 0; j < i && family < 0; ++j) {
            if (lines_[i].family != lines_[j].family) continue;
            if (lines_[i].family.empty() &&
                frame::angle_between(lines_[i], lines_[j]) > kSameDirection_rad) {
                continue;
            }
            family = families_[j];
        }
        families_.push_back(family >= 0 ? family : count++);
    }
}

int BuildingGrid::find(std::string_view name) const {
    for (std::size_t i = 0; i < lines_.size(); ++i) {
        if (lines_[i].name == name) return static_cast<int>(i);
    }
    return -1;
}

std::string compass_word(const Eigen::Vector2d& toward) {
    constexpr std::array<std::string_view, 8> kWords{"north", "north-east", "east", "south-east",
                                                     "south", "south-west", "west", "north-west"};
    const double turn = measure::wrap_0_2pi(std::atan2(toward.x(), toward.y()));
    const auto eighth = static_cast<std::size_t>(std::lround(turn / (measure::kPi / 4.0)));
    return std::string(kWords[eighth % kWords.size()]);
}

std::string BuildingGrid::side_name(int line, const Eigen::Vector2d& toward) const {
    const frame::GridLine& of = lines_[static_cast<std::size_t>(line)];
    const Eigen::Vector2d along = frame::direction_of(of);
    const Eigen::Vector2d right(along.y(), -along.x());
    const double sign = right.dot(toward) >= 0.0 ? 1.0 : -1.0;
    double nearest = 0.0;
    const std::string* name = nullptr;
    // Where the line's start is; the lines of a family are parallel or nearly so.
    for (std::size_t i = 0; i < lines_.size(); ++i) {
        if (static_cast<int>(i) == line || families_[i] != family(line)) continue;
        const Eigen::Vector2d there = frame::foot_on(lines_[i], of.start_m);
        const double away = sign * right.dot(there - of.start_m);
        if (away < kLinesApart_m || (name != nullptr && away >= nearest)) continue;
        nearest = away;
        name = &lines_[i].name;
    }
    if (name != nullptr) return "toward " + *name;
    return compass_word(sign * right);
}

LineOffset BuildingGrid::offset(int line, const Eigen::Vector2d& point_m) const {
    const frame::GridLine& of = lines_[static_cast<std::size_t>(line)];
    const frame::LinePlace place = frame::place_by(of, point_m);
    LineOffset out{line, of.name, place.along_m, place.across_m, ""};
    if (place.across_m != 0.0) {
        const Eigen::Vector2d along = frame::direction_of(of);
        out.side = side_name(line, place.across_m * Eigen::Vector2d(along.y(), -along.x()));
    }
    return out;
}

std::vector<LineOffset> BuildingGrid::offsets(const Eigen::Vector2d& point_m) const {
    struct Near {
        int line = -1;
        double away = 0.0;
    };
    std::vector<Near> near;
    if (!point_m.allFinite()) return {};
    for (std::size_t i = 0; i < lines_.size(); ++i) {
        const auto slot = static_cast<std::size_t>(families_[i]);
        if (near.size() <= slot) near.resize(slot + 1);
        const double away = std::abs(frame::place_by(lines_[i], point_m).across_m);
        if (near[slot].line < 0 || away < near[slot].away) {
            near[slot] = {static_cast<int>(i), away};
        }
    }
    std::stable_sort(near.begin(), near.end(),
                     [](const Near& a, const Near& b) { return a.away < b.away; });
    std::vector<LineOffset> out;
    for (const Near& n : near) out.push_back(offset(n.line, point_m));
    return out;
}

std::optional<GridPosition> BuildingGrid::position(const Eigen::Vector2d& point_m,
                                                   const measure::LengthStyle& style) const {
    const auto near = offsets(point_m);
    for (std::size_t i = 1; i < near.size(); ++i) {
        const frame::GridLine& a = lines_[static_cast<std::size_t>(near[0].line)];
        const frame::GridLine& b = lines_[static_cast<std::size_t>(near[i].line)];
        if (frame::angle_between(a, b) < kLeastCrossing_rad) continue;
        GridPosition out{near[0], near[i], ""};
        if (!starts_with_letter(out.first.name) && starts_with_letter(out.second.name)) {
            std::swap(out.first, out.second);
        }
        const bool on_first = rounds_to_zero(out.first.across_m, style);
        const bool on_second = rounds_to_zero(out.second.across_m, style);
        const auto away = [&](const LineOffset& o) {
            return fmt::format("{} from {} {}", measure::format_length(std::abs(o.across_m), style),
                               o.name, o.side);
        };
        if (on_first && on_second) {
            out.words = out.first.name + "/" + out.second.name;
        } else if (on_first) {
            out.words = fmt::format("on {}, {}", out.first.name, away(out.second));
        } else if (on_second) {
            out.words = fmt::format("on {}, {}", out.second.name, away(out.first));
        } else {
            out.words = fmt::format("{}, {}", away(out.first), away(out.second));
        }
        return out;
    }
    return std::nullopt;
}

std::optional<std::string> BuildingGrid::crossing_words(const Eigen::Vector2d& point_m,
                                                        const measure::LengthStyle& style) const {
    const auto place = position(point_m, style);
    if (!place) return std::nullopt;
    std::string words = place->first.name + "/" + place->second.name;
    for (const LineOffset* o : {&place->first, &place->second}) {
        if (rounds_to_zero(o->across_m, style)) continue;
        const Eigen::Vector2d along =
            frame::direction_of(lines_[static_cast<std::size_t>(o->line)]);
        const Eigen::Vector2d right(along.y(), -along.x());
        words += fmt::format(" + {} {}", measure::format_length(std::abs(o->across_m), style),
                             compass_word(o->across_m > 0.0 ? right : -right));
    }
    return words;
}

}  // namespace layproof::lay
