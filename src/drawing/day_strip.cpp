#include "drawing/day_strip.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "base/text/time.hpp"
#include "base/text/utf8.hpp"
#include "drawing/label_layout_internal.hpp"
#include "drawing/plan_symbols.hpp"
#include "drawing/sheet_head_internal.hpp"
#include "drawing/svg_canvas.hpp"

namespace layproof::drawing {
namespace {

constexpr double kWideStrip = 720.0;
constexpr double kHour_s = 3600.0;
constexpr double kDay_s = 86400.0;
constexpr double kLongestDay_s = 40.0 * kDay_s;
constexpr double kDot = 4.6;
constexpr double kDotStep = 11.5;
constexpr int kMostInStack = 9;
constexpr std::size_t kMostRows = 4;  ///< of texts under the checks
constexpr double kRow = 14.0;
constexpr std::size_t kLongestStripName = 22;

bool has_place(double time_s) {
    return std::isfinite(time_s) && std::abs(time_s) < 1e12;
}

class Sheet {
public:
    explicit Sheet(const DayStrip& strip)
        : d_(strip),
          width_(std::isfinite(d_.width_px) ? std::clamp(d_.width_px, 320.0, 2400.0) : 960.0),
          wide_(width_ >= kWideStrip),
          pad_(wide_ ? 24.0 : 14.0),
          left_(pad_ + (wide_ ? 104.0 : 4.0)),
          right_(width_ - pad_ - 6.0) {
        find_span();
        stack_layings();
        place_failed();
    }

    Picture draw() {
        double y = header(pad_ + 6.0);
        y = strip(y);
        y = sight_first(y + 10.0);
        y = key(y + 10.0);
        return body_.finish(width_, y + pad_, d_.title.empty() ? "Day" : d_.title, description());
    }

private:
    // ---- times
    void see(double time_s) {
        if (!has_place(time_s)) {
            ++left_out_;
            return;
        }
        from_s_ = any_ ? std::min(from_s_, time_s) : time_s;
        to_s_ = any_ ? std::max(to_s_, time_s) : time_s;
        any_ = true;
    }

    void find_span() {
        for (const auto& s : d_.setups) {
            see(s.from_s);
            see(s.to_s);
        }
        for (const auto& c : d_.checks) see(c.time_s);
        for (const auto& l : d_.layings) see(l.time_s);
        for (const auto& r : d_.resights) see(r.time_s);
        for (const auto& b : d_.bands) {
            see(b.from_s);
            see(b.to_s);
        }
        if (d_.next_check_s) see(*d_.next_check_s);
        to_s_ = std::min(to_s_, from_s_ + kLongestDay_s);
        if (to_s_ - from_s_ < 0.5 * kHour_s) {
            const double middle = 0.5 * (from_s_ + to_s_);
            from_s_ = middle - 0.5 * kHour_s;
            to_s_ = middle + 0.5 * kHour_s;
        }
        const double margin = 0.02 * (to_s_ - from_s_);
        from_s_ -= margin;
        to_s_ += margin;
    }

    double x_of(double time_s) const {
        const double share = (time_s - from_s_) / (to_s_ - from_s_);
        return left_ + std::clamp(share, 0.0, 1.0) * (right_ - left_);
    }

    /// "09:40", by the site's clock.
    std::string clock(double time_s) const {
        return clock_text(std::floor((time_s + offset()) / 60.0 + 0.5) * 60.0, 0.0);
    }

    double offset() const { return has_place(d_.utc_offset_s) ? d_.utc_offset_s : 0.0; }

    // ---- what stands over the strip
    double header(double y) {
        return draw_sheet_head(body_, {width_, pad_, wide_}, y, d_.title, d_.job_lines, d_.remark,
                               d_.cautions) +
               18.0;
    }

    // ---- the strip
    /// Layings in bins of one dot's width.
    void stack_layings() {
        const auto bins = static_cast<std::size_t>(std::max(1.0, (right_ - left_) / kDotStep));
        stacks_.resize(bins + 1);
        for (std::size_t i = 0; i < d_.layings.size(); ++i) {
            if (!has_place(d_.layings[i].time_s)) continue;
            const double place = (x_of(d_.layings[i].time_s) - left_) / kDotStep;
            stacks_[std::min(bins, static_cast<std::size_t>(std::max(place, 0.0)))].push_back(i);
        }
        for (auto& stack : stacks_) {
            std::stable_sort(stack.begin(), stack.end(), [&](std::size_t a, std::size_t b) {
                return d_.layings[a].time_s < d_.layings[b].time_s;
            });
            highest_ = std::max(highest_, static_cast<int>(stack.size()));
        }
    }

