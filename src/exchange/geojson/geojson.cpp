#include "exchange/geojson/geojson.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "base/text/utf8.hpp"
#include "exchange/text/json_text.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

constexpr double kWidestSite_deg = 2.0;
constexpr double kFineDecimals = 1e8;
constexpr double kMillimetreDecimals = 1e9;

class GeoJsonReader {
public:
    explicit GeoJsonReader(const Document& document) : document_(document) {}

    Result<GeographicPoints> read(const JsonValue& root) {
        if (root.kind != JsonValue::Kind::object || root.find("type") == nullptr) {
            return Refusal{ErrorCode::format_unknown, place_of(document_, root.offset),
                           "JSON without a type", "a GeoJSON FeatureCollection"};
        }
        auto done = check_crs(root);
        if (done) done = take(root, nullptr, 0);
        if (done) done = check_spread();
        if (!done) return done.refusal();
        if (coarse_ > 0) {
            out_.notices.push_back(fmt::format(
                "{}: {} positions have fewer than 8 decimals of a degree, which is coarser than "
                "1 mm",
                document_.name, coarse_));
        }
        return std::move(out_);
    }

private:
    Result<Done> check_crs(const JsonValue& root) {
        const JsonValue* crs = root.find("crs");
        if (crs == nullptr || crs->kind == JsonValue::Kind::null) return Done{};
        std::string name;
        if (const JsonValue* properties = crs->find("properties")) {
            if (const JsonValue* named = properties->find("name")) name = named->text;
        }
        if (name.find("CRS84") != std::string::npos) return Done{};
        return Refusal{ErrorCode::not_geographic, place_of(document_, crs->offset),
                       "a crs member that names " + in_quotes(name),
                       "longitude and latitude on WGS 84, the only system of RFC 7946"};
    }

    Result<Done> take(const JsonValue& value, const JsonValue* feature, int depth) {
        const JsonValue* type = value.find("type");
        if (type == nullptr) {
            return Refusal{ErrorCode::format_unknown, place_of(document_, value.offset),
                           "an object without type", "a GeoJSON object"};
        }
        constexpr int kDeepest = 32;
        if (depth > kDeepest) {
            return Refusal{ErrorCode::nested_too_deep, place_of(document_, value.offset),
                           "collections more than 32 deep", "a file as programs write it"};
        }
        const std::string& word = type->text;
        const char* list = word == "FeatureCollection"    ? "features"
                           : word == "GeometryCollection" ? "geometries"
                                                          : nullptr;
        if (list != nullptr) {
            const JsonValue* members = value.find(list);
            if (members == nullptr) return Done{};
            for (const JsonValue& member : members->array) {
                auto done = take(member, feature, depth + 1);
                if (!done) return done;
            }
            return Done{};
        }
        if (word == "Feature") {
            const JsonValue* geometry = value.find("geometry");
            if (geometry == nullptr || geometry->kind == JsonValue::Kind::null) {
                leave("Feature", "without geometry", value);
                return Done{};
            }
            return take(*geometry, &value, depth + 1);
        }
        const JsonValue* coordinates = value.find("coordinates");
        if ((word == "Point" || word == "MultiPoint") && coordinates != nullptr) {
            if (word == "Point") return take_position(*coordinates, feature);
            for (const JsonValue& position : coordinates->array) {
                auto done = take_position(position, feature);
                if (!done) return done;
            }
            return Done{};
        }
        leave(word.substr(0, 40), "not a point", value);
        return Done{};
    }

