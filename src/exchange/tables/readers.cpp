#include "exchange/tables/readers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "exchange/tables/one_place.hpp"
#include "exchange/tables/rows.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using internal::is_first;
using internal::kCoordinate;
using internal::Names;
using internal::PlaceColumns;
using internal::read_place;
using internal::read_rows;

constexpr Range kTolerance{0.0, 100.0, false, "a tolerance above 0, at most 100 m"};
constexpr Range kHeightOverMark{-30.0, 30.0, true, "a height from -30 to 30 m"};
constexpr Range kPrismConstant{-1.0, 1.0, true,
                               "a prism constant from -1 to 1 m; in millimetres the header says "
                               "prism_constant [mm]"};
// Signs are looked at apart from size, because a negative distance has its own code.
constexpr Range kSightDistance{-1e300, kLargestDistance_m, true, "a distance of at most 100,000 m"};

template <class Row>
Table<Row> finished(TableReader& table, std::vector<Row> rows,
                    std::optional<measure::LengthUnit> unit) {
    return {std::move(rows), unit, table.take_notices()};
}

/// Tells of names that only letter case keeps apart: on paper they are the same mark.
void note_case_twins(TableReader& table, const Names& names) {
    std::vector<std::pair<std::string, std::string>> folded;
    folded.reserve(names.size());
    for (const auto& [name, line] : names) folded.emplace_back(lower(name), name);
    std::sort(folded.begin(), folded.end());
    for (std::size_t i = 1; i < folded.size(); ++i) {
        if (folded[i].first != folded[i - 1].first) continue;
        table.add_notice(fmt::format("The names {} and {} differ only in capital letters.",
                                     folded[i - 1].second, folded[i].second));
    }
}

class SightColumns {
public:
    explicit SightColumns(const TableSpec& spec)
        : station(column_index(spec, "station")),
          target(column_index(spec, "target")),
          direction(column_index(spec, "direction")),
          zenith(column_index(spec, "zenith")),
          slope_distance(column_index(spec, "slope_distance")),
          target_height(column_index(spec, "target_height")),
          horizontal_distance(column_index(spec, "horizontal_distance")),
          time(column_index(spec, "time")),
          face(column_index(spec, "face")),
          purpose(column_index(spec, "purpose")),
          prism_constant(column_index(spec, "prism_constant")),
          temperature(column_index(spec, "temperature")),
          pressure(column_index(spec, "pressure")) {}

    std::size_t station, target, direction, zenith, slope_distance, target_height,
        horizontal_distance, time, face, purpose, prism_constant, temperature, pressure;
};

measure::Face read_face(TableReader& table, std::size_t column) {
    using measure::Face;
    const std::string word = lower(table.text(column));
    if (word.empty()) return Face::unknown;
    if (word == "1" || word == "one" || word == "i" || word == "direct") return Face::one;
    if (word == "2" || word == "two" || word == "ii" || word == "reverse") return Face::two;
    table.refuse(ErrorCode::word_unknown, column, in_quotes(table.text(column)),
                 "1 or 2, one or two, I or II, direct or reverse, or nothing");
    return Face::unknown;
}

measure::Purpose read_purpose(TableReader& table, std::size_t column) {
    using measure::Purpose;
    const std::string_view word = table.text(column);
    if (word.empty()) return Purpose::control;
    if (const auto purpose = measure::purpose_of(word)) return *purpose;
    table.refuse(ErrorCode::word_unknown, column, in_quotes(word),
                 "control, check, lay or other, or nothing for control");
    return Purpose::other;
}

std::optional<double> read_distance(TableReader& table, std::size_t column) {
    const auto distance_m = table.length_m(column, kSightDistance);
    if (distance_m && *distance_m <= 0.0) {
        table.refuse(ErrorCode::negative_distance, column, in_quotes(table.text(column)),
                     "a distance greater than zero");
        return std::nullopt;
    }
    return distance_m;
}

std::optional<double> read_zenith(TableReader& table, std::size_t column) {
    const auto zenith_rad = table.angle_rad(column);
    // The tolerance is that of 400 gon or 360° themselves as radians.
    if (zenith_rad && (*zenith_rad <= 0.0 || *zenith_rad >= measure::kTwoPi * (1.0 - 1e-15))) {
        table.refuse(ErrorCode::angle_out_of_range, column, in_quotes(table.text(column)),
                     "a zenith angle above 0° and below 360°, 90° being level");
        return std::nullopt;
    }
    return zenith_rad;
}

void read_observations(TableReader& table, const SightColumns& c, measure::Sight& sight) {
    sight.direction_rad = table.angle_rad(c.direction);
    sight.zenith_rad = read_zenith(table, c.zenith);
    sight.slope_distance_m = read_distance(table, c.slope_distance);
    sight.horizontal_distance_m = read_distance(table, c.horizontal_distance);
    if (sight.horizontal_distance_m && (sight.zenith_rad || sight.slope_distance_m)) {
        table.refuse(ErrorCode::out_of_range, c.horizontal_distance,
                     "a horizontal distance next to a zenith angle or slope distance",
                     "a horizontal distance only in rows without these two");
    }
    if (!sight.direction_rad && !sight.zenith_rad && !sight.slope_distance_m &&
        !sight.horizontal_distance_m) {
        table.refuse(ErrorCode::value_missing, c.direction, "a sight that observes nothing",
                     "a direction, a zenith angle or a distance");
    }
}

}  // namespace

