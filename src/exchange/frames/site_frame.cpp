#include "exchange/frames/site_frame.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace layproof::exchange {

Result<SiteFrame> SiteFrame::open(const SiteFrameSpec& spec) {
    const double height = spec.ellipsoid_height_m;
    if (!(height >= -1000.0 && height <= 10000.0))
        return Refusal{ErrorCode::out_of_range,
                       {"height of the site", 0, 0},
                       fmt::format("{}", height),
                       "a height above the ellipsoid of -1000 to 10000 m"};
    auto grid = ProjectedFrame::open(spec.crs);
    if (!grid) return grid.refusal();
    SiteFrame out(spec, std::move(*grid));
    if (!spec.ground_origin_m) return out;
    if (!spec.ground_origin_m->allFinite())
        return Refusal{ErrorCode::not_finite,
                       {"ground origin", 0, 0},
                       "an origin without numbers",
                       "east and north on the grid"};
    const auto factors = out.grid_.site_factors(*spec.ground_origin_m, height);
    if (!factors) return factors.refusal();
    out.factors_ = *factors;
    out.ground_ = {*spec.ground_origin_m, *spec.ground_origin_m, factors->combined()};
    return out;
}

std::string SiteFrame::words() const {
    if (!factors_) return grid_.name();
    return fmt::format("ground of {} about {:.3f}, {:.3f} m (combined factor {:.9f})", grid_.name(),
                       ground_.grid_origin_m.x(), ground_.grid_origin_m.y(), ground_.combined);
}

Result<Eigen::Vector2d> SiteFrame::to_site(const Geographic& position) const {
    auto grid = grid_.to_grid(position);
    if (!grid || !factors_) return grid;
    return ground_.to_ground(*grid);
}

Result<Geographic> SiteFrame::to_geographic(const Eigen::Vector2d& site_m) const {
    return grid_.to_geographic(factors_ ? ground_.to_grid(site_m) : site_m);
}

}  // namespace layproof::exchange
