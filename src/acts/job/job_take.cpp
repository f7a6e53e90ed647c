#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <map>
#include <span>
#include <string_view>
#include <type_traits>
#include <utility>

#include "acts/job/job.hpp"
#include "acts/shared/progress.hpp"
#include "acts/shared/words.hpp"
#include "exchange/import/import.hpp"
#include "exchange/import/sheet.hpp"
#include "exchange/tables/causes.hpp"
#include "exchange/tables/column_map.hpp"
#include "exchange/tables/control_readers.hpp"
#include "exchange/tables/grid_lines.hpp"
#include "exchange/tables/instrument.hpp"
#include "exchange/tables/level_readers.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/text/number.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;
using measure::LengthUnit;

std::span<const std::uint8_t> bytes_of(const std::string& text) {
    return {reinterpret_cast<const std::uint8_t*>(text.data()), text.size()};
}

/// A file with the rows it holds, those of its role.
struct Parsed {
    const TakeFile* file = nullptr;
    std::vector<frame::Mark> marks;
    std::vector<measure::Sight> sights;
    std::vector<station::Setup> setups;
    std::vector<frame::DesignPoint> points;
    std::vector<network::Tape> tapes;
    std::vector<network::LevelRise> levels;
    std::vector<network::LevelReading> readings;
    std::vector<frame::Mark> drawn;
    std::optional<measure::Instrument> instrument;
    std::optional<LengthUnit> unit;

    std::size_t rows() const {
        return marks.size() + sights.size() + setups.size() + points.size() + tapes.size() +
               levels.size() + readings.size() + drawn.size() + 1;
    }
};

template <class Row>
Result<Done> read_rows(const TakeFile& file, const std::optional<exchange::SiteFrame>& site,
                       std::vector<Row>& rows, Parsed& out, std::vector<std::string>& notices,
                       Result<exchange::Table<Row>> (*read)(const Document&,
                                                            const exchange::ReadOptions&)) {
    exchange::ReadOptions options;
    options.unit = file.unit;
    options.site = site ? &*site : nullptr;
    options.apply_map_conversion = file.site.map_conversion;
    std::optional<exchange::ColumnMap> map;
    if (file.map) {
        auto read_map = exchange::read_column_map(*file.map);
        if (!read_map) return read_map.refusal();
        map = std::move(*read_map);
        options.map = &*map;
    }
    auto table = read(file.document, options);
    if (!table) return table.refusal();
    notices.insert(notices.end(), table->notices.begin(), table->notices.end());
    rows = std::move(table->rows);
    out.unit = table->unit;
    return Done{};
}

/// Height differences or runs as read, told by their columns.
Result<Done> read_levels(const TakeFile& file, Parsed& out, std::vector<std::string>& notices) {
    exchange::ReadOptions options;
    options.unit = file.unit;
    auto levels = exchange::read_any_levels(file.document, options);
    if (!levels) return levels.refusal();
    notices.insert(notices.end(), levels->notices.begin(), levels->notices.end());
    out.levels = std::move(levels->rises);
    out.readings = std::move(levels->readings);
    out.unit = levels->unit;
    return Done{};
}