Result<Table<frame::Mark>> read_marks(const Document& document, const ReadOptions& options) {
    const TableSpec& spec = *table_spec("marks");
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t mark = column_index(spec, "mark");
    const PlaceColumns columns(spec);
    const std::size_t role = column_index(spec, "role");
    Names names;
    OnePlace places(kOnePlace_m);

    auto rows = read_rows<frame::Mark>(table, [&](frame::Mark& row) {
        row.name = table.name(mark);
        row.role = table.text(role);
        read_place(table, columns, row);
        if (table.refusal()) return;
        is_first(table, mark, row.name, names, ErrorCode::duplicate_mark);
        if (table.refusal() || !row.has_plan()) return;
        if (const auto other = places.add(*row.east_m, *row.north_m, row.height_m, row.name)) {
            table.refuse(ErrorCode::marks_in_one_place, mark,
                         fmt::format("{} at the place of {} (line {})", in_quotes(row.name),
                                     in_quotes(*other), names[*other]),
                         "marks at least 1 mm apart, or one name for one mark");
        }
    });
    if (!rows) return rows.refusal();
    if (rows->empty()) {
        return Refusal{ErrorCode::no_marks,
                       {document.name, 0, 0},
                       "a header without any mark",
                       "one row for each mark"};
    }
    note_case_twins(table, names);
    return finished(table, std::move(rows).value(), table.length_unit(columns.east));
}

Result<Table<measure::Sight>> read_sights(const Document& document, const ReadOptions& options) {
    const TableSpec& spec = *table_spec("sights");
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const SightColumns c(spec);

    auto rows = read_rows<measure::Sight>(table, [&](measure::Sight& row) {
        row.station = table.name(c.station);
        row.target = table.name(c.target);
        read_observations(table, c, row);
        row.target_height_m = table.needed_length_m(c.target_height, kHeightOverMark);
        row.face = read_face(table, c.face);
        row.purpose = read_purpose(table, c.purpose);
        row.prism_constant_m = table.length_m(c.prism_constant, kPrismConstant).value_or(0.0);
        row.temperature_k = table.temperature_k(c.temperature);
        row.pressure_hpa = table.pressure_hpa(c.pressure);
        row.time_s = table.time_s(c.time);
        row.time_text = table.text(c.time);
        row.note = table.note();
    });
    if (!rows) return rows.refusal();
    if (rows->empty()) {
        return Refusal{ErrorCode::no_sights,
                       {document.name, 0, 0},
                       "a header without any sight",
                       "one row for each sight"};
    }
    auto unit = table.length_unit(c.slope_distance);
    if (!unit) unit = table.length_unit(c.horizontal_distance);
    return finished(table, std::move(rows).value(), unit);
}

Result<Table<station::Setup>> read_setups(const Document& document, const ReadOptions& options) {
    const TableSpec& spec = *table_spec("setups");
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t name = column_index(spec, "station");
    const std::size_t kind = column_index(spec, "kind");
    const std::size_t mark = column_index(spec, "mark");
    const std::size_t instrument_height = column_index(spec, "instrument_height");
    const std::size_t time = column_index(spec, "time");
    const std::size_t temperature = column_index(spec, "temperature");
    const std::size_t pressure = column_index(spec, "pressure");
    Names names;

    auto rows = read_rows<station::Setup>(table, [&](station::Setup& row) {
        using station::SetupKind;
        row.station = table.name(name);
        const std::string_view word = table.text(kind);
        if (word == "occupied") {
            row.kind = SetupKind::occupied;
        } else if (word == "baseline") {
            row.kind = SetupKind::baseline;
        } else if (word != "free") {
            table.refuse(word.empty() ? ErrorCode::value_missing : ErrorCode::word_unknown, kind,
                         word.empty() ? "no kind" : in_quotes(word), "free, occupied or baseline");
        }
        row.mark = table.text(mark);
        row.instrument_height_m = table.length_m(instrument_height, kHeightOverMark);
        row.time_s = table.time_s(time);
        row.time_text = table.text(time);
        row.temperature_k = table.temperature_k(temperature);
        row.pressure_hpa = table.pressure_hpa(pressure);
        if (row.kind != SetupKind::free && row.mark.empty()) {
            table.refuse(ErrorCode::setup_incomplete, mark,
                         fmt::format("a set-up of kind {} without its mark", word),
                         "the name of the mark that the instrument stands over");
        }
        is_first(table, name, row.station, names, ErrorCode::duplicate_setup);
    });
    if (!rows) return rows.refusal();
    return finished(table, std::move(rows).value(), table.length_unit(instrument_height));
}

Result<Table<frame::DesignPoint>> read_points(const Document& document,
                                              const ReadOptions& options) {
    const TableSpec& spec = *table_spec("points");
    auto opened = TableReader::open(document, spec, options);
    if (!opened) return opened.refusal();
    TableReader& table = *opened;
    const std::size_t point = column_index(spec, "point");
    const std::size_t east = column_index(spec, "east");
    const std::size_t north = column_index(spec, "north");
    const std::size_t height = column_index(spec, "height");
    const std::size_t element = column_index(spec, "element");
    const std::size_t tolerance_plan = column_index(spec, "tolerance_plan");
    const std::size_t tolerance_height = column_index(spec, "tolerance_height");
    Names names;

    auto rows = read_rows<frame::DesignPoint>(table, [&](frame::DesignPoint& row) {
        row.name = table.name(point);
        row.east_m = table.needed_length_m(east, kCoordinate);
        row.north_m = table.needed_length_m(north, kCoordinate);
        row.height_m = table.length_m(height, kCoordinate);
        row.element = table.text(element);
        row.tolerance_plan_m = table.length_m(tolerance_plan, kTolerance);
        row.tolerance_height_m = table.length_m(tolerance_height, kTolerance);
        row.note = table.note();
        is_first(table, point, row.name, names, ErrorCode::duplicate_point);
    });
    if (!rows) return rows.refusal();
    return finished(table, std::move(rows).value(), table.length_unit(east));
}

}  // namespace layproof::exchange
