#include "exchange/dxf/dxf_grid.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <tuple>
#include <utility>

#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Vector2d;

constexpr std::size_t kLongestLabel = 6;
constexpr std::size_t kMostPieces = 20'000;
constexpr std::size_t kMostLabels = 4'000;
constexpr double kHeightsReached = 4.0;
constexpr double kBubbleReach = 1.5;
/// How far off its line a label may stand, as a share of its reach.
constexpr double kOffLine = 0.3;

struct Piece {
    Vector2d from, to;
    int line = 0;
};

struct Label {
    std::string name;
    Vector2d at;
    double reach = 0.0;
};

bool is_label(const std::string& text) {
    if (text.empty() || text.size() > kLongestLabel) return false;
    bool has_sign = false;
    for (const char c : text) {
        const bool is_sign =
            (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
        has_sign = has_sign || is_sign;
        if (!is_sign && c != '.' && c != '-' && c != '\'' && c != '/') return false;
    }
    return has_sign;
}

double cross(const Vector2d& a, const Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

/// How far the label is from the end of the piece that points at it; nothing when it does not.
std::optional<double> away_from_end(const Piece& piece, const Label& label) {
    const Vector2d along = piece.to - piece.from;
    const double length = along.norm();
    if (!(length > 0.0)) return std::nullopt;
    const double off = std::abs(cross(along, label.at - piece.from)) / length;
    if (off > kOffLine * label.reach) return std::nullopt;
    const double end = std::min((label.at - piece.from).norm(), (label.at - piece.to).norm());
    if (end > label.reach) return std::nullopt;
    // A short tick beside a label is no grid line.
    if (length < label.reach) return std::nullopt;
    return end;
}

bool is_in_line(const Piece& a, const Piece& b) {
    const Vector2d along = a.to - a.from;
    const double length = along.norm();
    const double within = 1e-4 * length;
    return std::abs(cross(along, b.from - a.from)) <= within * length &&
           std::abs(cross(along, b.to - a.from)) <= within * length;
}

bool name_less(const std::string& a, const std::string& b) {
    const auto key = [](const std::string& s) {
        const bool is_number = !s.empty() && s[0] >= '0' && s[0] <= '9';
        double value = 0.0;
        for (std::size_t i = 0; is_number && i < s.size() && s[i] >= '0' && s[i] <= '9'; ++i) {
            value = 10.0 * value + (s[i] - '0');
        }
        return std::tuple(is_number, value, s);
    };
    return key(a) < key(b);
}

}  // namespace

DrawingGrid grid_of(const Drawing& drawing, double metres_per_unit, const std::string& file,
                    const std::vector<std::string>& layers) {
    std::vector<bool> is_grid(drawing.words.size());
    for (std::size_t i = 0; i < drawing.words.size(); ++i) {
        const std::string name = lower(drawing.words[i]);
        for (const char* word : {"grid", "axis", "axes", "raster"}) {
            if (layers.empty() && name.find(word) != std::string::npos) is_grid[i] = true;
        }
        for (const std::string& layer : layers) {
            if (name == lower(layer)) is_grid[i] = true;
        }
    }
    const auto on_grid = [&](int layer) {
        return layer >= 0 && is_grid[static_cast<std::size_t>(layer)];
    };

    DrawingGrid out;
    std::vector<Piece> pieces;
    for (const DrawnLine& line : drawing.lines) {
        if (!on_grid(line.layer) || pieces.size() >= kMostPieces) continue;
        if (line.from.allFinite() && line.to.allFinite()) {
            pieces.push_back({line.from.head<2>(), line.to.head<2>(), line.line});
        }
    }
    for (const DrawnArc& arc : drawing.arcs) out.curved += on_grid(arc.layer) ? 1 : 0;

    std::vector<const DrawnPoint*> bubbles;
    for (const DrawnPoint& p : drawing.points) {
        if (p.source == PointSource::circle && on_grid(p.layer) && bubbles.size() < kMostPieces) {
            bubbles.push_back(&p);
        }
    }
    std::vector<Label> labels;
    for (const DrawnText& text : drawing.texts) {
        if (!on_grid(text.layer) || !is_label(text.text) || labels.size() >= kMostLabels) continue;
        Label label{text.text, text.at.head<2>(), kHeightsReached * text.height};
        for (const DrawnPoint* p : bubbles) {
            if ((p->at.head<2>() - label.at).norm() > p->radius) continue;
            label.at = p->at.head<2>();
            label.reach = kBubbleReach * p->radius;
            break;
        }
        if (label.reach > 0.0 && label.at.allFinite()) labels.push_back(std::move(label));
    }

    std::map<std::string, std::vector<std::size_t>> named;
    for (const Label& label : labels) {
        std::optional<std::size_t> best;
        double best_away = 0.0;
        for (std::size_t i = 0; i < pieces.size(); ++i) {
            const auto away = away_from_end(pieces[i], label);
            if (away && (!best || *away < best_away)) {
                best = i;
                best_away = *away;
            }
        }
        if (best) named[label.name].push_back(*best);
    }

    std::vector<bool> is_used(pieces.size());
    for (const auto& [name, members] : named) {
        const Piece& first = pieces[members[0]];
        Piece whole = first;
        const Vector2d along = (first.to - first.from).normalized();
        for (std::size_t i = 0; i < pieces.size(); ++i) {
            if (!is_in_line(first, pieces[i])) continue;
            is_used[i] = true;
            for (const Vector2d& end : {pieces[i].from, pieces[i].to}) {
                if (along.dot(end - whole.from) < 0.0) whole.from = end;
                if (along.dot(end - whole.to) > 0.0) whole.to = end;
            }
        }
        frame::GridLine line;
        line.name = name;
        line.start_m = metres_per_unit * whole.from;
        line.end_m = metres_per_unit * whole.to;
        line.place = {file, first.line, 1};
        if (frame::is_line(line)) out.lines.push_back(std::move(line));
    }
    out.unnamed = static_cast<int>(std::count(is_used.begin(), is_used.end(), false));
    std::sort(out.lines.begin(), out.lines.end(),
              [](const auto& a, const auto& b) { return name_less(a.name, b.name); });
    return out;
}

}  // namespace layproof::exchange
