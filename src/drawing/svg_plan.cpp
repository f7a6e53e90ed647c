#include "drawing/svg_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <set>
#include <string_view>
#include <unordered_map>
#include <utility>

#include "base/text/utf8.hpp"
#include "drawing/label_layout_internal.hpp"
#include "drawing/plan_scale_internal.hpp"
#include "drawing/plan_symbols.hpp"
#include "drawing/plan_view_internal.hpp"
#include "drawing/sheet_head_internal.hpp"
#include "drawing/svg_canvas.hpp"

namespace layproof::drawing {
namespace {

constexpr double kWideSheet = 720.0;
constexpr double kKeyWidth = 226.0;
constexpr double kTickRoom = 20.0;  ///< left of and under the plan, for coordinates
constexpr std::size_t kLongestName = 22;

int left_out(const PlanDrawing& d) {
    const auto count = [](const auto& list) {
        return std::count_if(list.begin(), list.end(),
                             [](const auto& item) { return !drawable(item.east_m, item.north_m); });
    };
    return static_cast<int>(count(d.marks) + count(d.stations) + count(d.points));
}

/// Part of a line inside the frame (Liang and Barsky, 1984), or nothing.
std::optional<std::pair<Pixel, Pixel>> clipped(Pixel a, Pixel b, const Box& frame) {
    double from = 0.0;
    double to = 1.0;
    const double dx = b.x - a.x;
    const double dy = b.y - a.y;
    const std::array<std::pair<double, double>, 4> edges{{{-dx, a.x - frame.left},
                                                          {dx, frame.right - a.x},
                                                          {-dy, a.y - frame.top},
                                                          {dy, frame.bottom - a.y}}};
    for (const auto& [p, q] : edges) {
        if (p == 0.0) {
            if (q < 0.0) return std::nullopt;
            continue;
        }
        if (p < 0.0) {
            from = std::max(from, q / p);
        } else {
            to = std::min(to, q / p);
        }
    }
    if (from > to) return std::nullopt;
    return std::pair{Pixel{a.x + from * dx, a.y + from * dy}, Pixel{a.x + to * dx, a.y + to * dy}};
}

/// One label with up to two lines, and where it belongs.
struct Label {
    Anchor anchor;
    std::string name;
    std::string detail;  ///< second line, may be empty
    bool bold = false;
};

enum class KeySign {
    mark_used,
    mark_aside,
    station,
    control,
    check,
    misfit,
    cut_misfit,
    ellipse,
    cut_ellipse,
    grid,
    point,
};

struct KeyRow {
    KeySign sign;
    PlanWord word;  ///< of a point
    std::string text;
};

class PlanSheet {
public:
    explicit PlanSheet(const PlanDrawing& drawing)
        : d_(drawing),
          width_(std::isfinite(d_.width_px) ? std::clamp(d_.width_px, 320.0, 2400.0) : 960.0),
          wide_(width_ >= kWideSheet),
          pad_(wide_ ? 24.0 : 14.0) {}

    Picture draw() {
        const double top = header(pad_ + 6.0);
        const double plan_width =
            width_ - 2.0 * pad_ - kTickRoom - (wide_ ? kKeyWidth + 22.0 : 0.0);
        view_ = fit_view(d_, pad_ + kTickRoom, top, plan_width);
        plan();
        double bottom = scales(view_.frame.bottom + kTickRoom + 14.0);
        if (wide_) {
            bottom = std::max(bottom, key(view_.frame.right + 22.0, top, kKeyWidth, 1));
        } else {
            bottom = key(pad_, bottom + 14.0, width_ - 2.0 * pad_, width_ >= 560.0 ? 2 : 1);
        }
        return body_.finish(width_, bottom + pad_, d_.title.empty() ? "Plan" : d_.title,
                            description());
    }

private:
    // ---- what stands over the plan
    double header(double y) {
        return draw_sheet_head(body_, {width_, pad_, wide_}, y, d_.title, d_.job_lines, d_.remark,
                               d_.cautions) +
               14.0;
    }

