#include <fmt/format.h>

#include "acts/plan_internal.hpp"
#include "acts/station.hpp"
#include "frame/ellipse.hpp"

namespace layproof::acts {
namespace {

record::PlanEllipse ellipse_95(const Eigen::Matrix2d& covariance) {
    const frame::ErrorEllipse e = frame::error_ellipse(covariance, frame::kEllipse95);
    return {e.semi_major_m, e.semi_minor_m, e.azimuth_rad};
}

}  // namespace

record::PlanWord internal::plan_word(station::Word word) {
    switch (word) {
        case station::Word::proven:
            return record::PlanWord::proven;
        case station::Word::in_doubt:
            return record::PlanWord::in_doubt;
        case station::Word::fails:
            return record::PlanWord::fails;
    }
    return record::PlanWord::in_doubt;
}

record::PlanDrawing internal::plan_of(const StationReport& report,
                                      const measure::LengthStyle& style) {
    record::PlanDrawing out;
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
        record::PlanMark plan;
        plan.name = mark.name;
        plan.east_m = *mark.east_m;
        plan.north_m = *mark.north_m;
        plan.used = mark.used;
        if (mark.off_east_m && mark.off_north_m) {
            plan.misfit = record::PlanVector{*mark.off_east_m, *mark.off_north_m};
            plan.ellipse_95 = ellipse_95(mark.off_covariance.topLeftCorner<2, 2>());
        }
        out.marks.push_back(std::move(plan));
    }
    for (const SightReport& sight : report.sights)
        if (drawn[sight.mark])
            out.sights.push_back(
                {0, *drawn[sight.mark],
                 sight.used ? record::PlanSightKind::control : record::PlanSightKind::check});
    for (const PointReport& point : report.points)
        out.points.push_back({point.target.name, point.target.east_m, point.target.north_m,
                              plan_word(point.forecast.word), point.forecast.probability});
    return out;
}

std::vector<std::string> to_svg(const StationAnswer& answer) {
    std::vector<std::string> out;
    for (const StationReport& report : answer.stations)
        out.push_back(record::draw_plan_svg(internal::plan_of(report, answer.style)));
    return out;
}

}  // namespace layproof::acts
