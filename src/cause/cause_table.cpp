#include "cause/cause_table.hpp"

namespace layproof::cause {

double CauseTable::total() const {
    double sum = pairs;
    for (const CausePrior& prior : causes) sum += prior.frequency;
    return sum;
}

SizeKind size_kind(Cause cause) {
    switch (cause) {
        case Cause::nothing_wrong:
        case Cause::names_swapped:
        case Cause::wrong_name:
            return SizeKind::none;
        case Cause::mark_moved:
        case Cause::mark_height_changed:
        case Cause::rod_not_plumb:
        case Cause::rod_height_wrong:
        case Cause::rod_height_wrong_on_all:
        case Cause::prism_constant_wrong:
        case Cause::gross_distance:
            return SizeKind::length;
        case Cause::distance_scale_wrong:
            return SizeKind::ratio;
        case Cause::tripod_disturbed:
            return SizeKind::length_and_angle;
        case Cause::out_of_level:
        case Cause::vertical_index_wrong:
        case Cause::gross_direction:
        case Cause::gross_zenith:
            return SizeKind::angle;
    }
    return SizeKind::none;
}

}  // namespace layproof::cause
