#include "exchange/landxml/landxml.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <unordered_set>
#include <utility>

#include "exchange/landxml/landxml_units_internal.hpp"
#include "exchange/tables/row_table.hpp"
#include "exchange/text/number.hpp"
#include "exchange/text/text.hpp"
#include "exchange/text/time.hpp"
#include "exchange/text/xml_events.hpp"

namespace layproof::exchange {
namespace {

using measure::Purpose;

constexpr std::string_view kSpace = "http://www.landxml.org/schema/LandXML-1.";

std::size_t occurrences(std::string_view text, std::string_view word) {
    std::size_t count = 0;
    const char* at = text.data();
    const char* const end = at + text.size();
    while (count < kMostImported) {
        const void* found =
            memmem(at, static_cast<std::size_t>(end - at), word.data(), word.size());
        if (found == nullptr) break;
        ++count;
        at = static_cast<const char*>(found) + word.size();
    }
    return count;
}

/// Finds Units, wherever it stands, before anything is read in them.
class UnitsFinder : public XmlEvents {
public:
    explicit UnitsFinder(const std::string& file) : file_(file) {}

    std::optional<LandXmlUnits> units;
    std::string version;
    std::string evidence;

private:
    void start(const XmlTag& tag) override {
        const Place place{file_, tag.line, tag.column};
        if (depth() == 1) {
            if (tag.name != "LandXML") {
                stop({ErrorCode::format_unknown, place,
                      "an XML file whose root is " + in_quotes(tag.name), "a LandXML file"});
                return;
            }
            version = tag.space.starts_with(kSpace)
                          ? std::string(tag.space.substr(kSpace.size() - 2))
                          : tag.text("version");
            if (!version.starts_with("1.1") && !version.starts_with("1.2") &&
                !version.starts_with("1.0")) {
                stop({ErrorCode::format_unknown, place, "LandXML version " + in_quotes(version),
                      "LandXML 1.2 or 1.1"});
            }
            return;
        }
        in_units_ = depth() == 2 ? tag.name == "Units" : in_units_;
        if (depth() != 3 || !in_units_) return;
        auto read = landxml_units(tag, place);
        if (!read) {
            stop(std::move(read).refusal());
            return;
        }
        evidence = fmt::format("Units, {}: linearUnit=\"{}\"", tag.name, read->linear_word);
        units = *read;
        stop();
    }
    void end(std::string_view, std::string_view) override {
        if (depth() == 2) in_units_ = false;
    }

    const std::string& file_;
    bool in_units_ = false;
};

struct SetupRecord {
    std::string id;
    station::Setup setup;
    bool is_resection = false;
};

struct Group {
    std::string setup_id, target_setup_id, purpose;
};

class LandxmlReader : public XmlEvents {
public:
    LandxmlReader(const Document& document, const LandXmlUnits& units, bool has_units,
                  Import& import)
        : document_(document), units_(units), has_units_(has_units), import_(import) {}

    Result<Done> finish();

private:
    void start(const XmlTag& tag) override;
    void end(std::string_view name, std::string_view text) override;

    void start_point(const XmlTag& tag);
    void end_point(std::string_view text);
    void start_monument(const XmlTag& tag);
    void start_setup(const XmlTag& tag);
    void end_instrument_point(std::string_view text);
    void start_target_setup(const XmlTag& tag);
    void start_backsight(const XmlTag& tag);
    void start_observation(const XmlTag& tag);
    void end_observation();
    void check_units(const XmlTag& tag);

    Place place(const XmlTag& tag) const { return {document_.name, tag.line, tag.column}; }
    std::optional<double> length(const XmlTag& tag, const char* name, double low, double high);
    std::optional<double> angle(const XmlTag& tag, const char* name,
                                std::optional<LandXmlAngle> unit);
    bool set_position(ImportedPoint& point, std::string_view text);
    Purpose purpose_of(const measure::Sight& sight, std::string_view word) const;

    /// Again after every change of the list, because the keys point into it.
    void name_points() {
        by_name_.clear();
        for (std::size_t i = 0; i < import_.points.size(); ++i) {
            by_name_.emplace(import_.points[i].name, static_cast<int>(i));
        }
    }
    void notice(std::string text) {
        constexpr std::size_t kMostNotices = 50;
        if (import_.notices.size() < kMostNotices) import_.notices.push_back(std::move(text));
    }
    Result<Done> resolve_points();
    void resolve_monuments();
    void resolve_setups();
    void resolve_sights();
    int find(const std::string& name) const {
        const auto found = by_name_.find(name);
        return found == by_name_.end() ? -1 : found->second;
    }

