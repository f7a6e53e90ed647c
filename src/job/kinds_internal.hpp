#pragma once
// The columns of each kind of fact, in the order of its table. Not for other rooms.
//
// Each kind unpacks its struct whole, so that a member added in another room does not compile here
// until it is given a column: a fact must not lose a part on its way into the job.

#include <cmath>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "job/canonical_internal.hpp"
#include "job/facts.hpp"
#include "job/sqlite_internal.hpp"

namespace layproof::job {

/// The word and table of a kind, and fields(value, visitor), which calls visitor(column, member).
template <class T>
struct Kind;

template <>
struct Kind<Document> {
    static constexpr const char* kWord = "document";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [name, role, note, size_bytes, digest] = s;
        v("name", name);
        v("role", role);
        v("note", note);
        v("size_bytes", size_bytes);
        v("sha256", digest);
    }
};

template <>
struct Kind<frame::Mark> {
    static constexpr const char* kWord = "mark";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [name, east_m, north_m, height_m, sd_east_m, sd_north_m, sd_height_m, role, note,
               place] = s;
        v("name", name);
        v("east_m", east_m);
        v("north_m", north_m);
        v("height_m", height_m);
        v("sd_east_m", sd_east_m);
        v("sd_north_m", sd_north_m);
        v("sd_height_m", sd_height_m);
        v("role", role);
        v("note", note);
        v("place", place);
    }
};

template <>
struct Kind<station::Setup> {
    static constexpr const char* kWord = "setup";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [station, kind, mark, instrument_height_m, time_s, time_text, temperature_k,
               pressure_hpa, place] = s;
        v("station", station);
        v("kind", kind);
        v("mark", mark);
        v("instrument_height_m", instrument_height_m);
        v("time_s", time_s);
        v("time_text", time_text);
        v("temperature_k", temperature_k);
        v("pressure_hpa", pressure_hpa);
        v("place", place);
    }
};

template <>
struct Kind<measure::Sight> {
    static constexpr const char* kWord = "sight";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [station, target, direction_rad, zenith_rad, slope_distance_m, horizontal_distance_m,
               target_height_m, face, purpose, prism_constant_m, temperature_k, pressure_hpa,
               time_s, time_text, note, place] = s;
        v("station", station);
        v("target", target);
        v("direction_rad", direction_rad);
        v("zenith_rad", zenith_rad);
        v("slope_distance_m", slope_distance_m);
        v("horizontal_distance_m", horizontal_distance_m);
        v("target_height_m", target_height_m);
        v("face", face);
        v("purpose", purpose);
        v("prism_constant_m", prism_constant_m);
        v("temperature_k", temperature_k);
        v("pressure_hpa", pressure_hpa);
        v("time_s", time_s);
        v("time_text", time_text);
        v("note", note);
        v("place", place);
    }
};

template <>
struct Kind<frame::DesignPoint> {
    static constexpr const char* kWord = "point";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [name, east_m, north_m, height_m, element, tolerance_plan_m, tolerance_height_m, note,
               place] = s;
        v("name", name);
        v("east_m", east_m);
        v("north_m", north_m);
        v("height_m", height_m);
        v("element", element);
        v("tolerance_plan_m", tolerance_plan_m);
        v("tolerance_height_m", tolerance_height_m);
        v("note", note);
        v("place", place);
    }
};

template <>
struct Kind<Tolerance> {
    static constexpr const char* kWord = "tolerance";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [subject, quantity, minus_m, plus_m, formula, original_text, standard, edition,
               clause, from_memory, note, place] = s;
        v("subject", subject);
        v("quantity", quantity);
        v("minus_m", minus_m);
        v("plus_m", plus_m);
        v("formula", formula);
        v("original_text", original_text);
        v("standard", standard);
        v("edition", edition);
        v("clause", clause);
        v("from_memory", from_memory);
        v("note", note);
        v("place", place);
    }
};