    Result<Done> take_position(const JsonValue& position, const JsonValue* feature) {
        const Place place = next_place(position.offset);
        const auto& c = position.array;
        const bool are_numbers = position.kind == JsonValue::Kind::array && c.size() >= 2 &&
                                 std::all_of(c.begin(), c.end(), [](const JsonValue& v) {
                                     return v.kind == JsonValue::Kind::number;
                                 });
        if (!are_numbers) {
            return Refusal{ErrorCode::not_a_number, place, "no position",
                           "[longitude, latitude] or [longitude, latitude, height]"};
        }
        const double longitude = c[0].number;
        const double latitude = c[1].number;
        if (std::abs(longitude) > 180.0 || std::abs(latitude) > 90.0) {
            return Refusal{ErrorCode::not_geographic, place,
                           fmt::format("[{}, {}]", longitude, latitude),
                           "longitude within ±180 and latitude within ±90 degrees: plane "
                           "coordinates are outside GeoJSON"};
        }
        GeographicPoint point;
        point.position = {longitude * measure::kRadPerDeg, latitude * measure::kRadPerDeg};
        if (c.size() > 2) point.height_m = c[2].number;
        point.line = place.line;
        point.column = place.column;
        set_words(point, feature);
        const auto is_coarse = [](double degrees) {
            const double scaled = degrees * (kFineDecimals / 10.0);
            return std::abs(scaled - std::round(scaled)) < 1e-6;
        };
        if (is_coarse(longitude) && is_coarse(latitude)) ++coarse_;
        out_.points.push_back(std::move(point));
        return Done{};
    }

    void set_words(GeographicPoint& point, const JsonValue* feature) {
        static const std::array kNames{"name", "point", "mark", "id"};
        const auto text_of = [](const JsonValue& v) {
            if (v.kind == JsonValue::Kind::number) return fmt::format("{}", v.number);
            return v.text;
        };
        if (feature != nullptr) {
            const JsonValue* properties = feature->find("properties");
            for (const char* key : kNames) {
                const JsonValue* v = properties == nullptr ? nullptr : properties->find(key);
                if (v != nullptr && point.name.empty()) point.name = trimmed(text_of(*v));
            }
            if (const JsonValue* id = feature->find("id"); id != nullptr && point.name.empty()) {
                point.name = trimmed(text_of(*id));
            }
            if (properties != nullptr) {
                for (std::size_t i = 0; i < properties->names.size(); ++i) {
                    const std::string text = text_of(properties->array[i]);
                    if (text.empty() || text == point.name || point.note.size() > 200) continue;
                    point.note +=
                        (point.note.empty() ? "" : " ") + properties->names[i] + '=' + text;
                }
            }
        }
        if (point.name.empty()) {
            point.name = fmt::format("point-{}", out_.points.size() + 1);
            point.name_is_made = true;
        }
    }

    Result<Done> check_spread() {
        if (out_.points.empty()) return Done{};
        double low[2] = {out_.points[0].position.longitude_rad,
                         out_.points[0].position.latitude_rad};
        double high[2] = {low[0], low[1]};
        for (const GeographicPoint& p : out_.points) {
            const double at[2] = {p.position.longitude_rad, p.position.latitude_rad};
            for (int i = 0; i < 2; ++i) {
                low[i] = std::min(low[i], at[i]);
                high[i] = std::max(high[i], at[i]);
                if (high[i] - low[i] <= kWidestSite_deg * measure::kRadPerDeg) continue;
                return Refusal{
                    ErrorCode::not_geographic,
                    {document_.name, p.line, p.column},
                    fmt::format("points {:.1f}° apart", (high[i] - low[i]) / measure::kRadPerDeg),
                    "one site: as degrees these lie in different countries; plane "
                    "coordinates are outside GeoJSON"};
            }
        }
        return Done{};
    }

    void leave(std::string_view what, std::string_view why, const JsonValue& value) {
        for (LeftOut& group : out_.left) {
            if (group.what == what && group.why == why) {
                ++group.count;
                return;
            }
        }
        constexpr std::size_t kMostGroups = 100;
        if (out_.left.size() < kMostGroups) {
            out_.left.push_back(
                {std::string(what), 1, std::string(why), place_of(document_, value.offset)});
        }
    }

    /// Values come in the order of the file, so that the place is counted on from the last one.
    Place next_place(std::size_t offset) {
        if (offset < counted_) return place_of(document_, offset);
        for (; counted_ < offset; ++counted_) {
            const char c = document_.bytes[counted_];
            if (c == '\n') {
                ++line_;
                column_ = 1;
            } else if (!is_continuation(c)) {
                ++column_;
            }
        }
        return {document_.name, line_, column_};
    }

