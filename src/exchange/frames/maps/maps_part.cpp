// The part layproof_maps.so: map projections by PROJ with its data base.

#include <proj.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "exchange/frames/projection.hpp"
#include "exchange/text/text.hpp"
#include "late/part.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

struct FreePj {
    void operator()(PJ* p) const { proj_destroy(p); }
};
using PjPtr = std::unique_ptr<PJ, FreePj>;

struct FreeContext {
    void operator()(PJ_CONTEXT* c) const { proj_context_destroy(c); }
};
using ContextPtr = std::unique_ptr<PJ_CONTEXT, FreeContext>;

void say_nothing(void*, int, const char*) {}

Place nowhere() {
    return {"coordinate system", 1, 1};
}

/// The projected part of what was named; null when there is none.
PjPtr projected_part(PJ_CONTEXT* context, PjPtr crs) {
    constexpr int kMostWraps = 8;
    for (int i = 0; crs && i < kMostWraps; ++i) {
        const PJ_TYPE type = proj_get_type(crs.get());
        if (type == PJ_TYPE_PROJECTED_CRS) return crs;
        if (type == PJ_TYPE_COMPOUND_CRS) {
            crs.reset(proj_crs_get_sub_crs(context, crs.get(), 0));
        } else if (type == PJ_TYPE_BOUND_CRS) {
            crs.reset(proj_get_source_crs(context, crs.get()));
        } else {
            return nullptr;
        }
    }
    return nullptr;
}

/// Of the first axis, to metres or radians; 0 when PROJ does not say.
double axis_unit(PJ_CONTEXT* context, const PJ* crs) {
    const PjPtr system(proj_crs_get_coordinate_system(context, crs));
    double factor = 0.0;
    if (!system || proj_cs_get_axis_info(context, system.get(), 0, nullptr, nullptr, nullptr,
                                         &factor, nullptr, nullptr, nullptr) == 0) {
        return 0.0;
    }
    return factor;
}

struct ProjProjection final : internal::Projection {
    Result<Eigen::Vector2d> to_grid(const Geographic& position) const override;
    Result<Geographic> to_geographic(const Eigen::Vector2d& grid_m) const override;

    ContextPtr context;
    PjPtr crs;
    PjPtr forward;  ///< longitude, latitude in the geographic system's unit to east, north
    double radians_per_unit = measure::kRadPerDeg;
};

Result<std::unique_ptr<internal::Projection>> open(std::string_view definition) {
    auto state = std::make_unique<ProjProjection>();
    state->context.reset(proj_context_create());
    PJ_CONTEXT* context = state->context.get();
    if (context == nullptr) {
        return Refusal{ErrorCode::cannot_read, nowhere(), "no memory for PROJ", "some memory"};
    }
    proj_log_func(context, nullptr, say_nothing);
    proj_context_set_enable_network(context, 0);
    constexpr std::size_t kLongest = 20'000;
    std::string text(trimmed(definition.substr(0, kLongest)));
    if (text.find("+proj=") != std::string::npos && text.find("type=crs") == std::string::npos) {
        text += " +type=crs";
    }
    PjPtr any(text.empty() ? nullptr : proj_create(context, text.c_str()));
    if (!any) {
        return Refusal{ErrorCode::word_unknown, nowhere(), in_quotes(definition),
                       "a coordinate system such as EPSG:25832"};
    }
    state->crs = projected_part(context, std::move(any));
    if (!state->crs) {
        return Refusal{ErrorCode::format_unknown, nowhere(), in_quotes(definition),
                       "a projected coordinate system, with east and north"};
    }
    const PjPtr geographic(proj_crs_get_geodetic_crs(context, state->crs.get()));
    PjPtr transform(geographic ? proj_create_crs_to_crs_from_pj(context, geographic.get(),
                                                                state->crs.get(), nullptr, nullptr)
                               : nullptr);
    if (transform) {
        state->forward.reset(proj_normalize_for_visualization(context, transform.get()));
    }
    const PjPtr ellipsoid(proj_get_ellipsoid(context, state->crs.get()));
    const bool has_shape = ellipsoid && proj_ellipsoid_get_parameters(
                                            context, ellipsoid.get(), &state->semi_major_m, nullptr,
                                            nullptr, &state->inverse_flattening) != 0;
    state->metres_per_unit = axis_unit(context, state->crs.get());
    state->radians_per_unit = geographic ? axis_unit(context, geographic.get()) : 0.0;
    if (!state->forward || !has_shape || !(state->metres_per_unit > 0.0) ||
        !(state->radians_per_unit > 0.0)) {
        return Refusal{ErrorCode::format_unknown, nowhere(), in_quotes(definition),
                       "a coordinate system that can be computed without further data"};
    }
    const char* name = proj_get_name(state->crs.get());
    state->name = name == nullptr ? text : name;
    return std::unique_ptr<internal::Projection>(std::move(state));
}

