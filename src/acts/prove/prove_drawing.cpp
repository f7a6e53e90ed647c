#include <fmt/format.h>

#include <map>

#include "acts/prove/prove.hpp"
#include "acts/shared/plan_word.hpp"
#include "acts/station/station_plan.hpp"
#include "frame/ellipse.hpp"

namespace layproof::acts {
namespace {

drawing::PlanEllipse prove_ellipse_95(const Eigen::Matrix2d& covariance) {
    const frame::ErrorEllipse e = frame::error_ellipse(covariance, frame::kEllipse95);
    return {e.semi_major_m, e.semi_minor_m, e.azimuth_rad};
}

}  // namespace

std::string to_svg(const ProveAnswer& answer) {
    drawing::PlanDrawing out;
    out.style = answer.style;
    out.title = answer.laid.empty()
                    ? fmt::format("The whole job: {}", station::to_word(answer.verdict.word))
                    : fmt::format("The whole job: {} of {} points laid are proven", answer.proven,
                                  answer.laid.size());
    out.job_lines = {answer.verdict.because, answer.verdict.next};
    out.cautions = {"Contractor's layout record, not a survey.",
                    "Contract documents, local codes and the licensed surveyor decide."};
    std::map<std::string, std::size_t> mark_at;
    for (const ProveMark& mark : answer.marks) {
        if (!mark.east_m || !mark.north_m) continue;
        mark_at.emplace(mark.name, out.marks.size());
        drawing::PlanMark plan;
        plan.name = mark.name;
        plan.east_m = *mark.east_m;
        plan.north_m = *mark.north_m;
        plan.used = mark.is_sighted;
        if (mark.off_east_m && mark.off_north_m) {
            plan.misfit = drawing::PlanVector{*mark.off_east_m, *mark.off_north_m};
            plan.ellipse_95 = prove_ellipse_95(mark.off_covariance.topLeftCorner<2, 2>());
        }
        out.marks.push_back(std::move(plan));
    }
    for (const ProveSetup& setup : answer.setups) {
        if (!setup.is_placed) continue;
        const std::size_t number = out.stations.size();
        out.stations.push_back({setup.station, setup.pose.position_m.x(), setup.pose.position_m.y(),
                                prove_ellipse_95(setup.pose.covariance.topLeftCorner<2, 2>())});
        for (const ProveSight& sight : setup.sights) {
            const auto mark = mark_at.find(sight.target);
            if (!sight.used || mark == mark_at.end()) continue;
            out.sights.push_back({number, mark->second,
                                  sight.purpose == "check" ? drawing::PlanSightKind::check
                                                           : drawing::PlanSightKind::control});
        }
    }
    std::vector<const ProvePoint*> laid(answer.points.size(), nullptr);
    for (const ProvePoint& point : answer.laid) laid[point.point] = &point;
    for (std::size_t p = 0; p < answer.points.size(); ++p) {
        const frame::DesignPoint& design = answer.points[p].design;
        drawing::PlanPoint point{design.name, design.east_m, design.north_m,
                                 drawing::PlanWord::to_lay, std::nullopt};
        if (laid[p] != nullptr) {
            point.word = internal::plan_word(laid[p]->verdict.word);
            if (laid[p]->verdict.is_judged) point.probability = laid[p]->verdict.probability;
        }
        out.points.push_back(std::move(point));
    }
    for (const frame::GridLine& line : answer.grid.lines())
        out.grid_lines.push_back(
            {line.name, line.start_m.x(), line.start_m.y(), line.end_m.x(), line.end_m.y()});
    return drawing::draw_plan_svg(out);
}

}  // namespace layproof::acts
