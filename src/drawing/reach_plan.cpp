#include "drawing/reach_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "drawing/plan_scale_internal.hpp"
#include "drawing/plan_symbols.hpp"
#include "drawing/svg_canvas.hpp"

namespace layproof::drawing {
namespace {

constexpr int kBands = 5;
/// From little to much.
constexpr std::array<std::string_view, kBands> kBandColours{"#eef4f2", "#d3e5e1", "#afd0cb",
                                                            "#83b5b2", "#549491"};
constexpr double kTallest = 1.6;
/// Above this only a share of the points is drawn as dots of full size.
constexpr std::size_t kManyPoints = 400;

class ReachSheet {
public:
    explicit ReachSheet(const ReachDrawing& d)
        : d_(d), width_(std::isfinite(d.width_px) ? std::clamp(d.width_px, 320.0, 2400.0) : 960.0) {
        find_extent();
        choose_levels();
    }

    Picture draw() {
        double y = header();
        frame_top_ = y;
        const double room = width_ - 2.0 * kPad;
        scale_ = std::min(room / (east_ - west_), kTallest * room / (north_ - south_));
        left_ = kPad + 0.5 * (room - scale_ * (east_ - west_));
        bands();
        contours();
        outlines();
        points();
        walk();
        marks();
        setups();
        y = frame_top_ + scale_ * (north_ - south_) + 14.0;
        y = key(y);
        for (const std::string& caution : d_.cautions) {
            body_.text({kPad, y += 17.0}, caution, {.size = 12.0, .colour = ink::kMuted});
        }
        return body_.finish(width_, y + kPad, d_.title.empty() ? "Plan" : d_.title, description());
    }

private:
    static constexpr double kPad = 24.0;

    void see(double e, double n) {
        if (!std::isfinite(e) || !std::isfinite(n)) return;
        if (!any_) {
            west_ = east_ = e;
            south_ = north_ = n;
            any_ = true;
        }
        west_ = std::min(west_, e);
        east_ = std::max(east_, e);
        south_ = std::min(south_, n);
        north_ = std::max(north_, n);
    }

    void find_extent() {
        if (d_.columns > 0 && d_.rows > 0) {
            see(d_.west_m - 0.5 * d_.step_m, d_.south_m - 0.5 * d_.step_m);
            see(d_.west_m + (d_.columns - 0.5) * d_.step_m,
                d_.south_m + (d_.rows - 0.5) * d_.step_m);
        }
        for (const ReachPlace& p : d_.setups) see(p.east_m, p.north_m);
        // Marks far from the floor would make it small: they are drawn where they fit.
        const double grown = 0.25 * std::max(east_ - west_, north_ - south_);
        const double w = west_ - grown;
        const double e = east_ + grown;
        const double s = south_ - grown;
        const double n = north_ + grown;
        for (const ReachPlace& p : d_.marks)
            if (!any_ || (p.east_m > w && p.east_m < e && p.north_m > s && p.north_m < n))
                see(p.east_m, p.north_m);
        const double margin = std::max(1.0, 0.02 * std::max(east_ - west_, north_ - south_));
        west_ -= margin;
        east_ += margin;
        south_ -= margin;
        north_ += margin;
    }

    /// Round numbers of points that part the bands.
    void choose_levels() {
        double most = 0.0;
        for (const float p : d_.proven)
            if (std::isfinite(p)) most = std::max(most, static_cast<double>(p));
        double step = 1.0;
        const double wanted = std::max(most / kBands, 1.0);
        const double power = std::pow(10.0, std::floor(std::log10(wanted)));
        for (const double f : {1.0, 2.0, 5.0, 10.0})
            if (f * power >= wanted - 1e-9) {
                step = f * power;
                break;
            }
        level_ = step;
        most_ = most;
    }

    int band_of(double proven) const {
        if (!(proven >= 0.5)) return -1;
        return std::min(static_cast<int>(proven / level_), kBands - 1);
    }

    Pixel at(double e, double n) const {
        return {left_ + (e - west_) * scale_, frame_top_ + (north_ - n) * scale_};
    }

    double header() {
        double y = kPad + 14.0;
        body_.text({kPad, y}, d_.title, {.size = 19.0, .bold = true});
        for (const std::string& line : d_.job_lines)
            body_.text({kPad, y += 18.0}, line, {.size = 13.0, .colour = ink::kMuted});
        return y + 14.0;
    }

    float value(int c, int r) const {
        if (c < 0 || r < 0 || c >= d_.columns || r >= d_.rows) return -1.0F;
        return d_.proven[static_cast<std::size_t>(r) * static_cast<std::size_t>(d_.columns) +
                         static_cast<std::size_t>(c)];
    }