    double strip(double y) {
        const double label_room = wide_ ? 0.0 : 16.0;
        const int shown = std::min(std::max(highest_, 1), kMostInStack);
        const double cut_room = highest_ > kMostInStack ? 14.0 : 0.0;
        const double band_room = bands_room();
        const double setups_top = y + band_room;
        const double setups_height = d_.setups.empty() ? 0.0 : 26.0 + label_room;
        const double checks_top = setups_top + setups_height;
        const double failed_room = kRow * static_cast<double>(failed_rows_);
        const double checks_height = 38.0 + failed_room + label_room;
        const double layings_top = checks_top + checks_height;
        const double layings_height = shown * kDotStep + cut_room + 16.0 + label_room;
        const double resights_top = layings_top + layings_height;
        const double resights_height = d_.resights.empty() ? 0.0 : 26.0 + label_room;
        const double bottom = resights_top + resights_height;

        body_.rectangle({left_ - 4.0, setups_top}, right_ - left_ + 8.0, bottom - setups_top,
                        {.width = 0.0, .fill = ink::kTint});
        hours(setups_top, bottom);
        for (std::size_t i = 0; i < d_.bands.size(); ++i)
            band(d_.bands[i], y + 15.0 * static_cast<double>(i), setups_top, bottom);
        if (!d_.setups.empty()) {
            lane("set-ups", setups_top, false);
            setups(setups_top + label_room);
        }
        lane("checks", checks_top, !d_.setups.empty());
        checks(checks_top + label_room);
        lane("points laid", layings_top, true);
        layings(layings_top + layings_height - 10.0, shown);
        if (!d_.resights.empty()) {
            lane("sighted again", resights_top, true);
            resights(resights_top + label_room + 13.0);
        }
        body_.rectangle({left_ - 4.0, setups_top}, right_ - left_ + 8.0, bottom - setups_top,
                        {.width = 1.2});
        double under = bottom + 18.0;
        if (d_.next_check_s && has_place(*d_.next_check_s)) {
            const double x = x_of(*d_.next_check_s);
            body_.begin_group("next check due", "next-check");
            body_.line({x, setups_top}, {x, bottom + 22.0}, {.width = 1.6, .dash = "2 4"});
            const std::string text = "next check due " + clock(*d_.next_check_s);
            const double half = 0.5 * text_width(text, 12.0, true);
            body_.text({std::clamp(x, left_ + half, right_ - half), bottom + 36.0}, text,
                       {.size = 12.0, .bold = true, .anchor = "middle"});
            body_.end_group();
            under += 22.0;
        }
        return under + 4.0;
    }

    void lane(const std::string& name, double top, bool line) {
        if (line)
            body_.line({left_ - 4.0, top}, {right_ + 4.0, top},
                       {.colour = ink::kFaint, .width = 1.0});
        if (wide_) {
            body_.text({left_ - 14.0, top + 18.0}, name,
                       {.size = 12.0, .colour = ink::kMuted, .anchor = "end"});
        } else {
            body_.text({left_, top + 13.0}, name, {.size = 11.0, .colour = ink::kMuted});
        }
    }

    void hours(double top, double bottom) {
        constexpr std::array<double, 10> kSteps_s{300.0,  600.0,   900.0,   1800.0,  3600.0,
                                                  7200.0, 10800.0, 21600.0, 43200.0, 86400.0};
        const double per_second = (right_ - left_) / (to_s_ - from_s_);
        double step = kSteps_s.back();
        for (const double s : kSteps_s)
            if (s * per_second > 46.0) {
                step = s;
                break;
            }
        const double first = std::ceil((from_s_ + offset()) / step);
        for (int i = 0; i < 80; ++i) {
            const double time_s = (first + i) * step - offset();
            if (time_s > to_s_) break;
            const double x = x_of(time_s);
            body_.line({x, top}, {x, bottom}, {.colour = ink::kFaint, .width = 1.0});
            body_.line({x, bottom}, {x, bottom + 5.0}, {.width = 1.0});
            const bool in_the_way = d_.next_check_s && has_place(*d_.next_check_s) &&
                                    std::abs(x_of(*d_.next_check_s) - x) < 22.0;
            if (in_the_way) continue;
            body_.text({x, bottom + 17.0}, clock(time_s),
                       {.size = 11.0, .colour = ink::kMuted, .anchor = "middle"});
        }
    }

