#include "drawing/label_layout_internal.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "base/text/utf8.hpp"
#include "base/text/xml.hpp"

namespace layproof::drawing {
namespace {

constexpr double kCell = 48.0;
constexpr double kGap = 3.0;

double em_width(char32_t c) {
    if (c >= 0x2E80 && c != 0xFFFD) return 1.0;  // ideographs, full-width forms, pictographs
    if (c == ' ' || c == 0xA0) return 0.29;
    if (std::u32string_view(U"iljI.,:;'|!").find(c) != std::u32string_view::npos) return 0.29;
    if (std::u32string_view(U"ft()[]/r-\"").find(c) != std::u32string_view::npos) return 0.36;
    if (std::u32string_view(U"mwMW%@—…").find(c) != std::u32string_view::npos) return 0.92;
    if (c >= U'A' && c <= U'Z') return 0.71;
    return 0.575;
}

std::int64_t cell_key(std::int64_t column, std::int64_t row) {
    return column * 100003 + row;
}

template <class Visit>
void for_cells(const Box& box, Visit visit) {
    const auto cell = [](double v) { return static_cast<std::int64_t>(std::floor(v / kCell)); };
    for (std::int64_t c = cell(box.left); c <= cell(box.right); ++c) {
        for (std::int64_t r = cell(box.top); r <= cell(box.bottom); ++r) visit(cell_key(c, r));
    }
}

struct Side {
    double x, y;
};

// Right first, then the corners, then left, above and below.
constexpr double kDiagonal = 0.70710678118654752;
constexpr std::array<Side, 8> kSides{{{1.0, 0.0},
                                      {kDiagonal, -kDiagonal},
                                      {-1.0, 0.0},
                                      {-kDiagonal, -kDiagonal},
                                      {kDiagonal, kDiagonal},
                                      {-kDiagonal, kDiagonal},
                                      {0.0, -1.0},
                                      {0.0, 1.0}}};
constexpr std::array<double, 7> kDistances{0.0, 12.0, 26.0, 44.0, 66.0, 94.0, 130.0};

Box beside(double x, double y, double reach, const Side& side, double width, double height) {
    // The box touches the circle of `reach` with the edge or corner that faces it.
    const double ax = x + reach * side.x;
    const double ay = y + reach * side.y;
    const double left = side.x > 0.1 ? ax : (side.x < -0.1 ? ax - width : ax - 0.5 * width);
    const double top = side.y > 0.1 ? ay : (side.y < -0.1 ? ay - height : ay - 0.5 * height);
    return {left, top, left + width, top + height};
}

}  // namespace

double text_width(std::string_view text, double size_px, bool bold) {
    double em = 0.0;
    for (const char32_t c : code_points_in_xml(text)) em += em_width(c);
    return em * size_px * (bold ? 1.08 : 1.0);
}

std::vector<std::string> wrap_text(std::string_view text, double size_px, double width_px,
                                   bool bold) {
    std::vector<std::string> lines;
    std::vector<char32_t> line;
    std::vector<char32_t> word;
    const auto fits = [&](const std::vector<char32_t>& candidate) {
        return text_width(to_utf8(candidate), size_px, bold) <= width_px;
    };
    const auto end_line = [&] {
        if (!line.empty()) lines.push_back(to_utf8(line));
        line.clear();
    };
    const auto end_word = [&] {
        if (word.empty()) return;
        std::vector<char32_t> joined = line;
        if (!joined.empty()) joined.push_back(U' ');
        joined.insert(joined.end(), word.begin(), word.end());
        if (fits(joined)) {
            line = joined;
        } else {
            end_line();
            for (const char32_t c : word) {
                line.push_back(c);
                if (line.size() > 1 && !fits(line)) {
                    line.pop_back();
                    end_line();
                    line.push_back(c);
                }
            }
        }
        word.clear();
    };
    for (const char32_t c : code_points_in_xml(text)) {
        if (c == U' ' || c == U'\n' || c == U'\t' || c == U'\r') {
            end_word();
        } else {
            word.push_back(c);
        }
    }
    end_word();
    end_line();
    return lines;
}

void LabelLayout::block(const Box& box, Cover cover, int owner) {
    const auto index = static_cast<std::uint32_t>(boxes_.size());
    boxes_.push_back({box, cover, owner});
    for_cells(box, [&](std::int64_t key) { cells_[key].push_back(index); });
}

void LabelLayout::block_line(double x1, double y1, double x2, double y2, double half_width) {
    const double length = std::hypot(x2 - x1, y2 - y1);
    const int pieces = std::clamp(static_cast<int>(length / 6.0) + 1, 1, 400);
    for (int i = 0; i <= pieces; ++i) {
        const double t = static_cast<double>(i) / pieces;
        const double x = x1 + t * (x2 - x1);
        const double y = y1 + t * (y2 - y1);
        block({x - half_width, y - half_width, x + half_width, y + half_width}, Cover::line);
    }
}

int LabelLayout::covered(const Box& box, int owner, Cover least) const {
    int sum = 0;
    for_cells(box, [&](std::int64_t key) {
        const auto found = cells_.find(key);
        if (found == cells_.end()) return;
        for (const std::uint32_t index : found->second) {
            const Blocked& other = boxes_[index];
            if (other.cover < least || (owner >= 0 && other.owner == owner)) continue;
            if (other.box.overlaps(box)) sum += static_cast<int>(other.cover);
        }
    });
    return sum;
}

bool LabelLayout::leader_is_free(const Anchor& anchor, const Box& box) const {
    const double dx = std::clamp(anchor.x, box.left, box.right) - anchor.x;
    const double dy = std::clamp(anchor.y, box.top, box.bottom) - anchor.y;
    const double run = std::hypot(dx, dy);
    for (double at = anchor.radius + 2.0; at < run; at += 3.0) {
        const double x = anchor.x + at / run * dx;
        const double y = anchor.y + at / run * dy;
        // A leader may cross a line, but not a sign or a name.
        const Box spot{x - 0.5, y - 0.5, x + 0.5, y + 0.5};
        if (covered(spot, anchor.owner, Cover::symbol) > 0) return false;
    }
    return true;
}

bool LabelLayout::in_frame(const Box& box) const {
    return box.left >= frame_.left && box.right <= frame_.right && box.top >= frame_.top &&
           box.bottom <= frame_.bottom;
}

std::optional<PlacedLabel> LabelLayout::place(const Anchor& anchor, double width, double height,
                                              int steps) {
    const auto count = std::min(static_cast<std::size_t>(std::max(steps, 0)), kDistances.size());
    for (std::size_t step = 0; step < count; ++step) {
        const double reach = anchor.radius + kGap + kDistances[step];
        for (const Side& side : kSides) {
            const Box box = beside(anchor.x, anchor.y, reach, side, width, height);
            if (!in_frame(box) || covered(box, anchor.owner) > 0) continue;
            if (step > 0 && !leader_is_free(anchor, box)) continue;
            block(box, Cover::label);
            return PlacedLabel{box, step > 0};
        }
    }
    return std::nullopt;
}

PlacedLabel LabelLayout::place_anyway(const Anchor& anchor, double width, double height,
                                      int steps) {
    if (const auto placed = place(anchor, width, height, steps)) return *placed;
    Box best = beside(anchor.x, anchor.y, anchor.radius + kGap, kSides[0], width, height);
    int least = 1 << 20;
    std::size_t best_step = 0;
    const auto count = std::min(static_cast<std::size_t>(std::max(steps, 1)), kDistances.size());
    for (std::size_t step = 0; step < count; ++step) {
        const double reach = anchor.radius + kGap + kDistances[step];
        for (const Side& side : kSides) {
            const Box box = beside(anchor.x, anchor.y, reach, side, width, height);
            if (!in_frame(box)) continue;
            const int sum = covered(box, anchor.owner);
            if (sum >= least) continue;
            least = sum;
            best = box;
            best_step = step;
        }
    }
    // A label wider than the frame is pushed to its left edge rather than off the sheet.
    const double shift =
        std::max(frame_.left - best.left, std::min(0.0, frame_.right - best.right));
    best.left += shift;
    best.right += shift;
    block(best, Cover::label);
    return {best, best_step > 0};
}

}  // namespace layproof::drawing