    /// Runs of one band along a row are one rectangle.
    void bands() {
        if (d_.proven.size() !=
            static_cast<std::size_t>(d_.columns) * static_cast<std::size_t>(d_.rows))
            return;
        body_.begin_group("What can be proven from where", "bands");
        for (int r = 0; r < d_.rows; ++r)
            for (int c = 0; c < d_.columns;) {
                const int band = band_of(static_cast<double>(value(c, r)));
                int end = c + 1;
                while (end < d_.columns && band_of(static_cast<double>(value(end, r))) == band)
                    ++end;
                if (band >= 0) {
                    const Pixel corner =
                        at(d_.west_m + (c - 0.5) * d_.step_m, d_.south_m + (r + 0.5) * d_.step_m);
                    body_.rectangle(
                        corner, scale_ * d_.step_m * (end - c), scale_ * d_.step_m + 0.3,
                        {.width = 0.0, .fill = kBandColours[static_cast<std::size_t>(band)]});
                }
                c = end;
            }
        body_.end_group();
    }

    /// Marching squares between the places, on the values as they stand (Lorensen and Cline's
    /// cubes, one dimension less).
    void contours() {
        if (d_.proven.size() !=
            static_cast<std::size_t>(d_.columns) * static_cast<std::size_t>(d_.rows))
            return;
        body_.begin_group("Contours", "contours");
        for (int band = 1; band < kBands; ++band) {
            const double level = band * level_;
            if (level > most_) break;
            for (int r = 0; r + 1 < d_.rows; ++r)
                for (int c = 0; c + 1 < d_.columns; ++c) contour_cell(c, r, level);
        }
        body_.end_group();
    }

    void contour_cell(int c, int r, double level) {
        const std::array<double, 4> v{
            static_cast<double>(value(c, r)), static_cast<double>(value(c + 1, r)),
            static_cast<double>(value(c + 1, r + 1)), static_cast<double>(value(c, r + 1))};
        // Where nobody can stand there is no value to draw a line through.
        for (const double x : v)
            if (x < 0.0) return;
        const std::array<std::array<double, 2>, 4> corner{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}};
        std::array<Pixel, 4> cut;
        std::size_t cuts = 0;
        for (std::size_t k = 0; k < 4; ++k) {
            const std::size_t j = (k + 1) % 4;
            if ((v[k] >= level) == (v[j] >= level)) continue;
            const double t = (level - v[k]) / (v[j] - v[k]);
            const double e = c + corner[k][0] + t * (corner[j][0] - corner[k][0]);
            const double n = r + corner[k][1] + t * (corner[j][1] - corner[k][1]);
            cut[cuts++] = at(d_.west_m + e * d_.step_m, d_.south_m + n * d_.step_m);
        }
        for (std::size_t k = 0; k + 1 < cuts; k += 2)
            body_.line(cut[k], cut[k + 1], {.colour = "#3d7774", .width = 0.7});
    }

    void outlines() {
        body_.begin_group("Obstacles and no-go areas", "obstacles");
        for (const ReachOutline& o : d_.obstacles) {
            // Edges in the colour of the inside: an outline cut into triangles shows no seams.
            Stroke stroke{.colour = "#4a545f", .width = 0.8, .fill = "#4a545f"};
            if (o.is_low) stroke = {.colour = "#b4bcc4", .width = 0.8, .fill = "#cfd4d9"};
            if (o.is_no_go)
                stroke = {.colour = ink::kFails, .width = 1.4, .dash = "6 4", .fill = "none"};
            if (o.east_m.empty()) {
                body_.circle(at(o.centre_east_m, o.centre_north_m), scale_ * o.radius_m, stroke);
                continue;
            }
            std::vector<Pixel> corners;
            for (std::size_t i = 0; i < o.east_m.size() && i < o.north_m.size(); ++i)
                corners.push_back(at(o.east_m[i], o.north_m[i]));
            body_.outline(std::move(corners), stroke);
        }
        body_.end_group();
    }

    void points() {
        const double radius = d_.points.size() > kManyPoints ? 1.3 : 2.6;
        for (const ReachPoint& p : d_.points) {
            if (!std::isfinite(p.east_m) || !std::isfinite(p.north_m)) continue;
            if (p.is_counted)
                body_.circle(at(p.east_m, p.north_m), radius,
                             {.colour = ink::kProven, .width = 0.5, .fill = ink::kProven});
            else
                body_.circle(at(p.east_m, p.north_m), radius,
                             {.colour = ink::kDoubt, .width = 0.9, .fill = ink::kPaper});
        }
    }

    void walk() {
        for (std::size_t i = 0; i + 1 < d_.setups.size(); ++i)
            body_.line(at(d_.setups[i].east_m, d_.setups[i].north_m),
                       at(d_.setups[i + 1].east_m, d_.setups[i + 1].north_m),
                       {.colour = ink::kMisfit, .width = 1.2, .dash = "2 4"});
    }

    void label(Pixel where, const std::string& text, std::string_view colour) {
        // A light ground, so that a name can be read over dark bands.
        const double wide = 7.4 * static_cast<double>(text.size()) + 6.0;
        body_.rectangle({where.x - 3.0, where.y - 11.5}, wide, 15.0,
                        {.width = 0.0, .fill = ink::kPaper}, 0.85, 3.0);
        body_.text(where, text, {.size = 12.5, .colour = colour, .bold = true});
    }

