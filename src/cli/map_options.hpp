#pragma once
// The options that say where the site lies on the map: vet and job take.

#include <optional>
#include <string>

#include "acts/shared/site_request.hpp"
#include "measure/length.hpp"

namespace CLI {
class App;
}

namespace layproof::cli {

struct MapOptions {
    std::string crs, ground_origin, place, height;
    bool map_conversion = false;
};

/// --site-crs, --ground-origin, --site-height, --map-conversion.
void add_map_options(CLI::App& command, MapOptions& options);
/// --site LAT,LON.
void add_place_option(CLI::App& command, MapOptions& options);

/// Lengths that state no unit are in `unit`. Nothing when all went well, else the exit status; what
/// is wrong is then said on standard error.
std::optional<int> fill(const MapOptions& options, const std::string& act,
                        std::optional<measure::LengthUnit> unit, acts::SiteRequest& request);

}  // namespace layproof::cli