Result<Eigen::Vector2d> ProjProjection::to_grid(const Geographic& position) const {
    const bool is_sane = std::isfinite(position.longitude_rad) &&
                         std::isfinite(position.latitude_rad) &&
                         std::abs(position.latitude_rad) <= measure::kPi / 2.0;
    PJ_COORD c = proj_coord(position.longitude_rad / radians_per_unit,
                            position.latitude_rad / radians_per_unit, 0.0, HUGE_VAL);
    if (is_sane) c = proj_trans(forward.get(), PJ_FWD, c);
    if (!is_sane || !std::isfinite(c.xy.x) || !std::isfinite(c.xy.y) || c.xy.x == HUGE_VAL) {
        return Refusal{ErrorCode::out_of_range, nowhere(),
                       "a position where the projection is not defined", "one inside its zone"};
    }
    return Eigen::Vector2d(c.xy.x * metres_per_unit, c.xy.y * metres_per_unit);
}

Result<Geographic> ProjProjection::to_geographic(const Eigen::Vector2d& grid_m) const {
    PJ_COORD c =
        proj_coord(grid_m.x() / metres_per_unit, grid_m.y() / metres_per_unit, 0.0, HUGE_VAL);
    const bool is_sane = grid_m.allFinite();
    if (is_sane) c = proj_trans(forward.get(), PJ_INV, c);
    if (!is_sane || !std::isfinite(c.xy.x) || !std::isfinite(c.xy.y) || c.xy.x == HUGE_VAL) {
        return Refusal{ErrorCode::out_of_range, nowhere(),
                       "coordinates where the projection is not defined", "some inside its zone"};
    }
    return Geographic{c.xy.x * radians_per_unit, c.xy.y * radians_per_unit};
}

std::vector<std::string> systems_at(const Geographic& place, std::size_t most) {
    std::vector<std::string> out;
    const ContextPtr context(proj_context_create());
    if (!context || !std::isfinite(place.longitude_rad) || !std::isfinite(place.latitude_rad))
        return out;
    proj_log_func(context.get(), nullptr, say_nothing);
    proj_context_set_enable_network(context.get(), 0);
    const std::unique_ptr<PROJ_CRS_LIST_PARAMETERS, void (*)(PROJ_CRS_LIST_PARAMETERS*)> asked(
        proj_get_crs_list_parameters_create(), proj_get_crs_list_parameters_destroy);
    if (!asked) return out;
    const PJ_TYPE projected = PJ_TYPE_PROJECTED_CRS;
    const double longitude = place.longitude_rad / measure::kRadPerDeg;
    const double latitude = place.latitude_rad / measure::kRadPerDeg;
    asked->types = &projected;
    asked->typesCount = 1;
    asked->crs_area_of_use_contains_bbox = 1;
    asked->bbox_valid = 1;
    asked->west_lon_degree = asked->east_lon_degree = longitude;
    asked->south_lat_degree = asked->north_lat_degree = latitude;
    int count = 0;
    PROJ_CRS_INFO** const list =
        proj_get_crs_info_list_from_database(context.get(), "EPSG", asked.get(), &count);
    if (list == nullptr) return out;
    std::vector<int> codes;
    for (int i = 0; i < count; ++i) {
        if (list[i]->deprecated != 0 || list[i]->code == nullptr) continue;
        const std::string_view code = list[i]->code;
        int number = 0;
        bool is_number = !code.empty() && code.size() < 8;
        for (const char c : code) {
            is_number = is_number && c >= '0' && c <= '9';
            if (is_number) number = 10 * number + (c - '0');
        }
        if (is_number) codes.push_back(number);
    }
    proj_crs_info_list_destroy(list);
    std::sort(codes.begin(), codes.end());
    for (const int code : codes) {
        if (out.size() >= most) break;
        out.push_back("EPSG:" + std::to_string(code));
    }
    return out;
}

}  // namespace
}  // namespace layproof::exchange

LAYPROOF_PART_ENTRY const layproof::late::Part<layproof::exchange::internal::MapsPart>
    layproof_maps_part;
const layproof::late::Part<layproof::exchange::internal::MapsPart> layproof_maps_part{
    layproof::late::made_for(), {layproof::exchange::open, layproof::exchange::systems_at}};
