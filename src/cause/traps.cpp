#include "cause/traps.hpp"

#include <algorithm>
#include <cmath>

#include "frame/rigid.hpp"
#include "station/observations.hpp"

namespace layproof::cause {
namespace {

constexpr double kGrossMisfit_m = 0.1;
constexpr double kMuchBetter = 20.0;
/// And must fit: swapped names of a nearly symmetric triangle come near a mirror image.
constexpr double kFits_m = 0.05;
constexpr double kFeetInMetre = 1.0 / measure::kMetresPerFoot;
constexpr double kScaleNear = 0.01;
constexpr double kShiftMatters_m = 0.001;

struct PlanVectors {
    std::vector<Eigen::Vector2d> local;
    std::vector<Eigen::Vector2d> marks;
    std::size_t names = 0;
};

PlanVectors plan_vectors(const station::Prepared& setup) {
    PlanVectors out;
    std::vector<bool> seen(setup.marks.size(), false);
    for (const station::ControlSight& sight : setup.sights) {
        const auto& r = sight.reduced;
        const station::UsedMark& mark = setup.marks[static_cast<std::size_t>(sight.mark)];
        if (!sight.used || !mark.has_plan || !r.has_direction || !r.has_distance ||
            !(r.has_zenith || r.distance_is_horizontal))
            continue;
        const double plan = setup.scale_factor * station::ground_distance(r);
        out.local.emplace_back(plan * std::sin(r.direction_rad), plan * std::cos(r.direction_rad));
        out.marks.emplace_back(mark.given_m.head<2>());
        if (!seen[static_cast<std::size_t>(sight.mark)]) ++out.names;
        seen[static_cast<std::size_t>(sight.mark)] = true;
    }
    return out;
}

double rms(const frame::PlanFit& fit, std::size_t n) {
    return std::sqrt(fit.weighted_square_sum / static_cast<double>(n));
}

}  // namespace

std::string_view to_word(TrapKind kind) {
    switch (kind) {
        case TrapKind::axes_exchanged:
            return "axes-exchanged";
        case TrapKind::lengths_in_feet:
            return "lengths-in-feet";
        case TrapKind::mirror_possible:
            return "mirror-possible";
        case TrapKind::foot_kinds_mixed:
            return "foot-kinds-mixed";
        case TrapKind::foot_kind_unproven:
            return "foot-kind-unproven";
    }
    return "unknown";
}

std::vector<Trap> traps_of_sights(const station::Prepared& setup) {
    std::vector<Trap> out;
    if (setup.occupied_mark >= 0) return out;
    const PlanVectors v = plan_vectors(setup);
    if (v.names == 2) out.push_back({TrapKind::mirror_possible, false, 0.0, 1.0});
    if (v.names < 2) return out;
    const std::size_t n = v.local.size();
    const double as_given = rms(frame::rigid_fit(v.local, v.marks), n);
    if (as_given < kGrossMisfit_m) return out;
    if (v.names >= 3) {
        std::vector<Eigen::Vector2d> exchanged;
        for (const Eigen::Vector2d& p : v.marks) exchanged.emplace_back(p.y(), p.x());
        const double mirrored = rms(frame::rigid_fit(v.local, exchanged), n);
        if (mirrored * kMuchBetter < as_given && mirrored < kFits_m)
            out.push_back({TrapKind::axes_exchanged, true, as_given, 1.0});
    }
    const frame::PlanFit scaled = frame::similarity_fit(v.local, v.marks);
    // scale carries measured vectors to the sheet's
    const double ratio = scaled.scale > 0.0 ? 1.0 / scaled.scale : 0.0;
    const bool near_foot = std::abs(ratio / kFeetInMetre - 1.0) < kScaleNear ||
                           std::abs(ratio * kFeetInMetre - 1.0) < kScaleNear;
    const double with_scale = rms(scaled, n);
    if (near_foot &&
        (v.names == 2 || (with_scale * kMuchBetter < as_given && with_scale < kFits_m)))
        out.push_back({TrapKind::lengths_in_feet, v.names > 2, as_given, ratio});
    return out;
}

std::vector<Trap> traps_of_units(std::optional<measure::LengthUnit> marks,
                                 std::optional<measure::LengthUnit> points,
                                 double largest_coordinate_m) {
    using measure::LengthUnit;
    std::vector<Trap> out;
    const auto is_foot = [](std::optional<LengthUnit> unit) {
        return unit == LengthUnit::foot || unit == LengthUnit::us_foot;
    };
    const double shift = std::abs(largest_coordinate_m) *
                         (1.0 - measure::kMetresPerFoot / measure::kMetresPerUsFoot);
    if (!(shift > kShiftMatters_m)) return out;
    if (is_foot(marks) && is_foot(points) && *marks != *points) {
        out.push_back({TrapKind::foot_kinds_mixed, true, shift, 1.0});
    } else if (is_foot(marks)) {
        out.push_back({TrapKind::foot_kind_unproven, false, shift, 1.0});
    }
    return out;
}

}  // namespace layproof::cause
