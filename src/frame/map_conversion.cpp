#include "frame/map_conversion.hpp"

#include <cmath>
#include <string>

namespace layproof::frame {
namespace {

constexpr double kSameScale = 1e-7;
constexpr double kLargestGridFactor = 1e-3;
/// Unit vectors are written with few digits by some programs.
constexpr double kUnitLength = 1e-3;

bool near_one(double value, double within) {
    return std::abs(value - 1.0) <= within;
}

void read_rotation(const MapConversion& c, ResolvedConversion& out) {
    if (c.x_axis_abscissa.has_value() != c.x_axis_ordinate.has_value()) {
        out.warnings.emplace_back(
            "only one of XAxisAbscissa and XAxisOrdinate is given; both are needed for a turn");
        out.meaning = ScaleMeaning::unexplained;
        return;
    }
    if (!c.x_axis_abscissa) return;
    const double x = *c.x_axis_abscissa;
    const double y = *c.x_axis_ordinate;
    const double length = std::hypot(x, y);
    if (!std::isfinite(length) || length < 1e-9) {
        out.warnings.emplace_back("XAxisAbscissa and XAxisOrdinate are both zero");
        out.meaning = ScaleMeaning::unexplained;
        return;
    }
    if (!near_one(length, kUnitLength)) {
        out.warnings.emplace_back(
            "XAxisAbscissa and XAxisOrdinate are no unit vector; they may hold an angle in "
            "degrees: check two known points");
    }
    out.rotation_rad = std::atan2(y, x);
}

void read_scale(const MapConversion& c, double map_unit, ResolvedConversion& out) {
    const double ratio = c.model_metres_per_unit / map_unit;
    const double scale = c.is_rigid ? ratio : c.scale.value_or(1.0);
    double factor = 1.0;
    if (near_one(scale / ratio, kSameScale)) {
        out.meaning = ScaleMeaning::units;
    } else if (near_one(scale, kSameScale)) {
        out.meaning = ScaleMeaning::units_left;
        out.warnings.emplace_back(
            "model and map have different units and Scale does not change them; they were changed "
            "all the same");
    } else if (near_one(scale / ratio, kLargestGridFactor)) {
        factor = scale / ratio;
        out.meaning = near_one(ratio, kSameScale) ? ScaleMeaning::grid_factor : ScaleMeaning::both;
        out.warnings.emplace_back(
            "Scale holds a grid factor, which IFC 4 means for units only; it was used in plan and "
            "not for heights");
    } else if (near_one(scale, kLargestGridFactor)) {
        factor = scale;
        out.meaning = ScaleMeaning::grid_factor;
        out.warnings.emplace_back(
            "Scale holds a grid factor and does not change units, which differ; units were changed "
            "and the factor used in plan");
    } else {
        out.meaning = ScaleMeaning::unexplained;
        out.warnings.emplace_back(
            "Scale is neither the ratio of the units nor near 1; nothing was converted with it");
        return;
    }
    out.factor_x = factor * c.factor_x.value_or(1.0);
    out.factor_y = factor * c.factor_y.value_or(1.0);
    out.factor_z = c.factor_z.value_or(1.0);
}

}  // namespace

ResolvedConversion resolve(const MapConversion& c) {
    ResolvedConversion out;
    const double map_unit = c.map_metres_per_unit.value_or(c.model_metres_per_unit);
    const double factors[] = {c.factor_x.value_or(1.0), c.factor_y.value_or(1.0),
                              c.factor_z.value_or(1.0)};
    bool is_sound = std::isfinite(c.eastings) && std::isfinite(c.northings) &&
                    std::isfinite(c.orthogonal_height) && c.model_metres_per_unit > 0.0 &&
                    map_unit > 0.0 && std::isfinite(c.scale.value_or(1.0)) &&
                    c.scale.value_or(1.0) > 0.0;
    for (const double f : factors) is_sound = is_sound && f > 0.0 && std::isfinite(f);
    if (!is_sound) {
        out.warnings.emplace_back("the map conversion holds numbers that cannot be");
        return out;
    }
    out.east_m = c.eastings * map_unit;
    out.north_m = c.northings * map_unit;
    out.height_m = c.orthogonal_height * map_unit;
    read_scale(c, map_unit, out);
    read_rotation(c, out);
    if (!c.map_metres_per_unit && c.model_metres_per_unit != 1.0) {
        out.warnings.emplace_back(
            "the map has no unit of its own, so Eastings and Northings were read in the model's; "
            "some programs mean metres");
    }
    if (c.has_world_offset) {
        out.warnings.emplace_back(
            "the model's world coordinate system has an offset of its own, which programs read in "
            "different ways; it was not used: check one known point");
    }
    return out;
}

Eigen::Vector3d ResolvedConversion::to_map(const Eigen::Vector3d& p) const {
    const double c = std::cos(rotation_rad);
    const double s = std::sin(rotation_rad);
    const double x = factor_x * p.x();
    const double y = factor_y * p.y();
    return {x * c - y * s + east_m, x * s + y * c + north_m, factor_z * p.z() + height_m};
}

Eigen::Vector3d ResolvedConversion::to_model(const Eigen::Vector3d& p) const {
    const double c = std::cos(rotation_rad);
    const double s = std::sin(rotation_rad);
    const double e = p.x() - east_m;
    const double n = p.y() - north_m;
    return {(e * c + n * s) / factor_x, (n * c - e * s) / factor_y, (p.z() - height_m) / factor_z};
}

}  // namespace layproof::frame