    // ---- the plan itself
    void plan() {
        const Box& f = view_.frame;
        body_.rectangle({f.left, f.top}, f.right - f.left, f.bottom - f.top,
                        {.width = 0.0, .fill = ink::kTint});
        layout_ = LabelLayout({f.left + 2.0, f.top + 2.0, f.right - 2.0, f.bottom - 2.0});
        grid_lines();
        sights();
        ellipses();
        points();
        marks_and_stations();
        labels();
        body_.rectangle({f.left, f.top}, f.right - f.left, f.bottom - f.top, {.width = 1.2});
        ticks();
    }

    void grid_lines() {
        for (const auto& g : d_.grid_lines) {
            if (!drawable(g.from_east_m, g.from_north_m) || !drawable(g.to_east_m, g.to_north_m)) {
                continue;
            }
            const auto seen = clipped(view_.at(g.from_east_m, g.from_north_m),
                                      view_.at(g.to_east_m, g.to_north_m), view_.frame);
            if (!seen) continue;
            draw_grid_line(body_, seen->first, seen->second);
            ++shown_grid_lines_;
            if (g.name.empty()) continue;
            grid_name(shorten(g.name, 8), seen->first, seen->second);
        }
    }

    /// The name in a flattened ring at the line's first end, moved inside the frame.
    void grid_name(const std::string& name, Pixel from, Pixel to) {
        const double half = 0.5 * text_width(name, 11.0) + 5.0;
        const double dx = to.x - from.x;
        const double dy = to.y - from.y;
        const double run = std::hypot(dx, dy);
        const double inward =
            run > 0.0 ? std::min(0.45, (std::abs(dx) / run * half + 10.0) / run) : 0.0;
        const Box& f = view_.frame;
        const double x = std::clamp(from.x + inward * dx, f.left + half, f.right - half);
        const double y = std::clamp(from.y + inward * dy, f.top + 9.0, f.bottom - 9.0);
        body_.rectangle({x - half, y - 8.0}, 2.0 * half, 16.0,
                        {.colour = ink::kLine, .width = 0.8, .fill = ink::kPaper}, 1.0, 8.0);
        body_.text({x, y + 4.0}, name, {.size = 11.0, .colour = ink::kMuted, .anchor = "middle"});
        layout_.block({x - half, y - 8.0, x + half, y + 8.0}, Cover::symbol);
    }

    /// Each pair once however often it was sighted; a check beside a control sight runs next to it.
    void sights() {
        std::set<std::pair<std::size_t, std::size_t>> control;
        std::set<std::pair<std::size_t, std::size_t>> check;
        for (const auto& sight : d_.sights) {
            if (sight.station >= d_.stations.size() || sight.mark >= d_.marks.size()) continue;
            const auto& s = d_.stations[sight.station];
            const auto& m = d_.marks[sight.mark];
            if (!drawable(s.east_m, s.north_m) || !drawable(m.east_m, m.north_m)) continue;
            (sight.kind == PlanSightKind::control ? control : check)
                .emplace(sight.station, sight.mark);
        }
        for (const auto& pair : control) draw_sight_of(pair, PlanSightKind::control, 0.0);
        for (const auto& pair : check) {
            draw_sight_of(pair, PlanSightKind::check, control.count(pair) > 0 ? 3.5 : 0.0);
        }
        shown_control_ = !control.empty();
        shown_check_ = !check.empty();
    }

    void draw_sight_of(const std::pair<std::size_t, std::size_t>& pair, PlanSightKind kind,
                       double aside) {
        const auto& s = d_.stations[pair.first];
        const auto& m = d_.marks[pair.second];
        const Pixel from = view_.at(s.east_m, s.north_m);
        const Pixel to = view_.at(m.east_m, m.north_m);
        const double run = std::hypot(to.x - from.x, to.y - from.y);
        if (run < 1.0) return;
        const Pixel shift{aside * (from.y - to.y) / run, aside * (to.x - from.x) / run};
        draw_sight(body_, {from.x + shift.x, from.y + shift.y}, {to.x + shift.x, to.y + shift.y},
                   kind);
    }

