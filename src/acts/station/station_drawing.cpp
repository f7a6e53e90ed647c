#include <fmt/format.h>

#include "acts/shared/plan_word.hpp"
#include "acts/station/station.hpp"
#include "acts/station/station_plan.hpp"
#include "frame/ellipse.hpp"

namespace layproof::acts {
namespace {

drawing::PlanEllipse ellipse_95(const Eigen::Matrix2d& covariance) {
    const frame::ErrorEllipse e = frame::error_ellipse(covariance, frame::kEllipse95);
    return {e.semi_major_m, e.semi_minor_m, e.azimuth_rad};
}

}  // namespace

drawing::PlanDrawing internal::plan_of(const StationReport& report,
                                       const measure::LengthStyle& style) {
    drawing::PlanDrawing out;
    out.style = style;
    out.title =
        fmt::format("Station {}: {}", report.station, station::to_word(report.verdict.word));
    out.job_lines = {report.verdict.because, report.verdict.next};
    out.cautions = {"Contractor's layout record, not a survey.",
                    "Contract documents, local codes and the licensed surveyor decide."};
    out.stations.push_back({report.station, report.pose.position_m.x(), report.pose.position_m.y(),
                            ellipse_95(report.pose.covariance.topLeftCorner<2, 2>())});
    std::vector<std::optional<std::size_t>> drawn(report.marks.size());
    for (std::size_t m = 0; m < report.marks.size(); ++m) {
        const MarkReport& mark = report.marks[m];
        if (!mark.east_m || !mark.north_m) continue;
        drawn[m] = out.marks.size();
        drawing::PlanMark plan;
        plan.name = mark.name;
        plan.east_m = *mark.east_m;
        plan.north_m = *mark.north_m;
        plan.used = mark.used;
        if (mark.off_east_m && mark.off_north_m) {
            plan.misfit = drawing::PlanVector{*mark.off_east_m, *mark.off_north_m};
            plan.ellipse_95 = ellipse_95(mark.off_covariance.topLeftCorner<2, 2>());
        }
        out.marks.push_back(std::move(plan));
    }
    for (const SightReport& sight : report.sights)
        if (drawn[sight.mark])
            out.sights.push_back(
                {0, *drawn[sight.mark],
                 sight.used ? drawing::PlanSightKind::control : drawing::PlanSightKind::check});
    for (const PointReport& point : report.points)
        out.points.push_back({point.target.name, point.target.east_m, point.target.north_m,
                              plan_word(point.forecast.word), point.forecast.probability});
    return out;
}

std::vector<std::string> to_svg(const StationAnswer& answer) {
    std::vector<std::string> out;
    for (const StationReport& report : answer.stations)
        out.push_back(drawing::draw_plan_svg(internal::plan_of(report, answer.style)));
    return out;
}

}  // namespace layproof::acts
