#pragma once
// GeoJSON (RFC 7946) points, in and out. The standard knows longitude and latitude on WGS 84 in
// degrees and nothing else, so:
//   refused as not_geographic: a crs member that names another system, positions outside ±180° and
//   ±90°, points more than 2° apart (a site is not, a building grid in metres read as degrees is),
//   heights are metres above the ellipsoid;
//   to become site coordinates they need the site's frame (exchange/frames/site_frame.hpp).
// Datums are not shifted: WGS 84 and a national datum differ by up to a few metres, so such points
// are for an overview, not for control. Positions with fewer than 8 decimals are told of: 1 mm is
// 9e-9° of latitude.
//
// A point's name is its feature's property name, point, mark or id, else the feature's id.
// Error codes: of parse_json, format_unknown (JSON of another kind), not_geographic, not_a_number,
// value_missing.

#include <span>

#include "exchange/frames/site_frame.hpp"
#include "exchange/tables/imported.hpp"
#include "exchange/tables/table.hpp"
#include "exchange/text/document.hpp"

namespace layproof::exchange {

struct GeographicPoint {
    std::string name;
    Geographic position;
    std::optional<double> height_m;  ///< above the ellipsoid
    std::string note;                ///< other properties, "key=value"
    bool name_is_made = false;
    int line = 0;
    int column = 0;
};

struct GeographicPoints {
    std::vector<GeographicPoint> points;
    std::vector<LeftOut> left;
    std::vector<std::string> notices;
};

Result<GeographicPoints> read_geographic_points(const Document& document);

/// In the coordinates of ReadOptions::site; without it refused with value_missing and the reason.
Result<Import> read_geojson(const Document& document, const ReadOptions& options = {});

/// A point of the site as it goes out: its position on WGS 84, with a note of its own.
Result<GeographicPoint> geographic_point(const SiteFrame& site, const std::string& name,
                                         const Eigen::Vector2d& site_m,
                                         std::optional<double> height_m, std::string note);

/// A FeatureCollection of points with 9 decimals of a degree; heights with 4 decimals. Positions
/// that are not finite are left out.
std::string write_geojson(std::span<const GeographicPoint> points);

}  // namespace layproof::exchange