    void ellipse_at(Pixel at, const std::optional<PlanEllipse>& ellipse) {
        if (!ellipse || !drawable(*ellipse)) return;
        const double wanted = ellipse->semi_major_m * view_.small_pixels_per_m;
        const bool cut = wanted > view_.longest_small;
        const double scale =
            cut ? view_.longest_small / ellipse->semi_major_m : view_.small_pixels_per_m;
        const double major = std::max(scale * ellipse->semi_major_m, 0.6);
        const double minor = std::clamp(scale * ellipse->semi_minor_m, 0.6, major);
        draw_ellipse(body_, at, major, minor, ellipse->azimuth_rad, cut);
        block_rim(at, major, minor, ellipse->azimuth_rad);
        (cut ? shown_cut_ellipse_ : shown_ellipse_) = true;
    }

    void block_rim(Pixel at, double major, double minor, double azimuth_rad) {
        constexpr int kPieces = 24;
        const auto rim = [&](int i) {
            const double t = 2.0 * std::numbers::pi * i / kPieces;
            const double along = major * std::cos(t);
            const double across = minor * std::sin(t);
            return Pixel{at.x + along * std::sin(azimuth_rad) + across * std::cos(azimuth_rad),
                         at.y - along * std::cos(azimuth_rad) + across * std::sin(azimuth_rad)};
        };
        for (int i = 0; i < kPieces; ++i) {
            layout_.block_line(rim(i).x, rim(i).y, rim(i + 1).x, rim(i + 1).y, 0.8);
        }
    }

    void ellipses() {
        for (const auto& s : d_.stations) {
            if (!drawable(s.east_m, s.north_m)) continue;
            ellipse_at(view_.at(s.east_m, s.north_m), s.ellipse_95);
        }
        for (const auto& m : d_.marks) {
            if (!drawable(m.east_m, m.north_m)) continue;
            const auto* misfit = drawable_misfit(m);
            ellipse_at(misfit ? view_.tip(m, *misfit).at : view_.at(m.east_m, m.north_m),
                       m.ellipse_95);
        }
    }

    void points() {
        const Box& f = view_.frame;
        const double area = (f.right - f.left) * (f.bottom - f.top);
        const auto count = static_cast<double>(std::max<std::size_t>(d_.points.size(), 1));
        point_radius_ = std::clamp(0.16 * std::sqrt(area / count), 2.0, 5.0);
        // The worse the word, the later it is drawn, so that it lies on top.
        for (const PlanWord word :
             {PlanWord::to_lay, PlanWord::proven, PlanWord::in_doubt, PlanWord::fails}) {
            for (const auto& p : d_.points) {
                if (p.word != word || !drawable(p.east_m, p.north_m)) continue;
                const Pixel at = view_.at(p.east_m, p.north_m);
                body_.begin_group(point_title(p), "point");
                draw_point(body_, at, p.word, point_radius_);
                body_.end_group();
                block_symbol(at, point_radius_, &p);
                ++word_counts_[static_cast<std::size_t>(word)];
            }
        }
    }

    static std::string point_title(const PlanPoint& p) {
        const std::string probability = probability_text(p.probability);
        std::string title = p.name + ": " + to_text(p.word);
        if (!probability.empty()) title += ", " + probability + " probable to be within tolerance";
        return title;
    }

    void marks_and_stations() {
        for (const auto& m : d_.marks) {
            if (!drawable(m.east_m, m.north_m)) continue;
            const Pixel at = view_.at(m.east_m, m.north_m);
            body_.begin_group(mark_title(m), "mark");
            draw_mark(body_, at, m.used);
            if (const auto* misfit = drawable_misfit(m)) {
                const auto tip = view_.tip(m, *misfit);
                draw_misfit(body_, at, tip.at, tip.cut);
                layout_.block_line(at.x, at.y, tip.at.x, tip.at.y, 3.0);
                (tip.cut ? shown_cut_misfit_ : shown_misfit_) = true;
            }
            body_.end_group();
            (m.used ? shown_used_ : shown_aside_) = true;
            block_symbol(at, kMarkRadius, &m);
        }
        for (const auto& s : d_.stations) {
            if (!drawable(s.east_m, s.north_m)) continue;
            const Pixel at = view_.at(s.east_m, s.north_m);
            body_.begin_group("station " + s.name, "station");
            draw_station(body_, at);
            body_.end_group();
            shown_station_ = true;
            block_symbol(at, kStationRadius, &s);
        }
    }

