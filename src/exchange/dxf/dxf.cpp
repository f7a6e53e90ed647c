#include "exchange/dxf/dxf.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <unordered_map>
#include <unordered_set>
#include <utility>

#include "exchange/dxf/dxf_grid.hpp"
#include "exchange/tables/row_table.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

constexpr double kNameReachHeights = 5.0;
constexpr std::size_t kLongestPointName = 32;

enum class NameKind { none, decimal, name };

/// Whether a text may be a point's name: dimensions and sentences are not.
NameKind name_kind(const std::string& text) {
    if (text.empty() || text.size() > kLongestPointName) return NameKind::none;
    if (text.find('"') != std::string::npos || text.find('\'') != std::string::npos) {
        return NameKind::none;
    }
    if (std::count(text.begin(), text.end(), ' ') > 1) return NameKind::none;
    const bool is_decimal = text.find('.') != std::string::npos &&
                            text.find_first_not_of("0123456789.+-") == std::string::npos;
    return is_decimal ? NameKind::decimal : NameKind::name;
}

/// Squares of a side, so that a text finds the points near it.
class Squares {
public:
    Squares(const std::vector<DrawnPoint>& points, double side) : side_(side) {
        for (std::size_t i = 0; i < points.size(); ++i) {
            if (points[i].text >= 0 || !points[i].at.allFinite()) continue;
            squares_[key(cell(points[i].at.x()), cell(points[i].at.y()))].push_back(i);
        }
    }

    template <class Visit>
    void near(const Eigen::Vector3d& at, Visit visit) const {
        const double x = cell(at.x());
        const double y = cell(at.y());
        for (int i = -1; i <= 1; ++i) {
            for (int j = -1; j <= 1; ++j) {
                const auto found = squares_.find(key(x + i, y + j));
                if (found == squares_.end()) continue;
                // A heap of points in one square is no place where a text names one.
                constexpr std::size_t kMost = 64;
                const std::size_t count = std::min(found->second.size(), kMost);
                for (std::size_t k = 0; k < count; ++k) visit(found->second[k]);
            }
        }
    }

private:
    double cell(double x) const { return std::floor(x / side_); }
    static std::uint64_t key(double x, double y) {
        const auto bits = [](double v) {
            return static_cast<std::uint64_t>(
                static_cast<std::int64_t>(std::clamp(v, -1e15, 1e15)));
        };
        return bits(x) * 0x9E3779B97F4A7C15ULL ^ bits(y);
    }

    double side_;
    std::unordered_map<std::uint64_t, std::vector<std::size_t>> squares_;
};

struct Match {
    NameKind kind;
    double away;
    std::size_t text, point;
};

/// Gives points that have no attribute the text beside them.
int name_from_texts(Drawing& drawing) {
    double tallest = 0.0;
    for (const DrawnText& t : drawing.texts) {
        if (name_kind(t.text) != NameKind::none && std::isfinite(t.height)) {
            tallest = std::max(tallest, t.height);
        }
    }
    if (!(tallest > 0.0)) return 0;
    const Squares squares(drawing.points, kNameReachHeights * tallest);
    std::vector<Match> matches;
    for (std::size_t t = 0; t < drawing.texts.size(); ++t) {
        const DrawnText& text = drawing.texts[t];
        const NameKind kind = name_kind(text.text);
        if (kind == NameKind::none || text.is_attribute || !text.at.allFinite()) continue;
        const double reach = kNameReachHeights * text.height;
        squares.near(text.at, [&](std::size_t p) {
            const double away = (drawing.points[p].at - text.at).head<2>().norm();
            if (away <= reach) matches.push_back({kind, away, t, p});
        });
    }
    std::sort(matches.begin(), matches.end(), [](const Match& a, const Match& b) {
        if (a.kind != b.kind) return a.kind > b.kind;
        if (a.away != b.away) return a.away < b.away;
        return std::pair(a.text, a.point) < std::pair(b.text, b.point);
    });
    std::vector<bool> is_used(drawing.texts.size());
    int count = 0;
    for (const Match& m : matches) {
        if (is_used[m.text] || drawing.points[m.point].text >= 0) continue;
        is_used[m.text] = true;
        drawing.points[m.point].text = static_cast<int>(m.text);
        ++count;
    }
    return count;
}

void say_unit(const Drawing& drawing, const ReadOptions& options, const std::string& file,
              Import& import) {
    import.unit.words = unit_evidence(drawing);
    import.unit.unit = options.unit;
    import.unit.metres_per_unit = measure::metres_per(*options.unit);
    const auto hinted = insunits_metres(drawing.insunits.value_or(0));
    if (hinted && std::abs(*hinted / *import.unit.metres_per_unit - 1.0) > 1e-7) {
        import.notices.push_back(
            fmt::format("{}: {}, but the unit stated is {}: check a known dimension", file,
                        import.unit.words, measure::to_word(*options.unit)));
    }
}

/// A drawing repeats its texts and tags: "HP12" at every column. Where a name stands at more than
/// one point, all of them get a number, so that none passes for another.
void number_repeated(Import& import, const std::string& file) {
    std::unordered_map<std::string, int> counts;
    for (const ImportedPoint& p : import.points) ++counts[p.name];
    std::unordered_map<std::string, int> numbers;
    int repeated = 0;
    for (ImportedPoint& p : import.points) {
        if (counts[p.name] < 2) continue;
        const std::string first = p.name;
        do {
            p.name = fmt::format("{}-{}", first, ++numbers[first]);
        } while (counts.contains(p.name));
        p.name_is_made = true;
        ++repeated;
    }
    if (repeated > 0) {
        import.notices.push_back(fmt::format(
            "{}: {} points share their name with others and were numbered", file, repeated));
    }
}

