#pragma once
// Where the site lies on the map, as asked for: for GeoJSON in and out, for the factors that would
// explain a scale, and for map conversions.

#include <optional>
#include <string>

#include "base/result.hpp"
#include "exchange/frames/site_frame.hpp"

namespace layproof::acts {

struct SiteRequest {
    std::string crs;  ///< of the control: "EPSG:25832"; empty: none
    std::optional<Eigen::Vector2d>
        ground_origin_m;                        ///< coordinates are ground about this grid point
    std::optional<exchange::Geographic> place;  ///< of the site; else from crs and the marks
    std::optional<double> height_m;             ///< of the site above the ellipsoid
    bool map_conversion = false;                ///< IFC is put on the map by its own conversion
};

/// Nothing without a coordinate system. Refuses as SiteFrame does; value_missing for an origin
/// without a system, out_of_range for a place off the earth.
Result<std::optional<exchange::SiteFrame>> open_site(const SiteRequest& request);

/// "E,N" in metres as a setting of the job keeps it, and back.
std::string origin_text(const Eigen::Vector2d& origin_m);
std::optional<Eigen::Vector2d> origin_from_text(const std::string& text);

}  // namespace layproof::acts