    /// With a rim, so that a label never sits closer to a strange symbol than to its own.
    void block_symbol(Pixel at, double radius, const void* item) {
        const double r = radius + 2.5;
        const int owner = static_cast<int>(owners_.size());
        owners_.emplace(item, owner);
        layout_.block({at.x - r, at.y - r, at.x + r, at.y + r}, Cover::symbol, owner);
    }

    Anchor anchor_of(Pixel at, double radius, const void* item) const {
        return {at.x, at.y, radius, owners_.at(item)};
    }

    std::string mark_title(const PlanMark& m) const {
        std::string title = "mark " + m.name + (m.used ? ": used" : ": set aside");
        if (const auto* misfit = drawable_misfit(m)) title += ", misfit " + misfit_text(*misfit);
        return title;
    }

    std::string misfit_text(const PlanVector& misfit) const {
        return measure::format_small(length_of(misfit), d_.style);
    }

    // ---- names
    void labels() {
        for (const auto& s : d_.stations) {
            if (!drawable(s.east_m, s.north_m) || s.name.empty()) continue;
            write({anchor_of(view_.at(s.east_m, s.north_m), kStationRadius, &s), s.name, "", true});
        }
        for (const auto& m : d_.marks) {
            if (!drawable(m.east_m, m.north_m)) continue;
            Label label{anchor_of(view_.at(m.east_m, m.north_m), kMarkRadius, &m), m.name, "",
                        true};
            if (const auto* misfit = drawable_misfit(m)) {
                label.detail = "off " + misfit_text(*misfit);
                if (view_.tip(m, *misfit).cut) label.detail += ", cut";
            }
            if (!m.used) label.detail += label.detail.empty() ? "set aside" : ", set aside";
            write(label);
        }
        for (const PlanWord word :
             {PlanWord::fails, PlanWord::in_doubt, PlanWord::proven, PlanWord::to_lay}) {
            for (const auto& p : d_.points) {
                if (p.word != word || p.name.empty() || !drawable(p.east_m, p.north_m)) continue;
                write_if_room(p);
            }
        }
    }

    void write(const Label& label) {
        const auto [width, height] = size_of(label);
        put(label, layout_.place_anyway(label.anchor, width, height, 5));
    }

    void write_if_room(const PlanPoint& p) {
        Label label{anchor_of(view_.at(p.east_m, p.north_m), point_radius_, &p), p.name, "", false};
        const bool notable = p.word == PlanWord::fails || p.word == PlanWord::in_doubt;
        if (notable && is_minority(p.word)) {
            label.detail = to_text(p.word);
            const std::string probability = probability_text(p.probability);
            if (!probability.empty()) label.detail += ", " + probability + " within";
        }
        const bool crowded = d_.points.size() > 150;
        ++wanted_names_;
        // A name alone may fit where name and word do not; the sign still tells the word.
        for (int attempt = label.detail.empty() ? 1 : 0; attempt < 2; ++attempt) {
            if (attempt == 1) label.detail.clear();
            const auto [width, height] = size_of(label);
            const int steps = notable ? (crowded ? 3 : 5) : (crowded ? 1 : 2);
            const auto placed = layout_.place(label.anchor, width, height, steps);
            if (!placed) continue;
            put(label, *placed);
            ++shown_names_;
            return;
        }
    }

    /// Words are written out where they are news; when most points share one, sign and key say it.
    bool is_minority(PlanWord word) const {
        const auto count = static_cast<std::size_t>(word_counts_[static_cast<std::size_t>(word)]);
        return count <= std::max<std::size_t>(8, d_.points.size() / 4);
    }

    static constexpr double kNameSize = 12.0;
    static constexpr double kDetailSize = 10.5;

    static std::pair<double, double> size_of(const Label& label) {
        const double name = text_width(shorten(label.name, kLongestName), kNameSize, label.bold);
        const double detail = text_width(label.detail, kDetailSize);
        return {std::max(name, detail) + 2.0, label.detail.empty() ? 13.0 : 25.0};
    }

