#include <fmt/format.h>

#include <algorithm>

#include "acts/plan.hpp"
#include "acts/words_internal.hpp"
#include "record/reach_plan.hpp"

namespace layproof::acts {

std::string to_svg(const PlanAnswer& a) {
    record::ReachDrawing d;
    d.title = fmt::format("Where to stand: {}", station::to_word(a.verdict.word));
    d.job_lines = {a.verdict.because};
    if (!a.certificate.empty()) d.job_lines.push_back(a.certificate);
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
        record::ReachOutline o;
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
        record::ReachOutline o;
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
    return record::to_svg(record::draw_reach(d));
}

}  // namespace layproof::acts
