#include "cli/map_options.hpp"

#include <CLI/CLI.hpp>
#include <utility>

#include "cli/lengths.hpp"
#include "cli/site_options.hpp"
#include "exchange/text/number.hpp"
#include "measure/angle.hpp"

namespace layproof::cli {
namespace {

std::optional<std::pair<std::string, std::string>> two_parts(const std::string& text) {
    const std::size_t comma = text.find(',');
    if (comma == std::string::npos) return std::nullopt;
    return std::pair(text.substr(0, comma), text.substr(comma + 1));
}

std::optional<exchange::Geographic> read_place(const std::string& text) {
    const auto parts = two_parts(text);
    if (!parts) return std::nullopt;
    const auto latitude = exchange::parse_number(parts->first, {});
    const auto longitude = exchange::parse_number(parts->second, {});
    if (!latitude || !longitude) return std::nullopt;
    return exchange::Geographic{*longitude * measure::kRadPerDeg, *latitude * measure::kRadPerDeg};
}

}  // namespace

std::optional<int> fill(const MapOptions& options, const std::string& act,
                        std::optional<measure::LengthUnit> unit, acts::SiteRequest& request) {
    request.crs = options.crs;
    request.map_conversion = options.map_conversion;
    if (!options.ground_origin.empty()) {
        const auto parts = two_parts(options.ground_origin);
        const auto east = parts ? read_typed_length(parts->first, unit) : std::nullopt;
        const auto north = parts ? read_typed_length(parts->second, unit) : std::nullopt;
        if (!east || !north)
            return usage(act, "--ground-origin " + options.ground_origin +
                                  ": EAST,NORTH on the grid was expected, with a unit");
        request.ground_origin_m = Eigen::Vector2d(*east, *north);
    }
    if (!options.place.empty()) {
        request.place = read_place(options.place);
        if (!request.place)
            return usage(act, "--site " + options.place +
                                  ": LATITUDE,LONGITUDE in degrees was expected, such as "
                                  "49.096,8.436");
    }
    if (!options.height.empty()) {
        request.height_m = read_typed_length(options.height, unit);
        if (!request.height_m)
            return usage(act, "--site-height " + options.height +
                                  ": a length with its unit was expected, such as 250m");
    }
    return std::nullopt;
}

void add_map_options(CLI::App& command, MapOptions& options) {
    command
        .add_option("--site-crs", options.crs,
                    "coordinate system of the site, such as EPSG:25832: for GeoJSON and scales")
        ->type_name("CRS");
    command
        .add_option("--ground-origin", options.ground_origin,
                    "the site's coordinates are ground about this point of the grid")
        ->type_name("EAST,NORTH");
    command.add_option("--site-height", options.height, "of the site above the ellipsoid")
        ->type_name("LENGTH");
    command.add_flag("--map-conversion", options.map_conversion,
                     "put IFC on the map by its own map conversion");
}

void add_place_option(CLI::App& command, MapOptions& options) {
    command
        .add_option("--site", options.place,
                    "where the site is, in degrees: which projections would explain a scale")
        ->type_name("LAT,LON");
}

}  // namespace layproof::cli
