#include <fmt/format.h>

#include "acts/lay/lay.hpp"
#include "acts/shared/plan_word.hpp"
#include "acts/station/station_plan.hpp"

namespace layproof::acts {
namespace {

/// Every point that was laid carries its word, from whichever station; the others are to be laid.
drawing::PlanDrawing drawing_of(const LayStation& one, const LayAnswer& answer) {
    drawing::PlanDrawing out = internal::plan_of(one.station, answer.style);
    out.points.clear();
    int proven = 0;
    for (const LaidReport& report : answer.laid)
        proven += report.figures.verdict.word == station::Word::proven ? 1 : 0;
    out.title = fmt::format("Layout from {}: {} of {} points laid are proven", one.station.station,
                            proven, answer.laid.size());
    if (answer.verdict) out.job_lines = {answer.verdict->because, answer.verdict->next};
    std::vector<const LaidReport*> laid(answer.points.size(), nullptr);
    for (const LaidReport& report : answer.laid) laid[report.point] = &report;
    for (std::size_t p = 0; p < answer.points.size(); ++p) {
        const frame::DesignPoint& design = answer.points[p].design;
        drawing::PlanPoint point{design.name, design.east_m, design.north_m,
                                 drawing::PlanWord::to_lay, std::nullopt};
        if (laid[p] != nullptr) {
            const lay::PointVerdict& v = laid[p]->figures.verdict;
            point.word = internal::plan_word(v.word);
            if (v.is_judged) point.probability = v.probability;
        }
        out.points.push_back(std::move(point));
    }
    for (const frame::GridLine& line : answer.grid.lines())
        out.grid_lines.push_back(
            {line.name, line.start_m.x(), line.start_m.y(), line.end_m.x(), line.end_m.y()});
    return out;
}

}  // namespace

std::vector<std::string> to_svg(const LayAnswer& answer) {
    std::vector<std::string> out;
    for (const LayStation& one : answer.stations)
        out.push_back(drawing::draw_plan_svg(drawing_of(one, answer)));
    return out;
}

}  // namespace layproof::acts