    const Document& document_;
    const LandXmlUnits& units_;
    bool has_units_;
    Import& import_;

    std::vector<std::pair<int, std::string>> pending_;  ///< points placed by a reference
    struct MonumentRecord {
        std::string name, ref, note;
        int line, column;
    };
    std::vector<MonumentRecord> monuments_;
    std::vector<SetupRecord> setups_;
    struct TargetSetup {
        std::optional<double> height_m, constant_m;
    };
    std::unordered_map<std::string, TargetSetup> target_setups_;
    struct Observation {
        std::string target_setup_id;
        std::string purpose;
        bool has_height = false;
    };
    std::vector<Observation> observations_;  ///< beside import_.sights
    std::unordered_map<std::string_view, int> by_name_;
    std::unordered_set<std::string> backsight_pairs_;

    // Where the stream is.
    std::optional<ImportedPoint> point_;
    std::string point_ref_;
    int setup_ = -1;
    std::optional<Group> group_;
    std::optional<ImportedBacksight> backsight_;
    std::string backsight_setup_id_;
    std::vector<std::pair<std::string, ImportedBacksight>> backsights_;  ///< by set-up id
    bool in_observation_ = false;
    measure::Sight sight_;
    Observation observation_;
    std::string observation_left_;
    std::string target_;
    std::string instrument_ref_;
    int made_names_ = 0;
    int zero_heights_ = 0;
};

std::optional<double> LandxmlReader::length(const XmlTag& tag, const char* name, double low,
                                            double high) {
    const auto text = tag.find(name);
    if (!text || trimmed(*text).empty()) return std::nullopt;
    const auto value = plain_double(*text);
    if (!value) {
        stop({ErrorCode::not_a_number, place(tag), fmt::format("{}={}", name, in_quotes(*text)),
              "a number such as 12.345"});
        return std::nullopt;
    }
    const double value_m = *value * units_.metres_per_unit;
    if (value_m < low || value_m > high) {
        stop({ErrorCode::out_of_range, place(tag), fmt::format("{}={}", name, in_quotes(*text)),
              fmt::format("a length from {} to {} m", low, high)});
        return std::nullopt;
    }
    return value_m;
}

std::optional<double> LandxmlReader::angle(const XmlTag& tag, const char* name,
                                           std::optional<LandXmlAngle> unit) {
    const auto text = tag.find(name);
    if (!text || trimmed(*text).empty()) return std::nullopt;
    if (!unit) {
        stop({ErrorCode::unit_missing, place(tag), fmt::format("{}={}", name, in_quotes(*text)),
              "angularUnit in the file's Units: radians, grads, decimal degrees or decimal "
              "dd.mm.ss"});
        return std::nullopt;
    }
    const auto value = landxml_angle(*text, *unit);
    if (!value) {
        stop({ErrorCode::not_an_angle, place(tag), fmt::format("{}={}", name, in_quotes(*text)),
              "an angle in the unit that the file states"});
    }
    return value;
}

bool LandxmlReader::set_position(ImportedPoint& point, std::string_view text) {
    std::array<double, 3> values{};
    std::size_t count = 0;
    const Place at{document_.name, point.line, point.column};
    for (std::string_view rest = trimmed(text); !rest.empty();) {
        const std::size_t length = std::min(rest.find_first_of(" \t\r\n"), rest.size());
        const auto value = plain_double(rest.substr(0, length));
        if (!value || count == 3) {
            stop({ErrorCode::not_a_number, at, in_quotes(text), "\"north east height\""});
            return false;
        }
        values[count++] = *value * units_.metres_per_unit;
        if (std::abs(values[count - 1]) > kLargestCoordinate_m) {
            stop({ErrorCode::out_of_range, at, in_quotes(rest.substr(0, length)),
                  "coordinates within 100,000,000 m of zero"});
            return false;
        }
        rest = trimmed(rest.substr(length));
    }
    if (count < 2) {
        stop({ErrorCode::value_missing, at, in_quotes(text), "\"north east\" or more"});
        return false;
    }
    point.north_m = values[0];
    point.east_m = values[1];
    if (count == 3) {
        point.height_m = values[2];
        if (values[2] == 0.0) ++zero_heights_;
    }
    return true;
}

void LandxmlReader::start(const XmlTag& tag) {
    const std::string_view name = tag.name;
    if (name == "CgPoint") {
        start_point(tag);
    } else if (name == "RawObservation") {
        start_observation(tag);
    } else if (name == "TargetPoint") {
        target_ = tag.text("pntRef");
        if (target_.empty()) target_ = tag.text("name");
    } else if (name == "BacksightPoint") {
        if (backsight_) {
            backsight_->target = tag.text("pntRef");
            if (backsight_->target.empty()) backsight_->target = tag.text("name");
        }
    } else if (name == "OffsetVals") {
        if (in_observation_) observation_left_ = "the target is off the point by OffsetVals";
    } else if (name == "InstrumentSetup") {
        start_setup(tag);
    } else if (name == "InstrumentPoint") {
        instrument_ref_ = tag.text("pntRef");
    } else if (name == "ObservationGroup") {
        group_ = Group{tag.text("setupID"), tag.text("targetSetupID"), tag.text("purpose")};
    } else if (name == "Backsight") {
        start_backsight(tag);
    } else if (name == "TargetSetup") {
        start_target_setup(tag);
    } else if (name == "Monument") {
        start_monument(tag);
    } else if (name == "CoordinateSystem") {
        if (import_.frame.empty()) {
            import_.frame = tag.text("name");
            const std::string code = tag.text("epsgCode");
            if (!code.empty())
                import_.frame += (import_.frame.empty() ? "EPSG:" : ", EPSG:") + code;
            if (import_.frame.empty()) import_.frame = tag.text("desc");
        }
    } else if (name == "Metric" || name == "Imperial") {
        check_units(tag);
    } else if (depth() == 2) {
        static const std::unordered_set<std::string_view> known{
            "Units",     "Project", "Application",      "CgPoints",
            "Monuments", "Survey",  "FeatureDictionary"};
        if (!known.contains(name)) {
            import_.leave(name, "no points or sights to take", place(tag));
        }
    } else if (name == "ReducedObservation" || name == "ReducedArcObservation" ||
               name == "RedHorizontalPosition" || name == "RedVerticalObservation") {
        import_.leave(name, "reduced values, not what was observed", place(tag));
    } else if (name == "GPSSetup" || name == "GPSVector" || name == "GPSPosition" ||
               name == "LaserSetup" || name == "TestObservation") {
        import_.leave(name, "not a sight of a total station", place(tag));
    }
}

void LandxmlReader::end(std::string_view name, std::string_view text) {
    if (name == "CgPoint") {
        end_point(text);
    } else if (name == "RawObservation") {
        end_observation();
    } else if (name == "InstrumentPoint") {
        end_instrument_point(text);
    } else if (name == "InstrumentSetup") {
        setup_ = -1;
    } else if (name == "ObservationGroup") {
        group_.reset();
    } else if (name == "Backsight" && backsight_) {
        backsights_.emplace_back(backsight_setup_id_, std::move(*backsight_));
        backsight_.reset();
    }
}

void LandxmlReader::check_units(const XmlTag& tag) {
    auto units = landxml_units(tag, place(tag));
    if (!units) {
        stop(std::move(units).refusal());
    } else if (has_units_ && *units != units_) {
        stop({ErrorCode::unit_unknown, place(tag),
              "units that differ from those at another place of the file", "one set of units"});
    }
}

void LandxmlReader::start_point(const XmlTag& tag) {
    if (point_) {
        stop({ErrorCode::not_well_formed, place(tag), "a CgPoint inside a CgPoint",
              "points beside each other"});
        return;
    }
    if (import_.points.size() >= kMostImported) {
        stop({ErrorCode::file_too_large, place(tag), "more than 2,000,000 points",
              "a file with fewer"});
        return;
    }
    ImportedPoint& point = point_.emplace();
    point.line = tag.line;
    point.column = tag.column;
    point_ref_ = tag.text("pntRef");
    std::string description;
    std::string code;
    for (const XmlAttribute& a : tag.attributes) {
        if (a.name == "name") {
            point.name = trimmed(a.value);
        } else if (a.name == "desc") {
            description = a.value;
        } else if (a.name == "code") {
            code = a.value;
        } else if (a.name == "pntSurv") {
            point.kind = import_.keep_word(a.value);
            const std::string word = lower(a.value);
            point.is_control = word == "control" || word == "monument" || word == "reference";
        } else if (a.name == "role") {
            if (a.value == "control point") point.is_control = true;
            point.kind = import_.keep_word(a.value);
        } else if (a.name == "state" && (a.value == "destroyed" || a.value == "abandoned")) {
            notice(fmt::format("{}:{}: point {} is {}", document_.name, tag.line,
                               in_quotes(tag.text("name")), a.value));
        }
    }
    if (!code.empty() && point.kind < 0) point.kind = import_.keep_word(code);
    point.note = std::move(description);
    if (!code.empty() && code != point.note) {
        point.note += (point.note.empty() ? "code=" : " code=") + code;
    }
    constexpr double kMostSd_m = 100.0;
    const auto sd = [&](const char* name, std::optional<float>& to) {
        if (const auto value = length(tag, name, 0.0, kMostSd_m)) to = static_cast<float>(*value);
    };
    sd("eastingStdError", point.sd_east_m);
    sd("northingStdError", point.sd_north_m);
    sd("elevationStdError", point.sd_height_m);
    if (point.name.empty()) {
        point.name = tag.text("oID");
        if (point.name.empty()) point.name = fmt::format("CgPoint-{}", ++made_names_);
        point.name_is_made = true;
    }
}

void LandxmlReader::end_point(std::string_view text) {
    if (!point_) return;
    if (trimmed(text).empty()) {
        if (point_ref_.empty()) {
            import_.leave("CgPoint", "neither coordinates nor a reference",
                          {document_.name, point_->line, point_->column});
            point_.reset();
            return;
        }
        pending_.emplace_back(static_cast<int>(import_.points.size()), point_ref_);
    } else if (!set_position(*point_, text)) {
        return;
    }
    import_.points.push_back(std::move(*point_));
    point_.reset();
}

void LandxmlReader::start_monument(const XmlTag& tag) {
    if (monuments_.size() >= kMostImported) {
        stop({ErrorCode::file_too_large, place(tag), "more than 2,000,000 monuments",
              "a file with fewer"});
        return;
    }
    monuments_.push_back(
        {tag.text("name"), tag.text("pntRef"), tag.text("desc"), tag.line, tag.column});
}

void LandxmlReader::start_setup(const XmlTag& tag) {
    if (setups_.size() >= kMostImported) {
        stop({ErrorCode::file_too_large, place(tag), "more than 2,000,000 set-ups",
              "a file with fewer"});
        return;
    }
    SetupRecord record;
    record.id = tag.text("id");
    record.setup.station = std::string(trimmed(tag.text("stationName")));
    if (record.setup.station.empty()) record.setup.station = record.id;
    if (record.setup.station.empty()) {
        stop({ErrorCode::value_missing, place(tag), "a set-up without id and stationName",
              "id and stationName"});
        return;
    }
    constexpr double kTallest_m = 100.0;
    record.setup.instrument_height_m = length(tag, "instrumentHeight", -kTallest_m, kTallest_m);
    record.setup.place = place(tag);
    setup_ = static_cast<int>(setups_.size());
    setups_.push_back(std::move(record));
}

void LandxmlReader::end_instrument_point(std::string_view text) {
    if (setup_ < 0) return;
    SetupRecord& record = setups_[static_cast<std::size_t>(setup_)];
    record.setup.mark = instrument_ref_;
    if (trimmed(text).empty() || !instrument_ref_.empty()) return;
    ImportedPoint point;
    point.name = record.setup.station;
    point.line = record.setup.place.line;
    point.column = record.setup.place.column;
    if (!set_position(point, text)) return;
    record.setup.mark = point.name;
    import_.points.push_back(std::move(point));
}

void LandxmlReader::start_target_setup(const XmlTag& tag) {
    TargetSetup target;
    target.height_m = length(tag, "targetHeight", -100.0, 100.0);
    target.constant_m = length(tag, "prismConstant", -1.0, 1.0);
    const std::string id = tag.text("id");
    if (!id.empty()) target_setups_[id] = target;
}

void LandxmlReader::start_backsight(const XmlTag& tag) {
    backsight_.emplace();
    backsight_setup_id_ = tag.text("setupID");
    if (backsight_setup_id_.empty() && setup_ >= 0) {
        backsight_setup_id_ = setups_[static_cast<std::size_t>(setup_)].id;
    }
    if (backsight_setup_id_.empty() && group_) backsight_setup_id_ = group_->setup_id;
    if (group_ && group_->setup_id.empty()) group_->setup_id = backsight_setup_id_;
    backsight_->circle_rad = angle(tag, "circle", units_.angle);
    backsight_->azimuth_rad =
        angle(tag, "azimuth", units_.direction ? units_.direction : units_.angle);
}

void LandxmlReader::start_observation(const XmlTag& tag) {
    if (import_.sights.size() >= kMostImported) {
        stop({ErrorCode::file_too_large, place(tag), "more than 2,000,000 observations",
              "a file with fewer"});
        return;
    }
    in_observation_ = true;
    observation_left_.clear();
    target_.clear();
    sight_ = {};
    observation_ = {};
    sight_.place = place(tag);
    sight_.station = tag.text("setupID");
    if (sight_.station.empty() && group_) sight_.station = group_->setup_id;
    if (sight_.station.empty() && setup_ >= 0) {
        sight_.station = setups_[static_cast<std::size_t>(setup_)].id;
    }
    observation_.target_setup_id = tag.text("targetSetupID");
    if (observation_.target_setup_id.empty() && group_) {
        observation_.target_setup_id = group_->target_setup_id;
    }
    observation_.purpose = tag.text("purpose");
    if (observation_.purpose.empty() && group_) observation_.purpose = group_->purpose;
    sight_.direction_rad = angle(tag, "horizAngle", units_.angle);
    sight_.zenith_rad = angle(tag, "zenithAngle", units_.angle);
    sight_.slope_distance_m = length(tag, "slopeDistance", -kLargestDistance_m, kLargestDistance_m);
    sight_.horizontal_distance_m =
        length(tag, "horizDistance", -kLargestDistance_m, kLargestDistance_m);
    if (const auto height = length(tag, "targetHeight", -100.0, 100.0)) {
        sight_.target_height_m = *height;
        observation_.has_height = true;
    }
    if (const auto face = tag.find("directFace")) {
        const bool is_one = *face == "true" || *face == "1";
        sight_.face = is_one ? measure::Face::one : measure::Face::two;
    }
    sight_.time_text = tag.text("timeStamp");
    if (!sight_.time_text.empty()) {
        const auto time = parse_time(sight_.time_text, sight_.place);
        if (time) sight_.time_s = *time;
    }
    if (tag.text("status") == "deleted") observation_left_ = "deleted in the file";
    const std::string unused = tag.text("unused");
    if (unused == "true" || unused == "1") observation_left_ = "marked unused in the file";
}

void LandxmlReader::end_observation() {
    in_observation_ = false;
    measure::Sight& s = sight_;
    const auto drop_nothing = [](std::optional<double>& d) {
        if (d && *d <= 0.0) d.reset();
    };
    drop_nothing(s.slope_distance_m);
    drop_nothing(s.horizontal_distance_m);
    if (s.zenith_rad && s.horizontal_distance_m) {
        // Our sights hold one or the other; with the zenith angle they say the same.
        const double sine = std::abs(std::sin(*s.zenith_rad));
        if (!s.slope_distance_m && sine > 0.01)
            s.slope_distance_m = *s.horizontal_distance_m / sine;
        s.horizontal_distance_m.reset();
    }
    if (s.slope_distance_m) s.horizontal_distance_m.reset();
    if (observation_left_.empty() && target_.empty()) observation_left_ = "no target is named";
    if (observation_left_.empty() && s.station.empty()) observation_left_ = "no set-up is named";
    if (observation_left_.empty() && !s.direction_rad && !s.zenith_rad && !s.slope_distance_m &&
        !s.horizontal_distance_m) {
        observation_left_ = "neither angle nor distance";
    }
    if (!observation_left_.empty()) {
        import_.leave("RawObservation", observation_left_, s.place);
        return;
    }
    s.target = std::move(target_);
    import_.sights.push_back(std::move(s));
    observations_.push_back(std::move(observation_));
}

Result<Done> LandxmlReader::resolve_points() {
    by_name_.reserve(import_.points.size());
    std::unordered_map<int, const std::string*> waits;
    for (const auto& [index, ref] : pending_) waits[index] = &ref;
    // A point with coordinates of its own comes before one that only refers.
    for (std::size_t i = 0; i < import_.points.size(); ++i) {
        if (!waits.contains(static_cast<int>(i))) {
            by_name_.emplace(import_.points[i].name, static_cast<int>(i));
        }
    }
    for (const auto& [index, ref] : pending_) {
        by_name_.emplace(import_.points[static_cast<std::size_t>(index)].name, index);
    }
    std::vector<int> lost;
    for (const auto& [index, first] : pending_) {
        ImportedPoint& point = import_.points[static_cast<std::size_t>(index)];
        std::vector<int> chain{index};
        int at = find(first);
        while (at >= 0 && waits.contains(at)) {
            if (std::find(chain.begin(), chain.end(), at) != chain.end() || chain.size() > 64) {
                return Refusal{
                    ErrorCode::reference_circular,
                    {document_.name, point.line, point.column},
                    "point " + in_quotes(point.name) + ", whose pntRef leads in a circle",
                    "a reference to a point with coordinates"};
            }
            chain.push_back(at);
            at = find(*waits[at]);
        }
        if (at < 0) {
            import_.leave("CgPoint", "refers to a point that is not in the file",
                          {document_.name, point.line, point.column});
            lost.push_back(index);
            continue;
        }
        const ImportedPoint& from = import_.points[static_cast<std::size_t>(at)];
        point.north_m = from.north_m;
        point.east_m = from.east_m;
        point.height_m = from.height_m;
    }
    if (!lost.empty()) {
        const std::unordered_set<int> gone(lost.begin(), lost.end());
        std::size_t kept = 0;
        for (std::size_t i = 0; i < import_.points.size(); ++i) {
            if (gone.contains(static_cast<int>(i))) continue;
            if (kept != i) import_.points[kept] = std::move(import_.points[i]);
            ++kept;
        }
        import_.points.resize(kept);
        name_points();
    }
    return Done{};
}

void LandxmlReader::resolve_monuments() {
    std::vector<ImportedPoint> added;
    for (const MonumentRecord& m : monuments_) {
        const std::string& ref = m.ref.empty() ? m.name : m.ref;
        const int at = find(ref);
        if (at < 0) {
            import_.leave("Monument", "its point is not in the file",
                          {document_.name, m.line, m.column});
            continue;
        }
        ImportedPoint& point = import_.points[static_cast<std::size_t>(at)];
        point.is_control = true;
        if (point.name == m.name || m.name.empty()) {
            point.source = PointSource::monument;
            continue;
        }
        ImportedPoint copy = point;
        copy.name = m.name;
        copy.note = m.note.empty() ? point.note : m.note;
        copy.source = PointSource::monument;
        copy.line = m.line;
        copy.column = m.column;
        added.push_back(std::move(copy));
    }
    if (added.empty()) return;
    for (ImportedPoint& point : added) import_.points.push_back(std::move(point));
    name_points();
}

void LandxmlReader::resolve_setups() {
    std::unordered_map<std::string, int> names;
    std::unordered_map<std::string, std::string> station_of;
    int number = 0;
    for (SetupRecord& record : setups_) {
        station::Setup& setup = record.setup;
        ++number;
        if (++names[setup.station] > 1) {
            const std::string first = setup.station;
            setup.station = fmt::format("{} ({})", first, record.id);
            if (record.id.empty() || ++names[setup.station] > 1) {
                setup.station = fmt::format("{} (set-up {})", first, number);
            }
            notice(
                fmt::format("{}:{}: station {} is set up more than once; this set-up is called {}",
                            document_.name, setup.place.line, first, setup.station));
        }
        if (!record.id.empty()) station_of.emplace(record.id, setup.station);
        if (setup.mark.empty() && find(setup.station) >= 0) setup.mark = setup.station;
    }
    for (std::size_t i = 0; i < import_.sights.size(); ++i) {
        measure::Sight& s = import_.sights[i];
        const auto found = station_of.find(s.station);
        s.station = found == station_of.end() ? std::string() : found->second;
    }
    std::unordered_set<std::string> resections;
    for (std::size_t i = 0; i < import_.sights.size(); ++i) {
        if (lower(observations_[i].purpose) == "resection") {
            resections.insert(import_.sights[i].station);
        }
    }
    for (SetupRecord& record : setups_) {
        station::Setup& setup = record.setup;
        const bool is_free = setup.mark.empty() || resections.contains(setup.station);
        setup.kind = is_free ? station::SetupKind::free : station::SetupKind::occupied;
        if (is_free) setup.mark.clear();
        // The format needs an instrument height; a free set-up has none, and 0 says so.
        if (is_free && setup.instrument_height_m == 0.0) setup.instrument_height_m.reset();
        import_.setups.push_back(setup);
    }
    for (auto& [id, backsight] : backsights_) {
        const auto found = station_of.find(id);
        if (found == station_of.end() || backsight.target.empty()) {
            import_.leave("Backsight", "its set-up or target is not in the file",
                          {document_.name, 0, 0});
            continue;
        }
        backsight.station = found->second;
        backsight_pairs_.insert(backsight.station + '\n' + backsight.target);
        import_.backsights.push_back(std::move(backsight));
    }
}

Purpose LandxmlReader::purpose_of(const measure::Sight& sight, std::string_view word) const {
    const std::string purpose = lower(word);
    if (purpose == "check") return Purpose::check;
    if (purpose == "asbuilt" || purpose == "cutsheets") return Purpose::lay;
    if (purpose == "backsight" || purpose == "resection" || purpose == "traverse") {
        return Purpose::control;
    }
    if (purpose == "sideshot" || purpose == "topo") return Purpose::other;
    const int at = find(sight.target);
    const bool is_control = at >= 0 && import_.points[static_cast<std::size_t>(at)].is_control;
    if (is_control || backsight_pairs_.contains(sight.station + '\n' + sight.target)) {
        return Purpose::control;
    }
    return Purpose::other;
}

void LandxmlReader::resolve_sights() {
    std::size_t kept = 0;
    for (std::size_t i = 0; i < import_.sights.size(); ++i) {
        measure::Sight& s = import_.sights[i];
        const Observation& o = observations_[i];
        if (s.station.empty()) {
            import_.leave("RawObservation", "its set-up is not in the file", s.place);
            continue;
        }
        if (!o.target_setup_id.empty()) {
            const auto found = target_setups_.find(o.target_setup_id);
            if (found != target_setups_.end()) {
                if (!o.has_height && found->second.height_m) {
                    s.target_height_m = *found->second.height_m;
                }
                s.prism_constant_m = found->second.constant_m.value_or(0.0);
            }
        }
        s.purpose = purpose_of(s, o.purpose);
        if (kept != i) import_.sights[kept] = std::move(s);
        ++kept;
    }
    import_.sights.resize(kept);
}

Result<Done> LandxmlReader::finish() {
    auto done = resolve_points();
    if (!done) return done;
    resolve_monuments();
    resolve_setups();
    resolve_sights();
    if (zero_heights_ > 0) {
        import_.notices.push_back(
            fmt::format("{}: {} points have the height 0, which some programs write for none",
                        document_.name, zero_heights_));
    }
    if (made_names_ > 0) {
        import_.notices.push_back(fmt::format("{}: {} points have no name and were given one",
                                              document_.name, made_names_));
    }
    return Done{};
}

}  // namespace

Result<Import> read_landxml(const Document& document, const ReadOptions& options) {
    Import import;
    import.format = FileFormat::landxml;
    UnitsFinder finder(document.name);
    auto found = finder.run(document);
    if (!found) return found.refusal();
    import.version = "LandXML " + finder.version;
    LandXmlUnits units;
    if (finder.units) {
        units = *finder.units;
        import.unit.is_stated = true;
        import.unit.words = finder.evidence;
        if (options.unit && options.unit != units.unit) {
            import.notices.push_back(
                fmt::format("{}: the file says linearUnit=\"{}\"; the unit given beside it ({}) "
                            "was not used",
                            document.name, units.linear_word, measure::to_word(*options.unit)));
        }
    } else if (options.unit) {
        units.metres_per_unit = measure::metres_per(*options.unit);
        units.unit = options.unit;
        import.unit.words = "the file has no Units";
    } else {
        return Refusal{ErrorCode::unit_missing,
                       {document.name, 1, 1},
                       "a LandXML file without Units",
                       "Units in the file, or the unit stated with --unit m, ft or us-ft"};
    }
    import.unit.metres_per_unit = units.metres_per_unit;
    import.unit.unit = units.unit;
    import.points.reserve(occurrences(document.bytes, "<CgPoint "));
    import.sights.reserve(occurrences(document.bytes, "<RawObservation "));
    LandxmlReader reader(document, units, finder.units.has_value(), import);
    auto done = reader.run(document);
    if (!done) return done.refusal();
    done = reader.finish();
    if (!done) return done.refusal();
    return import;
}

}  // namespace layproof::exchange
