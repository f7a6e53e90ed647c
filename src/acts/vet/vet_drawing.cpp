#include <fmt/format.h>
#include <algorithm>

#include "acts/shared/plan_word.hpp"
#include "acts/vet/vet.hpp"
#include "drawing/svg_plan.hpp"
#include "frame/ellipse.hpp"

namespace layproof::acts {

/// Marks stand twice: as marks with their misfit, and as points with their word.
std::string to_svg(const VetAnswer& answer) {
    drawing::PlanDrawing out;
    out.style = answer.style;
    out.title = fmt::format("Control: {}", station::to_word(answer.verdict.word));
    out.job_lines = {answer.verdict.because, answer.verdict.next};
    out.cautions = {"Contractor's layout record, not a survey.",
                    "Contract documents, local codes and the licensed surveyor decide."};
    for (const vet::MarkVerdict& m : answer.figures.marks) {
        if (!m.east_m || !m.north_m) continue;
        drawing::PlanMark mark;
        mark.name = m.name;
        mark.east_m = *m.east_m;
        mark.north_m = *m.north_m;
        mark.used = m.measured > 0;
        if (m.off_east_m && m.off_north_m && m.detectable_m) {
            mark.misfit = drawing::PlanVector{*m.off_east_m, *m.off_north_m};
            const frame::ErrorEllipse e = frame::error_ellipse(m.off_covariance, frame::kEllipse95);
            mark.ellipse_95 = drawing::PlanEllipse{e.semi_major_m, e.semi_minor_m, e.azimuth_rad};
        }
        out.marks.push_back(std::move(mark));
        out.points.push_back(
            {"", *m.east_m, *m.north_m, internal::plan_word(m.word), m.probability});
    }
    return drawing::draw_plan_svg(out);
}

}  // namespace layproof::acts