Result<Parsed> parse(const TakeFile& file, std::vector<std::string>& notices) {
    Parsed out;
    out.file = &file;
    Result<Done> done{Done{}};
    const auto site = open_site(file.site);
    if (!site) return site.refusal();
    if (file.role == "marks") {
        done = read_rows(file, *site, out.marks, out, notices, exchange::read_any_marks);
    } else if (file.role == "sights") {
        done = read_rows(file, *site, out.sights, out, notices, exchange::read_any_sights);
    } else if (file.role == "setups") {
        done = read_rows(file, *site, out.setups, out, notices, exchange::read_any_setups);
    } else if (file.role == "points") {
        done = read_rows(file, *site, out.points, out, notices, exchange::read_any_points);
    } else if (file.role == "grid") {
        std::vector<frame::GridLine> lines;  // read again from the document whenever asked for
        done = read_rows(file, *site, lines, out, notices, exchange::read_any_grid_lines);
    } else if (file.role == "tapes") {
        done = read_rows(file, *site, out.tapes, out, notices, exchange::read_tapes);
    } else if (file.role == "levels") {
        done = read_levels(file, out, notices);
    } else if (file.role == "drawing") {
        done = read_rows(file, *site, out.drawn, out, notices, exchange::read_any_drawing);
    } else if (file.role == "instrument") {
        auto read = exchange::read_instrument(file.document);
        if (!read) return read.refusal();
        notices.insert(notices.end(), read->notices.begin(), read->notices.end());
        out.instrument = std::move(read->instrument);
    } else if (file.role == "causes") {
        const auto read = exchange::read_causes(file.document);
        if (!read) return read.refusal();
        notices.insert(notices.end(), read->notices.begin(), read->notices.end());
    } else {
        return Refusal{
            ErrorCode::word_unknown,
            {file.document.name, 0, 0},
            fmt::format("the role \"{}\"", file.role),
            "marks, sights, setups, points, instrument, grid, causes, tapes, levels or drawing"};
    }
    if (!done) return done.refusal();
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

/// A run as it was read, whatever file it stands in.
std::string reading_of(const network::LevelRun& run) {
    const auto number = [](const std::optional<double>& value) {
        return value ? fmt::format("{}", *value) : std::string();
    };
    std::string out = run.name;
    for (const network::LevelReading& r : run.readings)
        out += fmt::format("\n{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}", r.point, number(r.backsight_m),
                           number(r.intermediate_m), number(r.foresight_m),
                           number(r.backsight_distance_m), number(r.foresight_distance_m),
                           number(r.sd_km_m), number(r.sd_turn_m), number(r.time_s));
    return out;
}

/// Runs of levels the job holds, and the document each came from.
using RunReadings = std::multimap<std::string, std::optional<job::Digest>>;

/// Readings of the sights the job holds, and the document each came from.
using Readings = std::multimap<std::string, std::optional<job::Digest>>;

/// The documents the job holds: a file taken again, also under another name, gives the same rows.
using Names = std::map<job::Digest, job::Document>;

class Taking {
public:
    Taking(job::Writing& writing, const Names& names, Readings readings, RunReadings runs,
           std::size_t rows_total, Progress* progress)
        : writing_(writing),
          names_(names),
          readings_(std::move(readings)),
          runs_(std::move(runs)),
          rows_total_(rows_total),
          progress_(progress) {}

    Result<Done> take(const Parsed& parsed) {
        auto source = document(parsed.file->document, *parsed.file, parsed.file->role);
        if (!source) return source.refusal();
        auto done = rows(parsed.marks, *source);
        if (done) done = rows(parsed.setups, *source);
        if (done) done = rows(parsed.sights, *source);
        if (done) done = rows(parsed.points, *source);
        if (done) done = rows(parsed.tapes, *source);
        if (done) done = rows(parsed.levels, *source);
        for (const network::LevelRun& run : network::level_runs_of(parsed.readings))
            if (done) done = level_run(run, *source);
        std::vector<job::DrawnMark> drawn;
        for (const frame::Mark& mark : parsed.drawn) drawn.push_back({mark});
        if (done) done = rows(drawn, *source);
        if (done && parsed.instrument) done = fact(*parsed.instrument, *source);
        return done;
    }

    /// Kept with the file it reads; nothing when there is none.
    Result<Done> column_map(const TakeFile& file, std::string& digest) {
        if (!file.map) return Done{};
        auto source = document(*file.map, file, "column-map");
        if (!source) return source.refusal();
        digest = source->document->to_text();
        const std::string reads = file.role == "grid" ? "grid_lines" : file.role;
        return fact(job::ColumnMap{answer.documents.back().name, reads, file.map->bytes}, *source);
    }

    TakeAnswer answer;

private:
    template <class Row>
    static Place& place_of(Row& row) {
        return row.place;
    }
    static Place& place_of(job::DrawnMark& row) { return row.mark.place; }

    template <class Row>
    Result<Done> rows(const std::vector<Row>& parsed, const job::Source& source) {
        int untimed_alike = 0;
        std::vector<std::string> added;
        for (Row row : parsed) {
            if (auto refusal = next_row()) return *refusal;
            place_of(row).file = answer.documents.back().name;
            if constexpr (std::is_same_v<Row, measure::Sight>) {
                if (is_known_elsewhere(row, source, untimed_alike)) continue;
                added.push_back(reading_of(row));
            }
            auto done = fact(row, source);
            if (!done) return done;
        }
        for (std::string& reading : added) readings_.emplace(std::move(reading), source.document);
        if (untimed_alike > 0)
            answer.notices.push_back(fmt::format(
                "{}: {} of its sights read exactly as sights of another file in the job, and have "
                "no time to tell whether they are the same; they were taken as sights of their "
                "own. If they are not, set them aside.",
                answer.documents.back().name, untimed_alike));
        return Done{};
    }

    /// A level book that grew brings its earlier runs again: one that reads the same to the last
    /// figure is the same run.
    Result<Done> level_run(const network::LevelRun& run, const job::Source& source) {
        std::string reading = reading_of(run);
        const auto [first, last] = runs_.equal_range(reading);
        const bool here = std::any_of(
            first, last, [&](const auto& held) { return held.second == source.document; });
        if (first != last && !here) {
            answer.documents.back().rows_known += static_cast<int>(run.readings.size());
            return Done{};
        }
        auto done = rows(run.readings, source);
        if (done) runs_.emplace(std::move(reading), source.document);
        return done;
    }

    std::optional<Refusal> next_row() {
        constexpr std::size_t kRowsBetweenLooks = 64;
        ++row_;
        if (progress_ == nullptr || row_ % kRowsBetweenLooks != 0) return std::nullopt;
        if (!go_on(progress_, static_cast<double>(row_) / static_cast<double>(rows_total_),
                   "Taking " + answer.documents.back().name))
            return stopped();
        return std::nullopt;
    }

    Result<job::Source> document(const Document& file, const TakeFile& with,
                                 const std::string& role) {
        const job::Digest digest = job::sha256(bytes_of(file.bytes));
        const auto known = names_.find(digest);
        TakenDocument taken;
        taken.name = known == names_.end() ? internal::file_name(file.name) : known->second.name;
        taken.role = role;
        const std::string& note =
            with.note.empty() && known != names_.end() ? known->second.note : with.note;
        auto added = writing_.add_document(taken.name, role, note, bytes_of(file.bytes));
        if (!added) return added.refusal();
        taken.digest = added->digest.to_text();
        taken.is_known = added->already_there;
        answer.documents.push_back(std::move(taken));
        return job::Source{added->digest, with.revision};
    }

    /// A file that grew through the day brings its earlier sights again: one reading at one time is
    /// one sight.
    bool is_known_elsewhere(const measure::Sight& sight, const job::Source& source,
                            int& untimed_alike) {
        const auto [first, last] = readings_.equal_range(reading_of(sight));
        const bool elsewhere = std::any_of(
            first, last, [&](const auto& held) { return held.second != source.document; });
        const bool here = std::any_of(
            first, last, [&](const auto& held) { return held.second == source.document; });
        if (!elsewhere || here) return false;
        if (!sight.time_s) {
            ++untimed_alike;
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
    const Names& names_;
    Readings readings_;
    RunReadings runs_;
    std::size_t rows_total_;
    Progress* progress_;
    std::size_t row_ = 0;
};

using Settings = std::map<std::string, std::string>;

Result<Done> set(job::Writing& writing, const char* name, const std::string& value,
                 const Settings& settings) {
    const auto now = settings.find(name);
    if (now != settings.end() ? now->second == value : value.empty()) return Done{};
    auto added = writing.add(job::Setting{name, value});
    if (!added) return added.refusal();
    return Done{};
}

Result<Done> set(job::Writing& writing, const char* name, std::optional<LengthUnit> unit,
                 const Settings& settings) {
    if (!unit) return Done{};
    return set(writing, name, std::string(measure::to_word(*unit)), settings);
}

/// What the last file of a role states.
std::optional<LengthUnit> unit_of(const std::vector<Parsed>& files, std::string_view role) {
    std::optional<LengthUnit> out;
    for (const Parsed& parsed : files)
        if (parsed.file->role == role && parsed.unit) out = parsed.unit;
    return out;
}

std::optional<LengthUnit> first_unit(const std::vector<Parsed>& files, const Settings& settings) {
    const auto set = settings.find("unit");
    if (set != settings.end()) return measure::length_unit_from_word(set->second);
    for (const char* role : {"marks", "sights", "setups", "points"})
        for (const Parsed& parsed : files)
            if (parsed.file->role == role && parsed.unit) return parsed.unit;
    return std::nullopt;
}

Result<Readings> readings_in(const job::Job& job, const std::vector<Parsed>& files) {
    Readings out;
    const bool has_sights =
        std::any_of(files.begin(), files.end(), [](const Parsed& p) { return !p.sights.empty(); });
    if (!has_sights) return out;
    const auto held = job.all<measure::Sight>();
    if (!held) return held.refusal();
    for (const auto& kept : *held) out.emplace(reading_of(kept.value), kept.source.document);
    return out;
}

Result<RunReadings> runs_in(const job::Job& job, const std::vector<Parsed>& files) {
    RunReadings out;
    if (std::all_of(files.begin(), files.end(), [](const Parsed& p) { return p.readings.empty(); }))
        return out;
    const auto held = job.all<network::LevelReading>();
    if (!held) return held.refusal();
    std::map<std::optional<job::Digest>, std::vector<network::LevelReading>> of_document;
    for (const auto& kept : *held) of_document[kept.source.document].push_back(kept.value);
    for (const auto& [document, readings] : of_document)
        for (const network::LevelRun& run : network::level_runs_of(readings))
            out.emplace(reading_of(run), document);
    return out;
}

Result<Settings> settings_in(const job::Job& job, const job::AsOf& as_of = {}) {
    Settings out;
    const auto kept_settings = job.current<job::Setting>(as_of);
    if (!kept_settings) return kept_settings.refusal();
    for (const auto& kept : *kept_settings) out[kept.value.name] = kept.value.value;
    return out;
}

/// A grid is read from its document again and again, so what it was read with is kept.
Result<Done> set_grid(job::Writing& writing, const std::vector<Parsed>& files,
                      const std::string& map_digest, const Settings& settings) {
    if (std::none_of(files.begin(), files.end(),
                     [](const Parsed& parsed) { return parsed.file->role == "grid"; }))
        return Done{};
    auto done = set(writing, "unit of grid", unit_of(files, "grid"), settings);
    if (done) done = set(writing, "map of grid", map_digest, settings);
    return done;
}

/// Takes what is there: one entry for each document of the request.
std::vector<TakeFile> files_of(const TakeRequest& request) {
    std::vector<TakeFile> out;
    const auto add = [&](const std::optional<Document>& document, const char* role,
                         const std::optional<Document>& map) {
        if (document)
            out.push_back(
                {*document, role, map, request.unit, request.revision, request.note, request.site});
    };
    add(request.marks, "marks", request.marks_map);
    add(request.setups, "setups", request.setups_map);
    add(request.sights, "sights", request.sights_map);
    add(request.points, "points", request.points_map);
    add(request.instrument, "instrument", {});
    add(request.causes, "causes", {});
    add(request.grid, "grid", {});
    add(request.tapes, "tapes", {});
    add(request.levels, "levels", {});
    add(request.drawing, "drawing", request.points_map);
    return out;
}

}  // namespace

namespace {

/// One tolerance of the whole job, unless the job says the same now.
Result<Done> set_tolerance(job::Writing& writing, const char* quantity, double amount_m,
                           const std::vector<job::Kept<job::Tolerance>>& now) {
    for (const auto& kept : now)
        if (kept.value.subject.empty() && kept.value.quantity == quantity &&
            kept.value.plus_m == amount_m && kept.value.minus_m == amount_m)
            return Done{};
    job::Tolerance tolerance;
    tolerance.quantity = quantity;
    tolerance.minus_m = tolerance.plus_m = amount_m;
    auto added = writing.add(tolerance);
    if (!added) return added.refusal();
    return Done{};
}

std::optional<Refusal> check_tolerance(const std::optional<double>& tolerance_m) {
    if (!tolerance_m || (*tolerance_m > 0.0 && *tolerance_m <= 1.0)) return std::nullopt;
    return Refusal{ErrorCode::out_of_range,
                   {"tolerance", 0, 0},
                   fmt::format("{}", *tolerance_m),
                   "a tolerance above 0, at most 1 m"};
}

SiteRequest site_in(const Settings& settings) {
    SiteRequest out;
    const auto text = [&](const char* name) {
        const auto at = settings.find(name);
        return at == settings.end() ? std::string() : at->second;
    };
    out.crs = text("site crs");
    out.ground_origin_m = origin_from_text(text("ground origin"));
    if (const auto height = exchange::parse_number(text("site height"), {})) out.height_m = *height;
    return out;
}

/// What was said of the site is kept for the next take and for "vet".
Result<Done> set_site(job::Writing& writing, const std::vector<TakeFile>& files,
                      const Settings& settings) {
    Result<Done> done{Done{}};
    for (const TakeFile& file : files) {
        if (file.site.crs.empty()) continue;
        if (done) done = set(writing, "site crs", file.site.crs, settings);
        if (done)
            done = set(writing, "ground origin",
                       file.site.ground_origin_m ? origin_text(*file.site.ground_origin_m) : "",
                       settings);
        if (done)
            done = set(writing, "site height",
                       file.site.height_m ? fmt::format("{}", *file.site.height_m) : "", settings);
        return done;
    }
    return done;
}

}  // namespace

Result<SiteRequest> site_of(const job::Job& job, const job::AsOf& as_of) {
    const auto settings = settings_in(job, as_of);
    if (!settings) return settings.refusal();
    return site_in(*settings);
}

Result<Done> set_tolerances(job::Job& job, std::optional<double> plan_m,
                            std::optional<double> height_m) {
    for (const auto& tolerance : {plan_m, height_m})
        if (auto refusal = check_tolerance(tolerance)) return *std::move(refusal);
    if (!plan_m && !height_m) return Done{};
    const auto now = job.current<job::Tolerance>();
    if (!now) return now.refusal();
    auto writing = job.begin();
    if (!writing) return writing.refusal();
    Result<Done> done{Done{}};
    if (plan_m) done = set_tolerance(*writing, "plan", *plan_m, *now);
    if (done && height_m) done = set_tolerance(*writing, "height", *height_m, *now);
    if (done) done = writing->commit();
    return done;
}

std::optional<Refusal> would_refuse(const TakeFile& file) {
    std::vector<std::string> notices;
    const auto parsed = parse(file, notices);
    if (parsed) return std::nullopt;
    return parsed.refusal();
}

Result<TakeAnswer> take(job::Job& job, const TakeRequest& request) {
    for (const auto& tolerance : {request.tolerance_plan_m, request.tolerance_height_m})
        if (auto refusal = check_tolerance(tolerance)) return *std::move(refusal);
    const std::vector<TakeFile> files = files_of(request);
    Result<TakeAnswer> answer{TakeAnswer{}};
    if (!files.empty() || (!request.tolerance_plan_m && !request.tolerance_height_m))
        answer = take(job, files);
    if (!answer) return answer;
    if (request.tolerance_plan_m || request.tolerance_height_m)
        answer->notices.emplace_back("How far a mark may be off is kept in the job.");
    const auto done = set_tolerances(job, request.tolerance_plan_m, request.tolerance_height_m);
    if (!done) return done.refusal();
    return answer;
}

Result<TakeAnswer> take(job::Job& job, const std::vector<TakeFile>& given, Progress* progress) {
    std::vector<std::string> notices;
    std::vector<Parsed> parsed;
    std::size_t rows_total = 0;
    const auto settings = settings_in(job);
    if (!settings) return settings.refusal();
    std::vector<TakeFile> files = given;
    for (TakeFile& file : files) {
        if (!file.site.crs.empty()) continue;
        const bool map_conversion = file.site.map_conversion;
        file.site = site_in(*settings);
        file.site.map_conversion = map_conversion;
    }
    for (const TakeFile& file : files) {
        if (!go_on(progress, 0.0, "Reading " + internal::file_name(file.document.name)))
            return stopped();
        auto one = parse(file, notices);
        if (!one) return one.refusal();
        rows_total += one->rows();
        parsed.push_back(std::move(*one));
    }
    if (parsed.empty())
        return Refusal{
            ErrorCode::value_missing,
            {job.path(), 0, 0},
            "nothing to take",
            "marks, sights, set-ups, points, an instrument, a grid, causes, tapes, levels or "
            "a drawing"};

    Names names;
    const auto documents = job.all<job::Document>();
    if (!documents) return documents.refusal();
    for (const auto& kept : *documents) names.emplace(kept.value.digest, kept.value);
    auto readings = readings_in(job, parsed);
    if (!readings) return readings.refusal();
    auto runs = runs_in(job, parsed);
    if (!runs) return runs.refusal();

    auto writing = job.begin();
    if (!writing) return writing.refusal();
    Taking taking(*writing, names, std::move(*readings), std::move(*runs), rows_total, progress);
    Result<Done> done{Done{}};
    for (const Parsed& one : parsed)
        if (done) done = taking.take(one);
    std::string grid_map;
    for (const TakeFile& file : files) {
        std::string digest;
        if (done) done = taking.column_map(file, digest);
        if (file.role == "grid") grid_map = digest;
    }
    const auto unit = first_unit(parsed, *settings);
    if (done) done = set(*writing, "unit", unit, *settings);
    if (done) done = set(*writing, "unit of marks", unit_of(parsed, "marks"), *settings);
    if (done) done = set(*writing, "unit of points", unit_of(parsed, "points"), *settings);
    if (done) done = set_grid(*writing, parsed, grid_map, *settings);
    if (done) done = set_site(*writing, files, *settings);
    if (done && progress != nullptr && progress->stop_requested()) return stopped();
    if (done) done = writing->commit();
    if (!done) return done.refusal();
    taking.answer.unit = unit;
    taking.answer.notices.insert(taking.answer.notices.begin(), notices.begin(), notices.end());
    return std::move(taking.answer);
}

}  // namespace layproof::acts
