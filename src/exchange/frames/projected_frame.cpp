#include "exchange/frames/projected_frame.hpp"

#include <proj.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "exchange/text/text.hpp"
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

}  // namespace

struct ProjectedFrame::State {
    ContextPtr context;
    PjPtr crs;
    PjPtr forward;  ///< longitude, latitude in the geographic system's unit to east, north
    std::string name;
    double metres_per_unit = 1.0;
    double radians_per_unit = measure::kRadPerDeg;
    double semi_major_m = 0.0;
    double inverse_flattening = 0.0;
};

double ProjectionFactors::point_scale() const {
    return std::sqrt(meridian_scale * parallel_scale);
}

bool ProjectionFactors::is_conformal() const {
    return std::abs(meridian_scale - parallel_scale) < 1e-7;
}

ProjectedFrame::ProjectedFrame(std::unique_ptr<State> state) : state_(std::move(state)) {}
ProjectedFrame::ProjectedFrame(ProjectedFrame&&) noexcept = default;
ProjectedFrame& ProjectedFrame::operator=(ProjectedFrame&&) noexcept = default;
ProjectedFrame::~ProjectedFrame() = default;

const std::string& ProjectedFrame::name() const {
    return state_->name;
}
double ProjectedFrame::metres_per_unit() const {
    return state_->metres_per_unit;
}
double ProjectedFrame::semi_major_m() const {
    return state_->semi_major_m;
}
double ProjectedFrame::inverse_flattening() const {
    return state_->inverse_flattening;
}

Result<ProjectedFrame> ProjectedFrame::open(std::string_view definition) {
    auto state = std::make_unique<State>();
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
    return ProjectedFrame(std::move(state));
}

Result<Eigen::Vector2d> ProjectedFrame::to_grid(const Geographic& position) const {
    const bool is_sane = std::isfinite(position.longitude_rad) &&
                         std::isfinite(position.latitude_rad) &&
                         std::abs(position.latitude_rad) <= measure::kPi / 2.0;
    PJ_COORD c = proj_coord(position.longitude_rad / state_->radians_per_unit,
                            position.latitude_rad / state_->radians_per_unit, 0.0, HUGE_VAL);
    if (is_sane) c = proj_trans(state_->forward.get(), PJ_FWD, c);
    if (!is_sane || !std::isfinite(c.xy.x) || !std::isfinite(c.xy.y) || c.xy.x == HUGE_VAL) {
        return Refusal{ErrorCode::out_of_range, nowhere(),
                       "a position where the projection is not defined", "one inside its zone"};
    }
    return Eigen::Vector2d(c.xy.x * state_->metres_per_unit, c.xy.y * state_->metres_per_unit);
}

Result<Geographic> ProjectedFrame::to_geographic(const Eigen::Vector2d& grid_m) const {
    PJ_COORD c = proj_coord(grid_m.x() / state_->metres_per_unit,
                            grid_m.y() / state_->metres_per_unit, 0.0, HUGE_VAL);
    const bool is_sane = grid_m.allFinite();
    if (is_sane) c = proj_trans(state_->forward.get(), PJ_INV, c);
    if (!is_sane || !std::isfinite(c.xy.x) || !std::isfinite(c.xy.y) || c.xy.x == HUGE_VAL) {
        return Refusal{ErrorCode::out_of_range, nowhere(),
                       "coordinates where the projection is not defined", "some inside its zone"};
    }
    return Geographic{c.xy.x * state_->radians_per_unit, c.xy.y * state_->radians_per_unit};
}

/// Differences of fourth order over ±step and ±2 step. proj_factors is not asked: PROJ 9.1 gives it
/// in a unit of its own for systems in feet, where its scale is millions.
Result<ProjectionFactors> ProjectedFrame::factors(const Geographic& position) const {
    constexpr double kStep_rad = 1e-4;
    constexpr double kNearestPole_rad = 1e-3;
    const bool is_sane = std::isfinite(position.longitude_rad) &&
                         std::abs(position.latitude_rad) < measure::kPi / 2.0 - kNearestPole_rad;
    if (!is_sane) {
        return Refusal{ErrorCode::out_of_range, nowhere(),
                       "a position where the projection is not defined", "one inside its zone"};
    }
    std::array<Eigen::Vector2d, 2> slope;  // along the meridian, along the parallel
    for (const std::size_t along : {0U, 1U}) {
        slope[along].setZero();
        for (const auto& [steps, weight] :
             {std::pair{1, 8.0}, std::pair{-1, -8.0}, std::pair{2, -1.0}, std::pair{-2, 1.0}}) {
            Geographic at = position;
            (along == 0 ? at.latitude_rad : at.longitude_rad) += steps * kStep_rad;
            const auto grid = to_grid(at);
            if (!grid) return grid.refusal();
            slope[along] += weight / (12.0 * kStep_rad) * *grid;
        }
    }
    const double f = state_->inverse_flattening > 0.0 ? 1.0 / state_->inverse_flattening : 0.0;
    const double e2 = f * (2.0 - f);
    const double sine = std::sin(position.latitude_rad);
    const double w2 = 1.0 - e2 * sine * sine;
    const double across_m = state_->semi_major_m / std::sqrt(w2);
    const double along_m = across_m * (1.0 - e2) / w2;
    const double parallel_m = across_m * std::cos(position.latitude_rad);
    return ProjectionFactors{slope[0].norm() / along_m, slope[1].norm() / parallel_m,
                             -std::atan2(slope[0].x(), slope[0].y())};
}

Result<frame::GridFactors> ProjectedFrame::site_factors(const Eigen::Vector2d& grid_m,
                                                        double ellipsoid_height_m) const {
    const auto position = to_geographic(grid_m);
    if (!position) return position.refusal();
    return site_factors(*position, ellipsoid_height_m);
}

Result<frame::GridFactors> ProjectedFrame::site_factors(const Geographic& position,
                                                        double ellipsoid_height_m) const {
    const auto at = factors(position);
    if (!at) return at.refusal();
    const double radius = frame::gaussian_radius_m(state_->semi_major_m, state_->inverse_flattening,
                                                   position.latitude_rad);
    return frame::GridFactors{at->point_scale(),
                              frame::elevation_factor(radius, ellipsoid_height_m)};
}

std::vector<std::string> projected_systems_at(const Geographic& place, std::size_t most) {
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

}  // namespace layproof::exchange
