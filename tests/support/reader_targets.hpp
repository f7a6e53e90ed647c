#pragma once
// What must hold when a reader of an open format is given any bytes: for the fuzz targets and for
// the mutation test. A broken promise ends the program with a sentence.

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <utility>

#include "exchange/dxf/dxf.hpp"
#include "exchange/dxf/dxf_writer.hpp"
#include "exchange/geojson/geojson.hpp"
#include "exchange/ifc/ifc.hpp"
#include "exchange/ifc/ifc_obstacles.hpp"
#include "exchange/landxml/landxml.hpp"
#include "exchange/landxml/landxml_writer.hpp"

namespace layproof::testing {

inline void promise(bool holds, const std::string& what) {
    if (holds) return;
    std::fprintf(stderr, "broken promise: %s\n", what.c_str());
    std::abort();
}

inline void expect_sound(const Refusal& refusal) {
    promise(!refusal.found.empty() && !refusal.expected.empty(), "a refusal says what and why");
    promise(!refusal.place.file.empty() && refusal.place.line >= 1, "a refusal has a place");
}

inline bool is_finite(const std::optional<double>& value) {
    return !value || std::isfinite(*value);
}

inline void expect_sound(const exchange::Import& import) {
    for (const auto& p : import.points) {
        promise(!p.name.empty(), "a point has a name");
        promise(std::abs(p.east_m) <= 1e8 && std::abs(p.north_m) <= 1e8, "coordinates in range");
        promise(is_finite(p.height_m), "a height is finite");
    }
    for (const auto& s : import.sights) {
        promise(!s.station.empty() && !s.target.empty(), "a sight has both ends");
        promise(is_finite(s.direction_rad) && is_finite(s.zenith_rad), "angles are finite");
        promise(!s.slope_distance_m || *s.slope_distance_m > 0.0, "a distance is above zero");
        promise(std::isfinite(s.target_height_m) && std::isfinite(s.prism_constant_m),
                "heights and constants are finite");
    }
    for (const auto& l : import.grid_lines) {
        promise(frame::is_line(l) && !l.name.empty(), "a grid line is one");
    }
    for (const auto& l : import.left)
        promise(l.count > 0 && !l.why.empty(), "what is left says why");
    promise(import.unit.metres_per_unit.value_or(0.0) > 0.0, "a unit was used");
    if (import.map_conversion) {
        const auto resolved = frame::resolve(*import.map_conversion);
        if (resolved.is_usable()) {
            promise(std::isfinite(resolved.to_map({1.0, 2.0, 3.0}).norm()),
                    "a map place is finite");
        }
    }
}

/// What was read can be sent out and is read again.
inline void expect_comes_back(const exchange::Import& import) {
    constexpr std::size_t kMost = 2000;
    exchange::Outgoing out;
    for (const auto& p : import.points) {
        if (out.points.size() >= kMost) break;
        frame::DesignPoint point;
        point.name = p.name;
        point.east_m = p.east_m;
        point.north_m = p.north_m;
        point.height_m = p.height_m;
        point.note = p.note;
        out.points.push_back(std::move(point));
    }
    for (const auto& s : import.sights) {
        if (out.sights.size() < kMost) out.sights.push_back(s);
    }
    out.setups = import.setups;
    out.grid_lines = import.grid_lines;
    const auto xml = exchange::read_landxml({"again.xml", exchange::write_landxml(out).text});
    promise(xml.ok(), "LandXML written is read: " + (xml ? "" : xml.refusal().to_text()));
    promise(xml->points.size() == out.points.size(), "all points come back");
    promise(xml->sights.size() == out.sights.size(), "all sights come back");
    exchange::ReadOptions options;
    options.unit = measure::LengthUnit::metre;
    const auto dxf = exchange::read_dxf({"again.dxf", exchange::write_dxf(out).text}, options);
    promise(dxf.ok(), "DXF written is read: " + (dxf ? "" : dxf.refusal().to_text()));
    promise(dxf->points.size() == out.points.size(), "all points come back from the drawing");
}

inline bool expect_sound(const Result<exchange::Import>& result) {
    if (!result) {
        expect_sound(result.refusal());
        return false;
    }
    expect_sound(*result);
    expect_comes_back(*result);
    return true;
}

// True when the bytes were read.

inline bool try_landxml(std::string bytes) {
    const exchange::Document document{"fuzz.xml", std::move(bytes)};
    const bool is_read = expect_sound(exchange::read_landxml(document));
    exchange::ReadOptions options;
    options.unit = measure::LengthUnit::us_foot;
    expect_sound(exchange::read_landxml(document, options));
    return is_read;
}

inline bool try_dxf(std::string bytes) {
    const exchange::Document document{"fuzz.dxf", std::move(bytes)};
    exchange::ReadOptions options;
    options.unit = measure::LengthUnit::inch;
    return expect_sound(exchange::read_dxf(document, options));
}

inline void expect_sound(const exchange::Table<exchange::ObstacleRow>& table) {
    for (const auto& row : table.rows) {
        promise(!row.name.empty() && !row.corners.empty(), "an obstacle has a name and a place");
        for (const auto& c : row.corners)
            promise(c.cwiseAbs().maxCoeff() <= 1.1e8, "its corners are in range");
        promise(row.width_m >= 0.0 && row.width_m <= 1e4, "its size is in range");
        promise(is_finite(row.bottom_m) && is_finite(row.top_m), "its heights are finite");
        promise(!row.bottom_m || !row.top_m || *row.top_m > *row.bottom_m, "its top is above");
    }
}

inline bool try_ifc(std::string bytes) {
    const exchange::Document document{"fuzz.ifc", std::move(bytes)};
    exchange::ReadOptions options;
    options.unit = measure::LengthUnit::millimetre;
    const auto obstacles = exchange::read_ifc_obstacles(document, options);
    if (obstacles)
        expect_sound(*obstacles);
    else
        expect_sound(obstacles.refusal());
    return expect_sound(exchange::read_ifc(document, options));
}

inline bool try_geojson(std::string bytes) {
    const auto read = exchange::read_geographic_points({"fuzz.geojson", std::move(bytes)});
    if (!read) {
        expect_sound(read.refusal());
        return false;
    }
    for (const auto& p : read->points) {
        promise(!p.name.empty() && std::isfinite(p.position.longitude_rad) &&
                    std::isfinite(p.position.latitude_rad) && is_finite(p.height_m),
                "a position is finite and has a name");
    }
    const auto again =
        exchange::read_geographic_points({"again.geojson", exchange::write_geojson(read->points)});
    promise(again.ok(), "GeoJSON written is read: " + (again ? "" : again.refusal().to_text()));
    promise(again->points.size() == read->points.size(), "all points come back");
    return true;
}

}  // namespace layproof::testing
