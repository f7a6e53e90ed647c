#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <map>
#include <span>
#include <string_view>
#include <type_traits>
#include <utility>

#include "acts/job.hpp"
#include "exchange/causes.hpp"
#include "exchange/column_map.hpp"
#include "exchange/grid_lines.hpp"
#include "exchange/instrument.hpp"
#include "exchange/readers.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;
using measure::LengthUnit;

std::span<const std::uint8_t> bytes_of(const std::string& text) {
    return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

std::string file_name(const std::string& path) {
    const std::size_t slash = path.find_last_of('/');
    return slash == std::string::npos ? path : path.substr(slash + 1);
}

/// A document with the rows it holds.
template <class Row>
struct Parsed {
    const Document* document = nullptr;
    std::string role;
    std::vector<Row> rows;
    std::optional<LengthUnit> unit;
};

template <class Row>
Result<Parsed<Row>> parse(const std::optional<Document>& document,
                          const std::optional<Document>& map_document, const char* role,
                          std::optional<LengthUnit> unit, std::vector<std::string>& notices,
                          Result<exchange::Table<Row>> (*read)(const Document&,
                                                               const exchange::ReadOptions&)) {
    Parsed<Row> out;
    out.role = role;
    if (!document) return out;
    exchange::ReadOptions options;
    options.unit = unit;
    std::optional<exchange::ColumnMap> map;
    if (map_document) {
        auto read_map = exchange::read_column_map(*map_document);
        if (!read_map) return read_map.refusal();
        map = std::move(*read_map);
        options.map = &*map;
    }
    auto table = read(*document, options);
    if (!table) return table.refusal();
    notices.insert(notices.end(), table->notices.begin(), table->notices.end());
    out.document = &*document;
    out.rows = std::move(table->rows);
    out.unit = table->unit;
    return out;
}

/// All that was read and booked, without where it stood. Shortest digits that give the same double
/// back, so that equal text is equal readings.
std::string reading_of(const measure::Sight& s) {
    const auto number = [](const std::optional<double>& value) {
        return value ? fmt::format("{}", *value) : std::string();
    };
    return fmt::format("{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}\n{}", s.station,
                       s.target, number(s.direction_rad), number(s.zenith_rad),
                       number(s.slope_distance_m), number(s.horizontal_distance_m),
                       s.target_height_m, static_cast<int>(s.face), static_cast<int>(s.purpose),
                       s.prism_constant_m, number(s.temperature_k), number(s.pressure_hpa),
                       number(s.time_s), s.note);
}

/// Readings of the sights the job holds, and the document each came from.
using Readings = std::multimap<std::string, std::optional<job::Digest>>;

/// The documents the job holds: a file taken again, also under another name, gives the same rows.
using Names = std::map<job::Digest, job::Document>;

class Taking {
public:
    Taking(job::Writing& writing, const TakeRequest& request, const Names& names,
           const Readings& readings)
        : writing_(writing), request_(request), names_(names), readings_(readings) {}

    template <class Row>
    Result<Done> rows(const Parsed<Row>& parsed) {
        if (parsed.document == nullptr) return Done{};
        auto source = document(*parsed.document, parsed.role);
        if (!source) return source.refusal();
        for (Row row : parsed.rows) {
            row.place.file = answer.documents.back().name;
            if constexpr (std::is_same_v<Row, measure::Sight>) {
                if (is_known_elsewhere(row, *source)) continue;
            }
            auto done = fact(row, *source);
            if (!done) return done;
        }
        if (untimed_alike_ > 0)
            answer.notices.push_back(fmt::format(
                "{}: {} of its sights read exactly as sights of another file in the job, and have "
                "no time to tell whether they are the same; they were taken as sights of their "
                "own. If they are not, set them aside.",
                answer.documents.back().name, untimed_alike_));
        untimed_alike_ = 0;
        return Done{};
    }

    Result<Done> instrument(const std::optional<measure::Instrument>& figures) {
        if (!figures) return Done{};
        auto source = document(*request_.instrument, "instrument");
        if (!source) return source.refusal();
        return fact(*figures, *source);
    }

    Result<Done> plain(const std::optional<Document>& file, const char* role) {
        if (!file) return Done{};
        auto source = document(*file, role);
        if (!source) return source.refusal();
        return Done{};
    }

    Result<Done> column_map(const std::optional<Document>& file, const char* reads) {
        if (!file) return Done{};
        auto source = document(*file, "column-map");
        if (!source) return source.refusal();
        return fact(job::ColumnMap{answer.documents.back().name, reads, file->bytes}, *source);
    }

    TakeAnswer answer;

private:
    Result<job::Source> document(const Document& file, const std::string& role) {
        const job::Digest digest = job::sha256(bytes_of(file.bytes));
        const auto known = names_.find(digest);
        TakenDocument taken;
        taken.name = known == names_.end() ? file_name(file.name) : known->second.name;
        taken.role = role;
        const std::string& note =
            request_.note.empty() && known != names_.end() ? known->second.note : request_.note;
        auto added = writing_.add_document(taken.name, role, note, bytes_of(file.bytes));
        if (!added) return added.refusal();
        taken.digest = added->digest.to_text();
        taken.is_known = added->already_there;
        answer.documents.push_back(std::move(taken));
        return job::Source{added->digest, request_.revision};
    }

    /// A file that grew through the day brings its earlier sights again: one reading at one time is
    /// one sight.
    bool is_known_elsewhere(const measure::Sight& sight, const job::Source& source) {
        const auto [first, last] = readings_.equal_range(reading_of(sight));
        const bool elsewhere = std::any_of(
            first, last, [&](const auto& held) { return held.second != source.document; });
        const bool here = std::any_of(
            first, last, [&](const auto& held) { return held.second == source.document; });
        if (!elsewhere || here) return false;
        if (!sight.time_s) {
            ++untimed_alike_;
            return false;
        }
        ++answer.documents.back().rows_known;
        return true;
    }

    template <class Fact>
    Result<Done> fact(const Fact& row, const job::Source& source) {
        auto added = writing_.add(row, source);
        if (!added) return added.refusal();
        TakenDocument& taken = answer.documents.back();
        ++(added->already_there ? taken.rows_known : taken.rows_new);
        return Done{};
    }

    job::Writing& writing_;
    const TakeRequest& request_;
    const Names& names_;
    const Readings& readings_;
    int untimed_alike_ = 0;
};

Result<Done> set(job::Writing& writing, const char* name, std::optional<LengthUnit> unit,
                 const std::map<std::string, std::string>& settings) {
    if (!unit) return Done{};
    const std::string word(measure::to_word(*unit));
    const auto now = settings.find(name);
    if (now != settings.end() && now->second == word) return Done{};
    auto added = writing.add(job::Setting{name, word});
    if (!added) return added.refusal();
    return Done{};
}

}  // namespace