    void put(const Label& label, const PlacedLabel& placed) {
        const Box& box = placed.box;
        const Anchor& from = label.anchor;
        if (placed.needs_leader) {
            const Pixel end{std::clamp(from.x, box.left, box.right),
                            std::clamp(from.y, box.top, box.bottom)};
            const double run = std::hypot(end.x - from.x, end.y - from.y);
            if (run > from.radius + 4.0) {
                const double skip = (from.radius + 1.0) / run;
                body_.line({from.x + skip * (end.x - from.x), from.y + skip * (end.y - from.y)},
                           end, {.colour = ink::kMuted, .width = 0.7});
            }
        }
        body_.rectangle({box.left, box.top}, box.right - box.left, box.bottom - box.top,
                        {.width = 0.0, .fill = ink::kTint}, 0.8);
        // Text leans to the side its symbol is on.
        const bool on_left = box.right <= from.x;
        const bool on_right = box.left >= from.x;
        const double x = on_left    ? box.right - 1.0
                         : on_right ? box.left + 1.0
                                    : 0.5 * (box.left + box.right);
        const std::string_view anchor = on_left ? "end" : (on_right ? "start" : "middle");
        body_.text({x, box.top + 10.5}, shorten(label.name, kLongestName),
                   {.size = kNameSize, .bold = label.bold, .anchor = anchor});
        if (label.detail.empty()) return;
        body_.text({x, box.top + 22.5}, label.detail,
                   {.size = kDetailSize, .colour = ink::kMuted, .anchor = anchor});
    }

    // ---- coordinates along the frame
    void ticks() {
        if (extent_of(d_).empty) return;
        const double unit = site_unit_m(d_.style);
        const Box& f = view_.frame;
        const double step_m = tick_step_m();
        const double step = step_m / unit;
        const double half_width_m = 0.5 * (f.right - f.left) / view_.pixels_per_m;
        const double half_height_m = 0.5 * (f.bottom - f.top) / view_.pixels_per_m;
        const TextStyle small{.size = 10.5, .colour = ink::kMuted, .anchor = "middle"};
        const auto each = [&](double middle_m, double half_m, auto draw) {
            const double first = std::ceil((middle_m - half_m) / step_m);
            for (int i = 0; i < 40; ++i) {
                const double k = first + i;
                if (k * step_m > middle_m + half_m) break;
                draw(k * step_m, k * step);
            }
        };
        each(view_.east_m, half_width_m, [&](double east_m, double in_unit) {
            const double x = view_.at(east_m, view_.north_m).x;
            body_.line({x, f.bottom}, {x, f.bottom + 5.0}, {.width = 1.0});
            body_.line({x, f.top}, {x, f.top + 5.0}, {.colour = ink::kLine, .width = 0.8});
            const std::string text = "E " + coordinate_text(in_unit, step, d_.style);
            const double half = 0.5 * text_width(text, 10.5);
            if (x - half < f.left - kTickRoom || x + half > f.right + 6.0) return;
            body_.text({x, f.bottom + 16.0}, text, small);
        });
        each(view_.north_m, half_height_m, [&](double north_m, double in_unit) {
            const double y = view_.at(view_.east_m, north_m).y;
            body_.line({f.left - 5.0, y}, {f.left, y}, {.width = 1.0});
            body_.line({f.right - 5.0, y}, {f.right, y}, {.colour = ink::kLine, .width = 0.8});
            const std::string text = "N " + coordinate_text(in_unit, step, d_.style);
            const double half = 0.5 * text_width(text, 10.5);
            if (y - half < f.top - 4.0 || y + half > f.bottom + 4.0) return;
            TextStyle turned = small;
            turned.turn_deg = -90.0;
            body_.text({f.left - 8.0, y}, text, turned);
        });
    }

    /// Round, and wide enough for the widest coordinate.
    double tick_step_m() const {
        const double unit = site_unit_m(d_.style);
        const double largest = std::max(std::abs(view_.east_m), std::abs(view_.north_m)) / unit;
        const double digits = std::max(1.0, std::floor(std::log10(std::max(largest, 1.0))) + 1.0);
        const double room = 8.0 * digits + 70.0;
        // The next round length above what the room asks for.
        return round_site_length(2.5 * room / view_.pixels_per_m, d_.style).length_m;
    }