    double bands_room() const {
        return d_.bands.empty() ? 0.0 : 15.0 * static_cast<double>(d_.bands.size()) + 8.0;
    }

    /// Hatched between two broken lines, its text over it.
    void band(const StripBand& band, double text_y, double top, double bottom) {
        if (!has_place(band.from_s) || !has_place(band.to_s)) return;
        double left = x_of(std::min(band.from_s, band.to_s));
        double right = x_of(std::max(band.from_s, band.to_s));
        if (right - left < 3.0) {
            left -= 1.5;
            right += 1.5;
        }
        body_.begin_group(band.text, "doubt-band");
        body_.rectangle({left, top}, right - left, bottom - top,
                        {.width = 0.0, .fill = ink::kPaper}, 0.6);
        constexpr double kHatch = 9.0;
        const double height = bottom - top;
        for (double x = left - height; x < right; x += kHatch) {
            // From (x, bottom) up to the right, kept inside the band.
            const double from = std::max(x, left);
            const double to = std::min(x + height, right);
            if (to <= from) continue;
            body_.line({from, bottom - (from - x)}, {to, bottom - (to - x)},
                       {.colour = ink::kDoubt, .width = 0.7});
        }
        const std::string text = shorten(band.text, wide_ ? 80 : 44);
        const double w = text_width(text, 12.0, true);
        // The edges reach up to the text if it stands between them.
        const double edge_top = w + 8.0 < right - left ? text_y + 2.0 : top - 4.0;
        for (const double x : {left, right})
            body_.line({x, edge_top}, {x, bottom},
                       {.colour = ink::kDoubt, .width = 1.4, .dash = "5 3"});
        const double x =
            std::clamp(0.5 * (left + right) - 0.5 * w, pad_, std::max(pad_, width_ - pad_ - w));
        body_.text({x, text_y + 10.0}, text, {.size = 12.0, .bold = true});
        body_.end_group();
    }

    void setups(double top) {
        for (const auto& s : d_.setups) {
            if (!has_place(s.from_s) || !has_place(s.to_s)) continue;
            const double a = x_of(std::min(s.from_s, s.to_s));
            const double b = std::max(x_of(std::max(s.from_s, s.to_s)), a + 2.0);
            body_.begin_group("set-up " + s.name, "set-up");
            body_.rectangle({a, top + 4.0}, b - a, 18.0, {.width = 1.2, .fill = ink::kPaper}, 1.0,
                            2.0);
            draw_station(body_, {a, top + 13.0});
            const std::string name = shorten(s.name, kLongestStripName);
            if (text_width(name, 12.0, true) + 20.0 < b - a)
                body_.text({a + 14.0, top + 17.0}, name, {.size = 12.0, .bold = true});
            body_.end_group();
        }
    }

    /// Texts of the checks that are not good, each in the first row with room for it.
    void place_failed() {
        std::array<double, kMostRows> taken;
        taken.fill(-1e9);
        for (const StripCheck* c : in_order()) {
            if (c->good) continue;
            const std::string text =
                shorten(c->detail.empty() ? c->mark : c->mark + " " + c->detail, kLongestStripName);
            const double w = text_width(text, 11.5, true);
            const double at =
                std::clamp(x_of(c->time_s) - 0.5 * w, left_, std::max(left_, right_ - w));
            for (std::size_t row = 0; row < kMostRows; ++row) {
                if (at < taken[row] + 6.0) continue;
                taken[row] = at + w;
                failed_.push_back({at, w, row, text});
                failed_rows_ = std::max(failed_rows_, row + 1);
                break;
            }
        }
    }

    std::vector<const StripCheck*> in_order() const {
        std::vector<const StripCheck*> order;
        for (const auto& c : d_.checks)
            if (has_place(c.time_s)) order.push_back(&c);
        std::stable_sort(order.begin(), order.end(),
                         [](const auto* a, const auto* b) { return a->time_s < b->time_s; });
        return order;
    }

    static void check_sign(SvgCanvas& canvas, Pixel at, bool good) {
        if (good) {
            draw_mark(canvas, at, true);
            return;
        }
        // Upside down and solid, with a bright edge where two stand in each other's way.
        const double r = kMarkRadius + 1.0;
        canvas.polygon({{at.x, at.y + 0.9 * r},
                        {at.x + 0.95 * r, at.y - 0.75 * r},
                        {at.x - 0.95 * r, at.y - 0.75 * r}},
                       {.colour = ink::kPaper, .width = 1.6, .fill = ink::kText});
    }

