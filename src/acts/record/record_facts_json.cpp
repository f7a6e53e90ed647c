// record-facts.json, written and read by one description of each struct, so that the two cannot
// differ.

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <stdexcept>
#include <type_traits>

#include "acts/record/record_facts.hpp"
#include "acts/shared/version.hpp"

namespace layproof::acts {
namespace {

using FactsJson = nlohmann::ordered_json;

constexpr int kFormat = 1;

/// What read_facts_json catches.
struct FactsFault : std::runtime_error {
    ErrorCode code;
    FactsFault(ErrorCode c, const std::string& what) : std::runtime_error(what), code(c) {}
};

struct Putter {
    FactsJson& json;
    template <class T>
    void field(const char* name, const T& value);
    /// Stands there only with something in it: a record that was made before there were such rows
    /// is the same bytes still.
    template <class T>
    void list_if_any(const char* name, const std::vector<T>& rows);
};

struct Taker {
    const FactsJson& json;
    template <class T>
    void field(const char* name, T& value);
    template <class T>
    void list_if_any(const char* name, std::vector<T>& rows);
};

/// Put and take of the enumerations: their numbers are part of the format.
template <class T>
concept Choice = std::is_enum_v<T>;

template <class Fields>
void describe(Fields& f, Place& v) {
    f.field("file", v.file);
    f.field("line", v.line);
    f.field("column", v.column);
}
template <class Fields>
void describe(Fields& f, frame::Mark& v) {
    f.field("name", v.name);
    f.field("east_m", v.east_m);
    f.field("north_m", v.north_m);
    f.field("height_m", v.height_m);
    f.field("sd_east_m", v.sd_east_m);
    f.field("sd_north_m", v.sd_north_m);
    f.field("sd_height_m", v.sd_height_m);
    f.field("role", v.role);
    f.field("note", v.note);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, frame::DesignPoint& v) {
    f.field("name", v.name);
    f.field("east_m", v.east_m);
    f.field("north_m", v.north_m);
    f.field("height_m", v.height_m);
    f.field("element", v.element);
    f.field("tolerance_plan_m", v.tolerance_plan_m);
    f.field("tolerance_height_m", v.tolerance_height_m);
    f.field("note", v.note);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, measure::Sight& v) {
    f.field("station", v.station);
    f.field("target", v.target);
    f.field("direction_rad", v.direction_rad);
    f.field("zenith_rad", v.zenith_rad);
    f.field("slope_distance_m", v.slope_distance_m);
    f.field("horizontal_distance_m", v.horizontal_distance_m);
    f.field("target_height_m", v.target_height_m);
    f.field("face", v.face);
    f.field("purpose", v.purpose);
    f.field("prism_constant_m", v.prism_constant_m);
    f.field("temperature_k", v.temperature_k);
    f.field("pressure_hpa", v.pressure_hpa);
    f.field("time_s", v.time_s);
    f.field("time", v.time_text);
    f.field("note", v.note);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, station::Setup& v) {
    f.field("station", v.station);
    f.field("kind", v.kind);
    f.field("mark", v.mark);
    f.field("instrument_height_m", v.instrument_height_m);
    f.field("time_s", v.time_s);
    f.field("time", v.time_text);
    f.field("temperature_k", v.temperature_k);
    f.field("pressure_hpa", v.pressure_hpa);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, measure::Instrument& v) {
    f.field("angle_sd_rad", v.angle_sd_rad);
    f.field("distance_sd_m", v.distance_sd_m);
    f.field("distance_ppm", v.distance_ppm);
    f.field("bubble_rad", v.bubble_rad);
    f.field("centring_m", v.centring_m);
    f.field("height_tape_m", v.height_tape_m);
    f.field("instrument_centring_m", v.instrument_centring_m);
    f.field("refraction_k", v.refraction_k);
    f.field("refraction_k_sd", v.refraction_k_sd);
    f.field("marking_m", v.marking_m);
    f.field("wavelength_um", v.wavelength_um);
    f.field("reference_temperature_k", v.reference_temperature_k);
    f.field("reference_pressure_hpa", v.reference_pressure_hpa);
    f.field("stated", v.stated);
    f.field("name", v.name);
}
template <class Fields>
void describe(Fields& f, exchange::Document& v) {
    f.field("name", v.name);
    f.field("bytes", v.bytes);
}
template <class Fields>
void describe(Fields& f, JobFacts::Aside& v) {
    f.field("sight", v.sight);
    f.field("reason", v.reason);
}
template <class Fields>
void describe(Fields& f, network::Tape& v) {
    f.field("from", v.from);
    f.field("to", v.to);
    f.field("distance_m", v.distance_m);
    f.field("sd_m", v.sd_m);
    f.field("is_slope", v.is_slope);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, network::LevelRise& v) {
    f.field("from", v.from);
    f.field("to", v.to);
    f.field("rise_m", v.rise_m);
    f.field("sd_m", v.sd_m);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, network::LevelReading& v) {
    f.field("run", v.run);
    f.field("point", v.point);
    f.field("backsight_m", v.backsight_m);
    f.field("intermediate_m", v.intermediate_m);
    f.field("foresight_m", v.foresight_m);
    f.field("backsight_distance_m", v.backsight_distance_m);
    f.field("foresight_distance_m", v.foresight_distance_m);
    f.field("sd_km_m", v.sd_km_m);
    f.field("sd_turn_m", v.sd_turn_m);
    f.field("time_s", v.time_s);
    f.field("time", v.time_text);
    f.field("note", v.note);
    f.field("place", v.place);
}
template <class Fields>
void describe(Fields& f, network::LevelRun& v) {
    f.field("name", v.name);
    f.field("readings", v.readings);
}
template <class Fields>
void describe(Fields& f, JobFacts& v) {
    f.field("name", v.name);
    f.field("unit", v.unit);
    f.field("marks_unit", v.marks_unit);
    f.field("points_unit", v.points_unit);
    f.field("marks", v.marks);
    f.field("setups", v.setups);
    f.field("sights", v.sights);
    f.field("points", v.points);
    f.field("instrument", v.instrument);
    f.field("instruments", v.instruments);
    f.field("grid", v.grid);
    f.field("grid_unit", v.grid_unit);
    f.field("grid_map", v.grid_map);
    f.field("causes", v.causes);
    f.field("set_aside", v.set_aside);
    f.field("notices", v.notices);
    f.list_if_any("tapes", v.tapes);
    f.list_if_any("levels", v.levels);
    f.list_if_any("level_runs", v.level_runs);
}
template <class Fields>
void describe(Fields& f, measure::LengthStyle& v) {
    f.field("unit", v.unit);
    f.field("feet_and_inches", v.feet_and_inches);
    f.field("denominator", v.denominator);
}
template <class Fields>
void describe(Fields& f, RecordOptions& v) {
    f.field("as_of_ms", v.as_of);
    f.field("show", v.show);
    f.field("confidence", v.confidence);
    f.field("scale_factor", v.scale_factor);
}
template <class Fields>
void describe(Fields& f, RecordSource& v) {
    f.field("name", v.name);
    f.field("role", v.role);
    f.field("note", v.note);
    f.field("revision", v.revision);
    f.field("sha256", v.digest);
    f.field("size_bytes", v.size_bytes);
    f.field("taken_ms", v.taken_ms);
}
template <class Fields>
void describe(Fields& f, RecordDecision& v) {
    f.field("kind", v.kind);
    f.field("what", v.what);
    f.field("reason", v.reason);
    f.field("initials", v.initials);
    f.field("time", v.time);
}
template <class Fields>
void describe(Fields& f, RecordChain& v) {
    f.field("writer", v.writer);
    f.field("facts", v.facts);
    f.field("head", v.head);
}
template <class Fields>
void describe(Fields& f, RecordFacts& v) {
    f.field("version", v.version);
    f.field("title", v.title);
    f.field("job", v.job);
    f.field("options", v.options);
    f.field("last_ms", v.last_ms);
    f.field("sources", v.sources);
    f.field("decisions", v.decisions);
    f.field("chains", v.chains);
    f.field("conflicts", v.conflicts);
    f.field("mark_sheets", v.mark_sheets);
    f.field("point_sheets", v.point_sheets);
    f.field("refused", v.refused);
    f.field("facts", v.facts);
}

FactsJson put(const std::string& v) {
    return v;
}
FactsJson put(bool v) {
    return v;
}
FactsJson put(double v) {
    return v;
}
FactsJson put(int v) {
    return v;
}
FactsJson put(std::int64_t v) {
    return v;
}
FactsJson put(std::size_t v) {
    return v;
}
template <Choice T>
FactsJson put(const T& v) {
    return static_cast<int>(v);
}
FactsJson put(const measure::LengthUnit& v) {
    return std::string(measure::to_word(v));
}
template <class T>
FactsJson put(const std::optional<T>& v);
template <class T>
FactsJson put(const std::vector<T>& v);
FactsJson put(const std::map<std::string, std::string>& v) {
    FactsJson out = FactsJson::object();
    for (const auto& [key, value] : v) out[key] = value;
    return out;
}
template <class T>
requires std::is_class_v<T> FactsJson put(const T& v) {
    FactsJson out = FactsJson::object();
    Putter putter{out};
    describe(putter, const_cast<T&>(v));
    return out;
}
template <class T>
FactsJson put(const std::optional<T>& v) {
    return v ? put(*v) : FactsJson(nullptr);
}
template <class T>
FactsJson put(const std::vector<T>& v) {
    FactsJson out = FactsJson::array();
    for (const T& one : v) out.push_back(put(one));
    return out;
}
template <class T>
void Putter::field(const char* name, const T& value) {
    json[name] = put(value);
}

template <class T>
void Putter::list_if_any(const char* name, const std::vector<T>& rows) {
    if (!rows.empty()) json[name] = put(rows);
}

[[noreturn]] void wrong_type(const char* expected) {
    throw FactsFault(ErrorCode::request_type_wrong, expected);
}

void take(const FactsJson& j, std::string& v) {
    if (!j.is_string()) wrong_type("a text");
    v = j.get<std::string>();
}
void take(const FactsJson& j, bool& v) {
    if (!j.is_boolean()) wrong_type("true or false");
    v = j.get<bool>();
}
void take(const FactsJson& j, double& v) {
    if (!j.is_number()) wrong_type("a number");
    v = j.get<double>();
}
template <class T>
requires std::is_integral_v<T>
void take(const FactsJson& j, T& v) {
    if (!j.is_number_integer()) wrong_type("a whole number");
    v = j.get<T>();
}
template <Choice T>
void take(const FactsJson& j, T& v) {
    constexpr int kMostWords = 2;  // face, purpose and kind of set-up: 0 to 2, purpose to 3
    int number = 0;
    take(j, number);
    const int most = std::is_same_v<T, measure::Purpose> ? kMostWords + 1 : kMostWords;
    if (number < 0 || number > most)
        throw FactsFault(ErrorCode::out_of_range, fmt::format("{} as a word's number", number));
    v = static_cast<T>(number);
}
void take(const FactsJson& j, measure::LengthUnit& v) {
    std::string word;
    take(j, word);
    const auto unit = measure::length_unit_from_word(word);
    if (!unit) throw FactsFault(ErrorCode::unit_unknown, word);
    v = *unit;
}
template <class T>
void take(const FactsJson& j, std::optional<T>& v);
template <class T>
void take(const FactsJson& j, std::vector<T>& v);
void take(const FactsJson& j, std::map<std::string, std::string>& v) {
    if (!j.is_object()) wrong_type("an object");
    for (const auto& [key, value] : j.items()) take(value, v[key]);
}
template <class T>
requires std::is_class_v<T>
void take(const FactsJson& j, T& v) {
    if (!j.is_object()) wrong_type("an object");
    Taker taker{j};
    describe(taker, v);
}
template <class T>
void take(const FactsJson& j, std::optional<T>& v) {
    if (j.is_null()) {
        v.reset();
    } else {
        take(j, v.emplace());
    }
}
template <class T>
void take(const FactsJson& j, std::vector<T>& v) {
    if (!j.is_array()) wrong_type("a list");
    v.clear();
    v.reserve(j.size());
    for (const FactsJson& one : j) take(one, v.emplace_back());
}
template <class T>
void Taker::field(const char* name, T& value) {
    const auto at = json.find(name);
    if (at == json.end()) throw FactsFault(ErrorCode::request_field_missing, name);
    take(*at, value);
}

template <class T>
void Taker::list_if_any(const char* name, std::vector<T>& rows) {
    const auto at = json.find(name);
    if (at != json.end()) take(*at, rows);
}

/// What the acts rely on and JSON cannot promise.
void hold_to_bounds(const RecordFacts& facts) {
    const auto within = [](double value, double low, double high, const char* what) {
        if (!(value >= low && value <= high)) throw FactsFault(ErrorCode::out_of_range, what);
    };
    within(facts.options.confidence, 0.5, 1.0, "confidence");
    within(facts.options.scale_factor, 0.9, 1.1, "scale_factor");
    for (const JobFacts::Aside& aside : facts.facts.set_aside)
        if (aside.sight >= facts.facts.sights.size())
            throw FactsFault(ErrorCode::out_of_range, "a sight set aside that is not there");
}

}  // namespace

std::string to_facts_json(const RecordFacts& facts) {
    FactsJson out = {{"layproof", "record-facts"}, {"format", kFormat}};
    out["record"] = put(facts);
    // Bytes that are no text would make the whole unreadable.
    return out.dump(0, ' ', false, FactsJson::error_handler_t::replace) + "\n";
}

Result<RecordFacts> read_facts_json(std::string_view json) {
    const Place place{"record-facts.json", 0, 0};
    try {
        const FactsJson read = FactsJson::parse(json);
        if (!read.is_object() || read.value("layproof", "") != "record-facts")
            return Refusal{ErrorCode::request_not_json, place, "something else",
                           "the facts of a record"};
        if (read.value("format", 0) != kFormat)
            return Refusal{ErrorCode::out_of_range, place,
                           fmt::format("format {}", read.value("format", 0)),
                           fmt::format("format {}", kFormat)};
        const auto record = read.find("record");
        if (record == read.end()) throw FactsFault(ErrorCode::request_field_missing, "record");
        RecordFacts out;
        take(*record, out);
        hold_to_bounds(out);
        return out;
    } catch (const FactsFault& fault) {
        return Refusal{fault.code, place, fault.what(), "what layproof wrote"};
    } catch (const std::exception& error) {
        return Refusal{ErrorCode::request_not_json, place, error.what(), "a JSON document"};
    }
}

}  // namespace layproof::acts
