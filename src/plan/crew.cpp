#include "plan/crew.hpp"

namespace layproof::plan {

std::vector<ControlMark> control_marks(const std::vector<frame::Mark>& marks) {
    std::vector<ControlMark> out;
    for (const frame::Mark& mark : marks) {
        if (!mark.has_plan()) continue;
        ControlMark control;
        control.name = mark.name;
        control.at_m << *mark.east_m, *mark.north_m, mark.height_m.value_or(0.0);
        control.sd_m << mark.sd_east_m, mark.sd_north_m, mark.sd_height_m;
        control.has_height = mark.has_height();
        out.push_back(std::move(control));
    }
    return out;
}

}  // namespace layproof::plan