    void marks() {
        for (const ReachPlace& m : d_.marks) {
            if (!(m.east_m >= west_ && m.east_m <= east_ && m.north_m >= south_ &&
                  m.north_m <= north_))
                continue;
            const Pixel p = at(m.east_m, m.north_m);
            draw_mark(body_, p, true);
            label({p.x + 10.0, p.y + 4.0}, m.name, ink::kText);
        }
    }

    void setups() {
        for (const ReachPlace& s : d_.setups) {
            const Pixel p = at(s.east_m, s.north_m);
            body_.circle(p, kStationRadius + 2.0, {.width = 0.0, .fill = ink::kPaper});
            draw_station(body_, p);
            label({p.x + 12.0, p.y - 6.0}, s.name, ink::kMisfit);
        }
    }

    double key(double y) {
        double x = kPad;
        body_.text({x, y += 14.0}, "Points proven from a place, on average",
                   {.size = 12.5, .bold = true});
        y += 8.0;
        body_.rectangle({x, y}, 22.0, 14.0,
                        {.colour = ink::kLine, .width = 0.6, .fill = ink::kPaper});
        constexpr std::string_view kNone = "none, or no place to stand";
        body_.text({x + 28.0, y + 11.5}, std::string(kNone), {.size = 12.0});
        x += 28.0 + 6.4 * static_cast<double>(kNone.size()) + 16.0;
        for (int band = 0; band < kBands; ++band) {
            const double from = band * level_;
            if (band > 0 && from > most_) break;
            body_.rectangle({x, y}, 22.0, 14.0,
                            {.colour = ink::kLine,
                             .width = 0.6,
                             .fill = kBandColours[static_cast<std::size_t>(band)]});
            const std::string text = band == 0 ? fmt::format("1 to {:.0f}", level_)
                                     : band == kBands - 1 || from + level_ > most_
                                         ? fmt::format("{:.0f} and more", from)
                                         : fmt::format("{:.0f} to {:.0f}", from, from + level_);
            body_.text({x + 28.0, y + 11.5}, text, {.size = 12.0});
            x += 28.0 + 6.8 * static_cast<double>(text.size()) + 16.0;
        }
        y += 32.0;
        x = kPad;
        const auto item = [&](const char* text, const auto& draw) {
            const double wide =
                28.0 + 6.8 * static_cast<double>(std::string_view(text).size()) + 14.0;
            if (x + wide > width_ - kPad) {
                x = kPad;
                y += 24.0;
            }
            draw(Pixel{x + 8.0, y});
            body_.text({x + 22.0, y + 4.0}, text, {.size = 12.0});
            x += wide;
        };
        item("set-up", [&](Pixel p) { draw_station(body_, p); });
        item("mark", [&](Pixel p) { draw_mark(body_, p, true); });
        item("point proven", [&](Pixel p) {
            body_.circle(p, 2.6, {.colour = ink::kProven, .width = 0.5, .fill = ink::kProven});
        });
        item("point not proven", [&](Pixel p) {
            body_.circle(p, 2.6, {.colour = ink::kDoubt, .width = 0.9, .fill = ink::kPaper});
        });
        item("obstacle", [&](Pixel p) {
            body_.rectangle({p.x - 6.0, p.y - 5.0}, 12.0, 10.0, {.width = 0.8, .fill = "#4a545f"});
        });
        item("looked over", [&](Pixel p) {
            body_.rectangle({p.x - 6.0, p.y - 5.0}, 12.0, 10.0,
                            {.colour = "#b4bcc4", .width = 0.8, .fill = "#cfd4d9"});
        });
        item("no-go", [&](Pixel p) {
            body_.rectangle({p.x - 6.0, p.y - 5.0}, 12.0, 10.0,
                            {.colour = ink::kFails, .width = 1.4, .dash = "6 4"});
        });
        y += 26.0;
        const RoundLength bar = round_site_length(120.0 / scale_, d_.style);
        draw_bar(body_, {kPad, y}, bar.length_m * scale_);
        body_.text({kPad + bar.length_m * scale_ + 10.0, y + 4.0}, bar.text, {.size = 12.0});
        draw_north(body_, {width_ - kPad - 14.0, y + 8.0}, 30.0);
        return y + 8.0;
    }

    std::string description() const {
        return fmt::format(
            "{} set-ups, {} marks and {} points on a map of what can be proven from "
            "where.",
            d_.setups.size(), d_.marks.size(), d_.points.size());
    }

    const ReachDrawing& d_;
    double width_;
    double west_ = 0.0, east_ = 0.0, south_ = 0.0, north_ = 0.0;
    bool any_ = false;
    double level_ = 1.0, most_ = 0.0;
    double scale_ = 1.0, left_ = 0.0, frame_top_ = 0.0;
    SvgCanvas body_;
};

}  // namespace

Picture draw_reach(const ReachDrawing& drawing) {
    return ReachSheet(drawing).draw();
}

}  // namespace layproof::drawing