template <>
struct Kind<measure::Instrument> {
    static constexpr const char* kWord = "instrument";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [angle_sd_rad, distance_sd_m, distance_ppm, bubble_rad, centring_m, height_tape_m,
               instrument_centring_m, refraction_k, refraction_k_sd, marking_m, wavelength_um,
               reference_temperature_k, reference_pressure_hpa, stated, name] = s;
        v("angle_sd_rad", angle_sd_rad);
        v("distance_sd_m", distance_sd_m);
        v("distance_ppm", distance_ppm);
        v("bubble_rad", bubble_rad);
        v("centring_m", centring_m);
        v("height_tape_m", height_tape_m);
        v("instrument_centring_m", instrument_centring_m);
        v("refraction_k", refraction_k);
        v("refraction_k_sd", refraction_k_sd);
        v("marking_m", marking_m);
        v("wavelength_um", wavelength_um);
        v("reference_temperature_k", reference_temperature_k);
        v("reference_pressure_hpa", reference_pressure_hpa);
        v("stated", stated);
        v("name", name);
    }
};

template <>
struct Kind<ColumnMap> {
    static constexpr const char* kWord = "column_map";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [name, reads, toml] = s;
        v("name", name);
        v("reads", reads);
        v("toml", toml);
    }
};

template <>
struct Kind<Decision> {
    static constexpr const char* kWord = "decision";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [kind, subject, reason, time_s, time_text, initials] = s;
        auto& [subject_kind, subject_name, subject_fact] = subject;
        v("decision", kind);
        v("subject_kind", subject_kind);
        v("subject_name", subject_name);
        v("subject_fact", subject_fact);
        v("reason", reason);
        v("time_s", time_s);
        v("time_text", time_text);
        v("initials", initials);
    }
};

template <>
struct Kind<Setting> {
    static constexpr const char* kWord = "setting";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [name, value] = s;
        v("name", name);
        v("value", value);
    }
};

template <>
struct Kind<network::Tape> {
    static constexpr const char* kWord = "tape";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [from, to, distance_m, sd_m, is_slope, place] = s;
        v("from_mark", from);
        v("to_mark", to);
        v("distance_m", distance_m);
        v("sd_m", sd_m);
        v("is_slope", is_slope);
        v("place", place);
    }
};

template <>
struct Kind<network::LevelRise> {
    static constexpr const char* kWord = "level_rise";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [from, to, rise_m, sd_m, place] = s;
        v("from_mark", from);
        v("to_mark", to);
        v("rise_m", rise_m);
        v("sd_m", sd_m);
        v("place", place);
    }
};

template <>
struct Kind<DrawnMark> {
    static constexpr const char* kWord = "drawn_mark";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [mark] = s;
        Kind<frame::Mark>::fields(mark, v);
    }
};

template <>
struct Kind<network::LevelReading> {
    static constexpr const char* kWord = "level_reading";
    template <class S, class V>
    static void fields(S& s, V&& v) {
        auto& [run, point, backsight_m, intermediate_m, foresight_m, backsight_distance_m,
               foresight_distance_m, sd_km_m, sd_turn_m, time_s, time_text, note, place] = s;
        v("run", run);
        v("point", point);
        v("backsight_m", backsight_m);
        v("intermediate_m", intermediate_m);
        v("foresight_m", foresight_m);
        v("backsight_distance_m", backsight_distance_m);
        v("foresight_distance_m", foresight_distance_m);
        v("sd_km_m", sd_km_m);
        v("sd_turn_m", sd_turn_m);
        v("time_s", time_s);
        v("time_text", time_text);
        v("note", note);
        v("place", place);
    }
};

/// Calls what with a Kind<T> for each kind there is.
template <class What>
void for_each_kind(What&& what) {
    what(Kind<Document>{});
    what(Kind<frame::Mark>{});
    what(Kind<station::Setup>{});
    what(Kind<measure::Sight>{});
    what(Kind<frame::DesignPoint>{});
    what(Kind<Tolerance>{});
    what(Kind<measure::Instrument>{});
    what(Kind<ColumnMap>{});
    what(Kind<Decision>{});
    what(Kind<Setting>{});
    what(Kind<network::Tape>{});
    what(Kind<network::LevelRise>{});
    what(Kind<DrawnMark>{});
    what(Kind<network::LevelReading>{});
}