    // ---- bars and north, under the plan
    double scales(double y) {
        const double left = view_.frame.left;
        const double right = view_.frame.right;
        draw_north(body_, {right - 14.0, y + 40.0}, 34.0);
        const double room = right - left - 60.0;
        const double most = std::min(0.42 * room, 170.0);
        const RoundLength plan_bar = round_site_length(most / view_.pixels_per_m, d_.style);
        body_.begin_group("plan scale", "plan-bar");
        draw_bar(body_, {left, y}, plan_bar.length_m * view_.pixels_per_m);
        body_.end_group();
        body_.text({left, y + 20.0}, plan_bar.text + " on the plan", {.size = 12.0});
        const bool misfits = shown_misfit_ || shown_cut_misfit_;
        const bool ellipses = shown_ellipse_ || shown_cut_ellipse_;
        if (!misfits && !ellipses) return y + 44.0;

        const RoundLength bar = round_small_length(most / view_.small_pixels_per_m, d_.style);
        const bool side_by_side = room > 420.0;
        const double x = side_by_side ? left + 0.5 * room : left;
        if (!side_by_side) y += 40.0;
        const std::string what = misfits && ellipses ? "misfits and ellipses"
                                 : misfits           ? "misfits"
                                                     : "ellipses";
        body_.begin_group("scale of " + what, "misfit-bar");
        draw_bar(body_, {x, y}, bar.length_m * view_.small_pixels_per_m);
        body_.end_group();
        body_.text({x, y + 20.0}, bar.text + " for " + what, {.size = 12.0});
        body_.text({x, y + 35.0}, "drawn " + times_text() + " the plan scale",
                   {.size = 11.0, .colour = ink::kMuted});
        return y + 44.0;
    }

    std::string times_text() const {
        const double times = view_.small_pixels_per_m / view_.pixels_per_m;
        const double power = std::pow(10.0, std::floor(std::log10(times)) - 1.0);
        const double rounded = std::round(times / power) * power;
        return fmt::format("{:.{}f} times", rounded, rounded < 10.0 ? 1 : 0);
    }

    // ---- the key
    std::vector<KeyRow> key_rows() const {
        std::vector<KeyRow> rows;
        const auto add = [&rows](bool shown, KeySign sign, std::string text,
                                 PlanWord word = PlanWord::to_lay) {
            if (shown) rows.push_back({sign, word, std::move(text)});
        };
        add(shown_station_, KeySign::station, "station");
        add(shown_used_, KeySign::mark_used, "mark, used");
        add(shown_aside_, KeySign::mark_aside, "mark, set aside");
        add(shown_control_, KeySign::control, "control sight");
        add(shown_check_, KeySign::check, "check sight");
        add(shown_misfit_ || shown_cut_misfit_, KeySign::misfit,
            "misfit: its tip is where the sights put the mark");
        add(shown_cut_misfit_, KeySign::cut_misfit, "misfit, far longer than it is drawn");
        add(shown_ellipse_, KeySign::ellipse,
            "95 % ellipse: holds the true place in 95 of 100 cases");
        add(shown_cut_ellipse_, KeySign::cut_ellipse, "the same, far larger than it is drawn");
        for (const PlanWord word :
             {PlanWord::proven, PlanWord::in_doubt, PlanWord::fails, PlanWord::to_lay}) {
            const int count = word_counts_[static_cast<std::size_t>(word)];
            add(count > 0, KeySign::point,
                fmt::format("{} {}: {}", count, count == 1 ? "point" : "points",
                            word == PlanWord::to_lay ? "to lay, no verdict yet" : to_text(word)),
                word);
        }
        add(shown_grid_lines_ > 0, KeySign::grid, "grid line");
        return rows;
    }

