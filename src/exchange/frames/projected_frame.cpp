#include "exchange/frames/projected_frame.hpp"

#include <array>
#include <cmath>
#include <memory>
#include <utility>

#include "exchange/frames/maps.hpp"
#include "exchange/frames/projection.hpp"
#include "late/part.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

Result<const internal::MapsPart*> maps() {
    return late::part<internal::MapsPart>("maps");
}

}  // namespace

double ProjectionFactors::point_scale() const {
    return std::sqrt(meridian_scale * parallel_scale);
}

bool ProjectionFactors::is_conformal() const {
    return std::abs(meridian_scale - parallel_scale) < 1e-7;
}

struct ProjectedFrame::State {
    std::unique_ptr<internal::Projection> projection;
};

ProjectedFrame::ProjectedFrame(std::unique_ptr<State> state) : state_(std::move(state)) {}
ProjectedFrame::ProjectedFrame(ProjectedFrame&&) noexcept = default;
ProjectedFrame& ProjectedFrame::operator=(ProjectedFrame&&) noexcept = default;
ProjectedFrame::~ProjectedFrame() = default;

const std::string& ProjectedFrame::name() const {
    return state_->projection->name;
}
double ProjectedFrame::metres_per_unit() const {
    return state_->projection->metres_per_unit;
}
double ProjectedFrame::semi_major_m() const {
    return state_->projection->semi_major_m;
}
double ProjectedFrame::inverse_flattening() const {
    return state_->projection->inverse_flattening;
}

Result<ProjectedFrame> ProjectedFrame::open(std::string_view definition) {
    const auto part = maps();
    if (!part) return part.refusal();
    auto projection = (*part)->open(definition);
    if (!projection) return projection.refusal();
    return ProjectedFrame(std::make_unique<State>(State{std::move(*projection)}));
}

Result<Eigen::Vector2d> ProjectedFrame::to_grid(const Geographic& position) const {
    return state_->projection->to_grid(position);
}

Result<Geographic> ProjectedFrame::to_geographic(const Eigen::Vector2d& grid_m) const {
    return state_->projection->to_geographic(grid_m);
}

/// Differences of fourth order over ±step and ±2 step. proj_factors is not asked: PROJ 9.1 gives it
/// in a unit of its own for systems in feet, where its scale is millions.
Result<ProjectionFactors> ProjectedFrame::factors(const Geographic& position) const {
    constexpr double kStep_rad = 1e-4;
    constexpr double kNearestPole_rad = 1e-3;
    const bool is_sane = std::isfinite(position.longitude_rad) &&
                         std::abs(position.latitude_rad) < measure::kPi / 2.0 - kNearestPole_rad;
    if (!is_sane) {
        return Refusal{ErrorCode::out_of_range,
                       {"coordinate system", 1, 1},
                       "a position where the projection is not defined",
                       "one inside its zone"};
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
    const double f = state_->projection->inverse_flattening > 0.0
                         ? 1.0 / state_->projection->inverse_flattening
                         : 0.0;
    const double e2 = f * (2.0 - f);
    const double sine = std::sin(position.latitude_rad);
    const double w2 = 1.0 - e2 * sine * sine;
    const double across_m = state_->projection->semi_major_m / std::sqrt(w2);
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
    const double radius =
        frame::gaussian_radius_m(state_->projection->semi_major_m,
                                 state_->projection->inverse_flattening, position.latitude_rad);
    return frame::GridFactors{at->point_scale(),
                              frame::elevation_factor(radius, ellipsoid_height_m)};
}

std::vector<std::string> projected_systems_at(const Geographic& place, std::size_t most) {
    const auto part = maps();
    return part ? (*part)->systems_at(place, most) : std::vector<std::string>();
}

std::optional<Refusal> lacks_maps() {
    const auto part = maps();
    if (part) return std::nullopt;
    return part.refusal();
}

}  // namespace layproof::exchange