    const Document& document_;
    GeographicPoints out_;
    int coarse_ = 0;
    std::size_t counted_ = 0;
    int line_ = 1;
    int column_ = 1;
};

std::string json_string(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        const auto byte = static_cast<unsigned char>(c);
        if (c == '"' || c == '\\') out += '\\';
        if (byte < 0x20) {
            out += fmt::format("\\u{:04x}", byte);
        } else {
            out += c;
        }
    }
    return out + '"';
}

/// As degrees with 9 decimals, no needless zeros behind.
std::string degrees(double angle_rad) {
    const double value =
        std::round(angle_rad / measure::kRadPerDeg * kMillimetreDecimals) / kMillimetreDecimals;
    return fmt::format("{:.9f}", value == 0.0 ? 0.0 : value);
}

}  // namespace

Result<GeographicPoints> read_geographic_points(const Document& document) {
    const auto root = parse_json(document);
    if (!root) return root.refusal();
    return GeoJsonReader(document).read(*root);
}

Result<Import> read_geojson(const Document& document, const ReadOptions& options) {
    auto read = read_geographic_points(document);
    if (!read) return read.refusal();
    const SiteFrame* const site = options.site;
    if (site == nullptr) {
        return Refusal{ErrorCode::value_missing,
                       {document.name, 1, 1},
                       "longitudes and latitudes, without a projected coordinate system for them",
                       "the site's coordinate system (--site-crs EPSG:...), or points in its plane "
                       "coordinates"};
    }
    Import import;
    import.format = FileFormat::geojson;
    import.version = "GeoJSON";
    import.unit.is_stated = true;
    import.unit.metres_per_unit = 1.0;
    import.unit.unit = measure::LengthUnit::metre;
    import.unit.words = "degrees on WGS 84 (RFC 7946)";
    import.frame = site->words();
    import.left = std::move(read->left);
    import.notices = std::move(read->notices);
    import.notices.push_back(fmt::format(
        "{}: turned into {}. WGS 84 was taken for its datum, which may differ by some metres, and "
        "heights are above the ellipsoid",
        document.name, site->words()));
    for (GeographicPoint& p : read->points) {
        const auto grid = site->to_site(p.position);
        if (!grid) {
            Refusal refusal = grid.refusal();
            refusal.place = {document.name, p.line, p.column};
            return refusal;
        }
        ImportedPoint point;
        point.name = std::move(p.name);
        point.name_is_made = p.name_is_made;
        point.east_m = grid->x();
        point.north_m = grid->y();
        point.height_m = p.height_m;
        point.note = std::move(p.note);
        point.line = p.line;
        point.column = p.column;
        import.points.push_back(std::move(point));
    }
    return import;
}

Result<GeographicPoint> geographic_point(const SiteFrame& site, const std::string& name,
                                         const Eigen::Vector2d& site_m,
                                         std::optional<double> height_m, std::string note) {
    const auto position = site.to_geographic(site_m);
    if (!position) return position.refusal();
    GeographicPoint out;
    out.name = name;
    out.position = *position;
    out.height_m = height_m;
    out.note = std::move(note);
    return out;
}

std::string write_geojson(std::span<const GeographicPoint> points) {
    std::string out = "{\"type\":\"FeatureCollection\",\"features\":[";
    bool is_first = true;
    for (const GeographicPoint& p : points) {
        const bool is_finite = std::isfinite(p.position.longitude_rad) &&
                               std::isfinite(p.position.latitude_rad) &&
                               std::isfinite(p.height_m.value_or(0.0));
        if (!is_finite) continue;
        out += is_first ? "\n" : ",\n";
        is_first = false;
        out += "{\"type\":\"Feature\",\"geometry\":{\"type\":\"Point\",\"coordinates\":[" +
               degrees(p.position.longitude_rad) + ',' + degrees(p.position.latitude_rad);
        if (p.height_m) out += fmt::format(",{:.4f}", *p.height_m);
        out += "]},\"properties\":{\"name\":" + json_string(p.name);
        if (!p.note.empty()) out += ",\"note\":" + json_string(p.note);
        out += "}}";
    }
    return out + "\n]}\n";
}

}  // namespace layproof::exchange