    void checks(double top) {
        double crowded = -1e9;
        int lift = 0;
        for (const StripCheck* c : in_order()) {
            const double x = x_of(c->time_s);
            // Sights of one round stand beside and over each other.
            lift = x - crowded < 9.0 ? (lift + 1) % 2 : 0;
            crowded = x;
            ++(c->good ? good_checks_ : bad_checks_);
            body_.begin_group(fmt::format("check of {} at {}: {}{}{}", c->mark, clock(c->time_s),
                                          c->good ? "good" : "not good",
                                          c->detail.empty() ? "" : ", ", c->detail),
                              "check");
            check_sign(body_, {x, top + 24.0 - 11.0 * lift}, c->good);
            body_.end_group();
        }
        for (const Failed& f : failed_) {
            const double base = top + 46.0 + kRow * static_cast<double>(f.row);
            body_.rectangle({f.x - 2.0, base - 10.0}, f.width + 4.0, 13.0,
                            {.width = 0.0, .fill = ink::kTint}, 0.85);
            body_.text({f.x, base}, f.text, {.size = 11.5, .bold = true});
        }
    }

    void layings(double base, int shown) {
        for (std::size_t b = 0; b < stacks_.size(); ++b) {
            const auto& stack = stacks_[b];
            const double x = left_ + (static_cast<double>(b) + 0.5) * kDotStep;
            for (std::size_t k = 0; k < stack.size(); ++k) {
                const StripLaying& l = d_.layings[stack[k]];
                ++words_[static_cast<std::size_t>(l.word)];
                if (static_cast<int>(k) >= shown) continue;
                body_.begin_group(
                    fmt::format("{} at {}: {}", l.point, clock(l.time_s), to_text(l.word)),
                    "point");
                draw_point(body_, {x, base - kDotStep * static_cast<double>(k)}, l.word, kDot);
                body_.end_group();
            }
            if (static_cast<int>(stack.size()) > shown)
                body_.text({x, base - kDotStep * shown + 2.0},
                           fmt::format("+{}", stack.size() - static_cast<std::size_t>(shown)),
                           {.size = 9.5, .colour = ink::kMuted, .anchor = "middle"});
        }
    }

    static void resight_sign(SvgCanvas& canvas, Pixel at) {
        canvas.polygon(
            {{at.x, at.y - 6.0}, {at.x + 6.0, at.y}, {at.x, at.y + 6.0}, {at.x - 6.0, at.y}},
            {.width = 1.6, .fill = ink::kPaper});
    }

    void resights(double y) {
        for (const auto& r : d_.resights) {
            if (!has_place(r.time_s)) continue;
            ++resights_;
            body_.begin_group(fmt::format("{} sighted again at {}", r.name, clock(r.time_s)),
                              "re-sight");
            resight_sign(body_, {x_of(r.time_s), y});
            body_.end_group();
        }
    }

    // ---- under the strip
    double sight_first(double y) {
        if (d_.sight_first.empty()) return y;
        body_.text({pad_, y + 11.0}, "Sight first", {.size = 13.0, .bold = true});
        body_.line({pad_, y + 18.0}, {width_ - pad_, y + 18.0},
                   {.colour = ink::kLine, .width = 1.0});
        double baseline = y + 36.0;
        for (std::size_t i = 0; i < d_.sight_first.size(); ++i) {
            body_.text({pad_, baseline}, fmt::format("{}.", i + 1), {.size = 13.0, .bold = true});
            for (const auto& line :
                 wrap_text(d_.sight_first[i], 13.0, width_ - 2.0 * pad_ - 24.0)) {
                body_.text({pad_ + 24.0, baseline}, line, {.size = 13.0});
                baseline += 17.0;
            }
            baseline += 3.0;
        }
        return baseline;
    }