// Words of the enumerations as they stand in the file.
std::string_view word_of(measure::Purpose value);
std::string_view word_of(measure::Face value);
std::string_view word_of(station::SetupKind value);
std::string_view word_of(DecisionKind value);
std::string_view word_of(SubjectKind value);
bool from_word(std::string_view word, measure::Purpose& out);
bool from_word(std::string_view word, measure::Face& out);
bool from_word(std::string_view word, station::SetupKind& out);
bool from_word(std::string_view word, DecisionKind& out);
bool from_word(std::string_view word, SubjectKind& out);

/// Turns members into values. `bad_column` names the first number that is not finite.
struct ToRow {
    Row row;
    const char* bad_column = nullptr;

    void operator()(const char* column, const double& value) {
        if (!std::isfinite(value) && bad_column == nullptr) bad_column = column;
        row.emplace_back(value == 0.0 ? 0.0 : value);
    }
    void operator()(const char* column, const std::optional<double>& value) {
        if (value.has_value()) {
            (*this)(column, *value);
        } else {
            row.emplace_back();
        }
    }
    void operator()(const char*, const std::string& value) { row.emplace_back(value); }
    void operator()(const char*, const std::int64_t& value) { row.emplace_back(value); }
    void operator()(const char*, const bool& value) {
        row.emplace_back(static_cast<std::int64_t>(value));
    }
    void operator()(const char*, const Digest& value) {
        row.emplace_back(Bytes(value.bytes.begin(), value.bytes.end()));
    }
    void operator()(const char*, const std::optional<FactId>& value) {
        if (value.has_value()) {
            row.emplace_back(Bytes(value->bytes.begin(), value->bytes.end()));
        } else {
            row.emplace_back();
        }
    }
    void operator()(const char*, const Place& value) {
        row.emplace_back(value.file);
        row.emplace_back(static_cast<std::int64_t>(value.line));
        row.emplace_back(static_cast<std::int64_t>(value.column));
    }
    template <class E>
    requires std::is_enum_v<E>
    void operator()(const char*, const E& value) { row.emplace_back(std::string(word_of(value))); }
};

/// Fills members from the columns of a statement, from `column` on.
struct FromStatement {
    const Statement& statement;
    int column;
    bool good = true;

    void operator()(const char*, double& value) { value = statement.real(column++); }
    void operator()(const char*, std::optional<double>& value) {
        if (!statement.is_null(column)) value = statement.real(column);
        ++column;
    }
    void operator()(const char*, std::string& value) { value = statement.text(column++); }
    void operator()(const char*, std::int64_t& value) { value = statement.integer(column++); }
    void operator()(const char*, bool& value) { value = statement.integer(column++) != 0; }
    void operator()(const char*, Digest& value) {
        good = statement.blob_into(column++, value.bytes) && good;
    }
    void operator()(const char*, std::optional<FactId>& value) {
        if (!statement.is_null(column)) {
            value.emplace();
            good = statement.blob_into(column, value->bytes) && good;
        }
        ++column;
    }
    void operator()(const char*, Place& value) {
        value.file = statement.text(column);
        value.line = static_cast<int>(statement.integer(column + 1));
        value.column = static_cast<int>(statement.integer(column + 2));
        column += 3;
    }
    template <class E>
    requires std::is_enum_v<E>
    void operator()(const char*, E& value) {
        good = from_word(statement.text(column++), value) && good;
    }
};

/// Names of the columns, in order.
struct ColumnNames {
    std::vector<std::string> names;

    template <class M>
    void operator()(const char* column, const M&) {
        if constexpr (std::is_same_v<M, Place>) {
            for (const char* part : {"_file", "_line", "_column"}) {
                names.push_back(std::string(column) + part);
            }
        } else {
            names.emplace_back(column);
        }
    }
};

template <class T>
std::vector<std::string> columns_of() {
    ColumnNames out;
    const T empty{};
    Kind<T>::fields(empty, out);
    return out.names;
}

/// "a, b, c", each with `prefix` in front.
std::string joined(const std::vector<std::string>& names, std::string_view prefix);

/// A kind by its word, as far as a table can say it.
struct KindTable {
    std::string word;                  ///< also the table's name
    std::vector<std::string> columns;  ///< without seq
    std::string insert_sql;            ///< seq, then the columns
    std::string select_sql;            ///< the columns, for one seq
};
const std::vector<KindTable>& kind_tables();
const KindTable* kind_table(std::string_view word);

}  // namespace layproof::job
