#include <fmt/format.h>

#include <algorithm>

#include "acts/plan/plan.hpp"
#include "acts/shared/words.hpp"
#include "drawing/reach_plan.hpp"

namespace layproof::acts {

namespace {

/// Set-ups told on the sheet itself.
constexpr std::size_t kMostTold = 6;

/// What to do at a set-up, so that the sheet can be carried alone.
std::string told_on_sheet(const PlanSetup& s, const measure::LengthStyle& style) {
    const std::string at = fmt::format("{}, {}", measure::format_length(s.east_m, style),
                                       measure::format_length(s.north_m, style));
    std::string out = fmt::format("{}: {}; sight {}", s.name,
                                  s.near.empty() ? at : fmt::format("{} ({})", s.near, at),
                                  internal::listed(s.marks, 8));
    if (!s.check.empty()) out += fmt::format("; check {}", s.check);
    if (s.alternate)
        out +=
            fmt::format("; if blocked {}, {}", measure::format_length(s.alternate->east_m, style),
                        measure::format_length(s.alternate->north_m, style));
    return out;
}

}  // namespace

std::string to_svg(const PlanAnswer& a) {
    drawing::ReachDrawing d;
    d.title = fmt::format("Where to stand: {}", station::to_word(a.verdict.word));
    d.job_lines = {a.verdict.because};
    if (!a.certificate.empty()) d.job_lines.push_back(a.certificate);
    for (std::size_t i = 0; i < std::min(a.setups.size(), kMostTold); ++i)
        d.job_lines.push_back(told_on_sheet(a.setups[i], a.style));
    if (a.setups.size() > kMostTold)
        d.job_lines.push_back(fmt::format("and {} more", a.setups.size() - kMostTold));
    std::vector<std::string> open;
    for (const PlanPointReport& p : a.point_reports)
        if (p.state != PlanPointState::counted) open.push_back(p.name);
    if (!open.empty())
        d.job_lines.push_back(
            fmt::format("Not provable from anywhere: {}", internal::listed(open, 10)));
    d.cautions = {"Contractor's layout record, not a survey.",
                  "Contract documents, local codes and the licensed surveyor decide."};
    d.style = a.style;
    d.west_m = a.map.west_m;
    d.south_m = a.map.south_m;
    d.step_m = a.map.step_m;
    d.columns = a.map.columns;
    d.rows = a.map.rows;
    d.proven = a.map.expected;
    for (const plan::Prism& p : a.obstacles) {
        drawing::ReachOutline o;
        for (const Eigen::Vector2d& c : p.corners) {
            o.east_m.push_back(c.x());
            o.north_m.push_back(c.y());
        }
        o.centre_east_m = p.centre_m.x();
        o.centre_north_m = p.centre_m.y();
        o.radius_m = p.radius_m;
        // Below the lowest prism on the points nothing is hidden that lies a little farther.
        o.is_low = p.reach.top_m < a.floor_m + 1.4 || p.reach.bottom_m > a.floor_m + 1.9;
        d.obstacles.push_back(std::move(o));
    }
    for (const auto& polygon : a.no_go) {
        drawing::ReachOutline o;
        for (const Eigen::Vector2d& c : polygon) {
            o.east_m.push_back(c.x());
            o.north_m.push_back(c.y());
        }
        o.is_no_go = true;
        d.obstacles.push_back(std::move(o));
    }
    for (const PlanMarkReport& m : a.marks) d.marks.push_back({m.name, m.east_m, m.north_m});
    for (const PlanSetup& s : a.setups) d.setups.push_back({s.name, s.east_m, s.north_m});
    for (const PlanPointReport& p : a.point_reports)
        d.points.push_back({p.east_m, p.north_m, p.chance >= a.counts_from});
    return drawing::to_svg(drawing::draw_reach(d));
}

}  // namespace layproof::acts