    void key_sign(const KeyRow& row, Pixel at) {
        const Pixel from{at.x - 13.0, at.y};
        const Pixel to{at.x + 13.0, at.y};
        switch (row.sign) {
            case KeySign::mark_used:
                draw_mark(body_, {at.x, at.y + 2.0}, true);
                break;
            case KeySign::mark_aside:
                draw_mark(body_, {at.x, at.y + 2.0}, false);
                break;
            case KeySign::station:
                draw_station(body_, at);
                break;
            case KeySign::control:
                draw_sight(body_, from, to, PlanSightKind::control);
                break;
            case KeySign::check:
                draw_sight(body_, from, to, PlanSightKind::check);
                break;
            case KeySign::misfit:
                draw_misfit(body_, from, to, false);
                break;
            case KeySign::cut_misfit:
                draw_misfit(body_, from, to, true);
                break;
            case KeySign::ellipse:
                draw_ellipse(body_, at, 12.0, 6.0, 1.2, false);
                break;
            case KeySign::cut_ellipse:
                draw_ellipse(body_, at, 12.0, 6.0, 1.2, true);
                break;
            case KeySign::grid:
                draw_grid_line(body_, from, to);
                break;
            case KeySign::point:
                draw_point(body_, at, row.word, 5.0);
                break;
        }
    }

    std::vector<std::string> notes() const {
        std::vector<std::string> notes;
        if (shown_names_ < wanted_names_) {
            notes.push_back(fmt::format("{} of {} point names are shown; the rest had no room.",
                                        shown_names_, wanted_names_));
        }
        if (const int count = left_out(d_); count > 0) {
            notes.push_back(fmt::format("{} {} without a usable position not drawn.", count,
                                        count == 1 ? "entry" : "entries"));
        }
        if (extent_of(d_).empty) notes.emplace_back("Nothing to draw.");
        return notes;
    }

    double key(double x, double y, double width, int columns) {
        const auto rows = key_rows();
        const double column_width = width / columns;
        const std::size_t per_column = (rows.size() + static_cast<std::size_t>(columns) - 1) /
                                       static_cast<std::size_t>(columns);
        const auto all_notes = notes();
        if (rows.empty() && all_notes.empty()) return y;
        body_.text({x, y + 11.0}, "Key", {.size = 13.0, .bold = true});
        body_.line({x, y + 18.0}, {x + width, y + 18.0}, {.colour = ink::kLine, .width = 1.0});
        const double start = y + 34.0;
        double bottom = start;
        double at = start;
        for (std::size_t i = 0; i < rows.size(); ++i) {
            if (i % per_column == 0) at = start;
            const double left = x + static_cast<double>(i / per_column) * column_width;
            key_sign(rows[i], {left + 15.0, at});
            double baseline = at + 4.0;
            for (const auto& line : wrap_text(rows[i].text, 12.0, column_width - 50.0)) {
                body_.text({left + 40.0, baseline}, line, {.size = 12.0});
                baseline += 15.0;
            }
            at = baseline + 9.0;
            bottom = std::max(bottom, at);
        }
        for (const auto& note : all_notes) {
            for (const auto& line : wrap_text(note, 12.0, width)) {
                body_.text({x, bottom + 4.0}, line, {.size = 12.0, .colour = ink::kMuted});
                bottom += 16.0;
            }
        }
        return bottom;
    }

    std::string description() const {
        return fmt::format(
            "Plan with {} stations, {} marks and {} points: {} proven, {} in doubt, {} failing. "
            "East to the right, north up. {}",
            d_.stations.size(), d_.marks.size(), d_.points.size(), word_counts_[1], word_counts_[2],
            word_counts_[3], d_.remark);
    }

    const PlanDrawing& d_;
    double width_;
    bool wide_;
    double pad_;
    SvgCanvas body_;
    PlanView view_;
    LabelLayout layout_{Box{}};
    double point_radius_ = 5.0;
    std::array<int, 4> word_counts_{};
    int wanted_names_ = 0;
    int shown_names_ = 0;
    int shown_grid_lines_ = 0;
    bool shown_used_ = false, shown_aside_ = false, shown_station_ = false;
    bool shown_control_ = false, shown_check_ = false;
    bool shown_misfit_ = false, shown_cut_misfit_ = false;
    bool shown_ellipse_ = false, shown_cut_ellipse_ = false;
    std::unordered_map<const void*, int> owners_;
};

}  // namespace

Picture draw_plan(const PlanDrawing& drawing) {
    return PlanSheet(drawing).draw();
}

std::string draw_plan_svg(const PlanDrawing& drawing) {
    return to_svg(draw_plan(drawing));
}

}  // namespace layproof::drawing
