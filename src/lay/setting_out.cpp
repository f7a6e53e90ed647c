#include "lay/setting_out.hpp"

#include <algorithm>
#include <cmath>

#include "frame/polar.hpp"
#include "measure/angle.hpp"
#include "station/observations.hpp"

namespace layproof::lay {
namespace {

constexpr double kShortestAim_m = 0.1;
constexpr double kOnGrade_m = 0.0005;

}  // namespace

std::string_view to_word(Earthwork earthwork) {
    switch (earthwork) {
        case Earthwork::on_grade:
            return "on grade";
        case Earthwork::cut:
            return "cut";
        case Earthwork::fill:
            return "fill";
    }
    return "on grade";
}

CutFill cut_fill(double design_height_m, double ground_height_m) {
    const double up = design_height_m - ground_height_m;
    if (!(std::abs(up) >= kOnGrade_m)) return {};
    return {up > 0.0 ? Earthwork::fill : Earthwork::cut, std::abs(up)};
}

std::optional<SettingOut> setting_out(const SettingOutStation& station,
                                      const frame::DesignPoint& point, const BuildingGrid& grid,
                                      const measure::LengthStyle& style,
                                      std::optional<double> ground_height_m) {
    const Eigen::Vector2d target(point.east_m, point.north_m);
    if (!target.allFinite() || !station.pose.position_m.allFinite() ||
        !std::isfinite(station.pose.orientation_rad) || !std::isfinite(station.rod_height_m) ||
        !std::isfinite(station.refraction_k) ||
        !(station.scale_factor > 0.0 && std::isfinite(station.scale_factor))) {
        return std::nullopt;
    }
    const Eigen::Vector2d from = station.pose.position_m.head<2>();
    SettingOut out;
    out.point = point.name;
    const double plan = frame::distance(from, target);
    out.at_instrument = plan < kShortestAim_m;
    out.azimuth_rad = frame::azimuth(from, target);
    out.horizontal_m = plan / station.scale_factor;
    if (!out.at_instrument) {
        out.direction_rad = measure::wrap_0_2pi(out.azimuth_rad - station.pose.orientation_rad);
    }
    if (point.height_m && std::isfinite(*point.height_m)) {
        if (station.pose.has_height) {
            out.height_difference_m = *point.height_m - station.pose.position_m.z();
            if (!out.at_instrument) {
                const station::SightLine line = station::sight_line(
                    {target.x() - from.x(), target.y() - from.y(), *out.height_difference_m},
                    station.rod_height_m, station.scale_factor,
                    station::bend_of(station.refraction_k), true);
                out.zenith_rad = std::atan2(line.ground_m, line.rise_m);
                out.slope_m = line.slope_m;
            }
        }
        if (ground_height_m && std::isfinite(*ground_height_m)) {
            out.earthwork = cut_fill(*point.height_m, *ground_height_m);
        }
    }
    out.grid = grid.position(target, style);
    out.offsets = grid.offsets(target);
    return out;
}

}  // namespace layproof::lay