Result<TakeAnswer> take(job::Job& job, const TakeRequest& request) {
    std::vector<std::string> notices;
    auto marks = parse<frame::Mark>(request.marks, request.marks_map, "marks", request.unit,
                                    notices, exchange::read_marks);
    if (!marks) return marks.refusal();
    auto sights = parse<measure::Sight>(request.sights, request.sights_map, "sights", request.unit,
                                        notices, exchange::read_sights);
    if (!sights) return sights.refusal();
    auto setups = parse<station::Setup>(request.setups, request.setups_map, "setups", request.unit,
                                        notices, exchange::read_setups);
    if (!setups) return setups.refusal();
    auto points = parse<frame::DesignPoint>(request.points, request.points_map, "points",
                                            request.unit, notices, exchange::read_points);
    if (!points) return points.refusal();
    std::optional<measure::Instrument> instrument;
    if (request.instrument) {
        auto file = exchange::read_instrument(*request.instrument);
        if (!file) return file.refusal();
        notices.insert(notices.end(), file->notices.begin(), file->notices.end());
        instrument = std::move(file->instrument);
    }
    if (request.causes) {
        auto file = exchange::read_causes(*request.causes);
        if (!file) return file.refusal();
        notices.insert(notices.end(), file->notices.begin(), file->notices.end());
    }
    auto grid = parse<frame::GridLine>(request.grid, {}, "grid", request.unit, notices,
                                       exchange::read_grid_lines);
    if (!grid) return grid.refusal();
    if (!request.marks && !request.sights && !request.setups && !request.points &&
        !request.instrument && !request.causes && !request.grid)
        return Refusal{ErrorCode::value_missing,
                       {job.path(), 0, 0},
                       "nothing to take",
                       "marks, sights, set-ups, points, an instrument, causes or grid lines"};

    Names names;
    const auto documents = job.all<job::Document>();
    if (!documents) return documents.refusal();
    for (const auto& kept : *documents) names.emplace(kept.value.digest, kept.value);
    std::map<std::string, std::string> settings;
    const auto kept_settings = job.current<job::Setting>();
    if (!kept_settings) return kept_settings.refusal();
    for (const auto& kept : *kept_settings) settings[kept.value.name] = kept.value.value;

    Readings readings;
    if (request.sights) {
        const auto held = job.all<measure::Sight>();
        if (!held) return held.refusal();
        for (const auto& kept : *held)
            readings.emplace(reading_of(kept.value), kept.source.document);
    }

    auto writing = job.begin();
    if (!writing) return writing.refusal();
    Taking taking(*writing, request, names, readings);
    auto done = taking.rows(*marks);
    if (done) done = taking.rows(*setups);
    if (done) done = taking.rows(*sights);
    if (done) done = taking.rows(*points);
    if (done) done = taking.instrument(instrument);
    if (done) done = taking.plain(request.causes, "causes");
    if (done) done = taking.plain(request.grid, "grid");
    if (done && request.marks) done = taking.column_map(request.marks_map, "marks");
    if (done && request.sights) done = taking.column_map(request.sights_map, "sights");
    if (done && request.setups) done = taking.column_map(request.setups_map, "setups");
    if (done && request.points) done = taking.column_map(request.points_map, "points");
    std::optional<LengthUnit> unit;
    const auto first_unit = settings.find("unit");
    if (first_unit != settings.end()) {
        unit = measure::length_unit_from_word(first_unit->second);
    } else {
        for (const auto& stated : {marks->unit, sights->unit, setups->unit, points->unit})
            if (!unit) unit = stated;
    }
    if (done) done = set(*writing, "unit", unit, settings);
    if (done) done = set(*writing, "unit of marks", marks->unit, settings);
    if (done) done = set(*writing, "unit of points", points->unit, settings);
    if (done) done = set(*writing, "unit of grid", grid->unit, settings);
    if (done) done = writing->commit();
    if (!done) return done.refusal();
    taking.answer.unit = unit;
    taking.answer.notices.insert(taking.answer.notices.begin(), notices.begin(), notices.end());
    return std::move(taking.answer);
}

}  // namespace layproof::acts
