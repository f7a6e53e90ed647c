#include <utility>

#include "base/index.hpp"
#include "network/readings.hpp"

namespace layproof::network {
namespace {

void exchange_axes(NetworkInput& input) {
    for (frame::Mark& mark : input.marks) {
        std::swap(mark.east_m, mark.north_m);
        std::swap(mark.sd_east_m, mark.sd_north_m);
    }
}

void scale_list(NetworkInput& input, double ratio) {
    for (frame::Mark& mark : input.marks)
        for (std::optional<double>* one : {&mark.east_m, &mark.north_m, &mark.height_m})
            if (*one) **one *= ratio;
}

void exchange_names(NetworkInput& input, const Reading& reading) {
    const auto other = [&](std::string& name) {
        if (name == reading.booked) {
            name = reading.meant;
        } else if (name == reading.meant) {
            name = reading.booked;
        }
    };
    if (reading.setup < 0) {
        for (frame::Mark& mark : input.marks) other(mark.name);
        return;
    }
    if (at(reading.setup) >= input.setups.size()) return;
    station::StationInput& setup = input.setups[at(reading.setup)];
    for (measure::Sight& sight : setup.sights) other(sight.target);
    other(setup.setup.mark);
}

void rename_sight(NetworkInput& input, const Reading& reading) {
    if (reading.setup < 0 || at(reading.setup) >= input.setups.size()) return;
    station::StationInput& setup = input.setups[at(reading.setup)];
    if (reading.sights.empty()) setup.setup.mark = reading.meant;
    for (const int sight : reading.sights)
        if (sight >= 0 && at(sight) < setup.sights.size())
            setup.sights[at(sight)].target = reading.meant;
}

void shift_marks(NetworkInput& input, const Reading& reading) {
    const bool is_known = reading.kind == ReadingKind::older_revision || reading.is_one_digit;
    for (const int m : reading.marks) {
        if (m < 0 || at(m) >= input.marks.size()) continue;
        frame::Mark& mark = input.marks[at(m)];
        if (is_known) {
            if (mark.east_m) *mark.east_m += reading.shift_m.x();
            if (mark.north_m) *mark.north_m += reading.shift_m.y();
            if (mark.height_m) *mark.height_m += reading.shift_m.z();
        } else if (reading.shift_m.z() != 0.0) {
            mark.height_m.reset();
        } else {
            mark.east_m.reset();
            mark.north_m.reset();
        }
    }
}

}  // namespace

NetworkInput as_read(const NetworkInput& input, std::span<const Reading> readings) {
    NetworkInput out = input;
    for (const Reading& one : readings) switch (one.kind) {
            case ReadingKind::axes_exchanged:
                exchange_axes(out);
                break;
            case ReadingKind::lengths_in_feet:
                scale_list(out, one.ratio);
                break;
            case ReadingKind::names_swapped:
            case ReadingKind::mirror_possible:
                exchange_names(out, one);
                break;
            case ReadingKind::wrong_name:
                rename_sight(out, one);
                break;
            case ReadingKind::older_revision:
            case ReadingKind::mark_mistyped:
                shift_marks(out, one);
                break;
            case ReadingKind::foot_kinds_mixed:
                break;
        }
    return out;
}

}  // namespace layproof::network
