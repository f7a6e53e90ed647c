#include "acts/shared/site_request.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "exchange/text/number.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {

Result<std::optional<exchange::SiteFrame>> open_site(const SiteRequest& request) {
    if (request.place) {
        const auto& p = *request.place;
        if (!(std::abs(p.latitude_rad) <= measure::kPi / 2.0 &&
              std::abs(p.longitude_rad) <= measure::kPi))
            return Refusal{ErrorCode::out_of_range,
                           {"site", 0, 0},
                           fmt::format("{}, {}", p.latitude_rad / measure::kRadPerDeg,
                                       p.longitude_rad / measure::kRadPerDeg),
                           "latitude within 90 and longitude within 180 degrees"};
    }
    if (request.height_m && !(*request.height_m >= -1000.0 && *request.height_m <= 10000.0))
        return Refusal{ErrorCode::out_of_range,
                       {"height of the site", 0, 0},
                       fmt::format("{}", *request.height_m),
                       "a height above the ellipsoid of -1000 to 10000 m"};
    if (request.crs.empty()) {
        if (!request.ground_origin_m) return std::optional<exchange::SiteFrame>{};
        return Refusal{ErrorCode::value_missing,
                       {"ground origin", 0, 0},
                       "an origin on a grid that is not named",
                       "the site's coordinate system (--site-crs EPSG:...)"};
    }
    auto site = exchange::SiteFrame::open(
        {request.crs, request.ground_origin_m, request.height_m.value_or(0.0)});
    if (!site) return site.refusal();
    return std::optional(std::move(*site));
}

std::string origin_text(const Eigen::Vector2d& origin_m) {
    return fmt::format("{},{}", origin_m.x(), origin_m.y());
}

std::optional<Eigen::Vector2d> origin_from_text(const std::string& text) {
    const std::size_t comma = text.find(',');
    if (comma == std::string::npos) return std::nullopt;
    const auto east = exchange::parse_number(text.substr(0, comma), {});
    const auto north = exchange::parse_number(text.substr(comma + 1), {});
    if (!east || !north) return std::nullopt;
    return Eigen::Vector2d(*east, *north);
}

}  // namespace layproof::acts