void take_points(Drawing& drawing, double unit_m, const std::string& file, Import& import) {
    const int by_text = name_from_texts(drawing);
    bool has_heights = false;
    for (const DrawnPoint& p : drawing.points) has_heights = has_heights || p.at.z() != 0.0;
    std::unordered_map<int, int> made;
    int made_names = 0;
    import.points.reserve(drawing.points.size());
    for (DrawnPoint& p : drawing.points) {
        const Place place{file, p.line, 1};
        ImportedPoint point;
        point.east_m = unit_m * p.at.x();
        point.north_m = unit_m * p.at.y();
        if (has_heights) point.height_m = unit_m * p.at.z();
        const double largest = std::max({std::abs(point.east_m), std::abs(point.north_m),
                                         std::abs(point.height_m.value_or(0.0))});
        if (!(largest <= kLargestCoordinate_m)) {
            import.leave(to_word(p.source), "more than 100,000,000 m from zero", place);
            continue;
        }
        point.source = p.source;
        point.kind = import.keep_word(drawing.word(p.block));
        point.layer = import.keep_word(drawing.word(p.layer));
        point.line = p.line;
        point.column = 1;
        if (p.text >= 0) point.name = drawing.texts[static_cast<std::size_t>(p.text)].text;
        if (point.name.empty()) {
            point.name = fmt::format("{}-{}", drawing.word(p.layer), ++made[p.layer]);
            point.name_is_made = true;
            ++made_names;
        }
        const auto add = [&point](const std::string& words) {
            point.note += (point.note.empty() ? "" : " ") + words;
        };
        add("layer=" + std::string(drawing.word(p.layer)));
        if (p.block >= 0) add("block=" + std::string(drawing.word(p.block)));
        if (p.radius > 0.0) add(fmt::format("radius={:.4f} m", p.radius * unit_m));
        if (!p.note.empty()) add(p.note.substr(0, 200));
        import.points.push_back(std::move(point));
    }
    number_repeated(import, file);
    if (by_text > 0) {
        import.notices.push_back(
            fmt::format("{}: {} points were named by the text beside them", file, by_text));
    }
    if (made_names > 0) {
        import.notices.push_back(
            fmt::format("{}: {} points have no name and were given one", file, made_names));
    }
    if (!has_heights && !import.points.empty()) {
        import.notices.push_back(
            fmt::format("{}: every point lies at z = 0, which was taken for no height", file));
    }
}

/// Texts that named neither a point nor a grid line.
void leave_texts(const Drawing& drawing, const std::string& file, Import& import) {
    std::vector<bool> is_used(drawing.texts.size());
    for (const DrawnPoint& p : drawing.points) {
        if (p.text >= 0) is_used[static_cast<std::size_t>(p.text)] = true;
    }
    std::unordered_set<std::string_view> grid_names;
    for (const frame::GridLine& line : import.grid_lines) grid_names.insert(line.name);
    int idle = 0;
    for (std::size_t i = 0; i < drawing.texts.size(); ++i) {
        const DrawnText& text = drawing.texts[i];
        if (!is_used[i] && !text.is_attribute && !grid_names.contains(text.text)) ++idle;
    }
    if (idle > 0) {
        import.leave("TEXT", "beside no point", {file, drawing.texts[0].line, 1}, idle);
    }
}

}  // namespace

std::string unit_evidence(const Drawing& drawing) {
    std::string out = drawing.insunits ? fmt::format("$INSUNITS = {} ({})", *drawing.insunits,
                                                     insunits_word(*drawing.insunits))
                                       : "no $INSUNITS";
    if (drawing.measurement) {
        out += fmt::format(", $MEASUREMENT = {} ({})", *drawing.measurement,
                           *drawing.measurement == 0 ? "imperial" : "metric");
    }
    return out;
}

Result<Import> read_dxf(const Document& document, const ReadOptions& options) {
    auto drawing = read_drawing(document);
    if (!drawing) return drawing.refusal();
    if (!options.unit) {
        return Refusal{ErrorCode::unit_missing,
                       {document.name, 1, 1},
                       "a drawing, which has no unit of its own; its header hints at " +
                           unit_evidence(*drawing),
                       "the unit stated with --unit, after a known dimension was checked"};
    }
    Import import;
    import.format = FileFormat::dxf;
    import.version = drawing->version.empty() ? "DXF" : drawing->version;
    say_unit(*drawing, options, document.name, import);
    const double unit_m = measure::metres_per(*options.unit);
    take_points(*drawing, unit_m, document.name, import);
    DrawingGrid grid = grid_of(*drawing, unit_m, document.name);
    const std::size_t straight = drawing->lines.size();
    import.grid_lines = std::move(grid.lines);
    leave_texts(*drawing, document.name, import);
    const Place nowhere{document.name, 0, 0};
    if (grid.unnamed > 0) {
        import.leave("lines on grid layers", "no label at their ends", nowhere, grid.unnamed);
    }
    if (grid.curved > 0)
        import.leave("arcs on grid layers", "grid lines are straight", nowhere, grid.curved);
    if (import.grid_lines.empty() && straight > 0) {
        import.leave("lines", "not on a grid layer", nowhere, static_cast<int>(straight));
    }
    for (const LeftOut& group : drawing->left) {
        import.leave(group.what, group.why, group.first, group.count);
    }
    return import;
}

}  // namespace layproof::exchange