    double key(double y) {
        struct Row {
            std::string text;
            std::function<void(Pixel)> sign;
        };
        std::vector<Row> rows;
        const auto counted = [](int n, const char* one, const char* many) {
            return fmt::format("{} {}", n, n == 1 ? one : many);
        };
        if (good_checks_ > 0)
            rows.push_back({counted(good_checks_, "check", "checks") + ": good", [&](Pixel p) {
                                check_sign(body_, {p.x, p.y + 2.0}, true);
                            }});
        if (bad_checks_ > 0)
            rows.push_back({counted(bad_checks_, "check", "checks") + ": not good", [&](Pixel p) {
                                check_sign(body_, {p.x, p.y - 1.0}, false);
                            }});
        for (const PlanWord word :
             {PlanWord::proven, PlanWord::in_doubt, PlanWord::fails, PlanWord::to_lay}) {
            const int n = words_[static_cast<std::size_t>(word)];
            if (n == 0) continue;
            rows.push_back({counted(n, "point", "points") + ": " +
                                (word == PlanWord::to_lay ? "no verdict yet" : to_text(word)),
                            [&, word](Pixel p) { draw_point(body_, p, word, 5.0); }});
        }
        if (resights_ > 0)
            rows.push_back({counted(resights_, "point", "points") + " sighted again",
                            [&](Pixel p) { resight_sign(body_, p); }});
        if (!d_.bands.empty())
            rows.push_back(
                {"hatched: the instrument probably moved in here", [&](Pixel p) {
                     body_.rectangle(
                         {p.x - 12.0, p.y - 7.0}, 24.0, 14.0,
                         {.colour = ink::kDoubt, .width = 1.2, .dash = "5 3", .fill = ink::kPaper});
                     for (double x = -12.0; x <= 2.0; x += 7.0)
                         body_.line({p.x + x, p.y + 7.0}, {p.x + x + 10.0, p.y - 7.0},
                                    {.colour = ink::kDoubt, .width = 0.7});
                 }});
        std::vector<std::string> notes;
        if (left_out_ > 0)
            notes.push_back(fmt::format("{} without a usable time not drawn.",
                                        counted(left_out_, "entry", "entries")));
        if (!any_) notes.emplace_back("Nothing to draw.");
        if (rows.empty() && notes.empty()) return y;
        body_.text({pad_, y + 11.0}, "Key", {.size = 13.0, .bold = true});
        body_.line({pad_, y + 18.0}, {width_ - pad_, y + 18.0},
                   {.colour = ink::kLine, .width = 1.0});
        const int columns = width_ >= 900.0 ? 3 : width_ >= 560.0 ? 2 : 1;
        const double column = (width_ - 2.0 * pad_) / columns;
        const std::size_t per_column = (rows.size() + static_cast<std::size_t>(columns) - 1) /
                                       static_cast<std::size_t>(columns);
        double bottom = y + 28.0;
        double at = bottom;
        for (std::size_t i = 0; i < rows.size(); ++i) {
            if (i % per_column == 0) at = y + 36.0;
            const double x = pad_ + static_cast<double>(i / per_column) * column;
            rows[i].sign({x + 15.0, at});
            double baseline = at + 4.0;
            for (const auto& line : wrap_text(rows[i].text, 12.0, column - 46.0)) {
                body_.text({x + 36.0, baseline}, line, {.size = 12.0});
                baseline += 15.0;
            }
            at = baseline + 8.0;
            bottom = std::max(bottom, at - 10.0);
        }
        for (const auto& note : notes) {
            bottom += 16.0;
            body_.text({pad_, bottom}, note, {.size = 12.0, .colour = ink::kMuted});
        }
        return bottom;
    }

    std::string description() const {
        std::string out = fmt::format(
            "A day with {} set-ups, {} checks of which {} not good, {} points laid: {} proven, "
            "{} in doubt, {} failing.",
            d_.setups.size(), d_.checks.size(), bad_checks_, d_.layings.size(), words_[1],
            words_[2], words_[3]);
        for (const auto& band : d_.bands)
            if (has_place(band.from_s) && has_place(band.to_s))
                out += fmt::format(" Between {} and {}: {}.", clock(band.from_s), clock(band.to_s),
                                   band.text);
        return out + " " + d_.remark;
    }

    const DayStrip& d_;
    double width_;
    bool wide_;
    double pad_;
    double left_;
    double right_;
    double from_s_ = 0.0;
    double to_s_ = 0.0;
    bool any_ = false;
    int left_out_ = 0;
    std::vector<std::vector<std::size_t>> stacks_;
    int highest_ = 0;
    struct Failed {
        double x;
        double width;
        std::size_t row;
        std::string text;
    };
    std::vector<Failed> failed_;
    std::size_t failed_rows_ = 0;
    std::array<int, 4> words_{};
    int good_checks_ = 0;
    int bad_checks_ = 0;
    int resights_ = 0;
    SvgCanvas body_;
};

}  // namespace

Picture draw_day_strip(const DayStrip& strip) {
    return Sheet(strip).draw();
}

std::string draw_day_strip_svg(const DayStrip& strip) {
    return to_svg(draw_day_strip(strip));
}

}  // namespace layproof::drawing
