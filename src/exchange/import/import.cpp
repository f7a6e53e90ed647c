#include "exchange/import/import.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "exchange/dxf/dxf.hpp"
#include "exchange/geojson/geojson.hpp"
#include "exchange/ifc/ifc.hpp"
#include "exchange/landxml/landxml.hpp"
#include "exchange/tables/grid_lines.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

/// The first place of each name; a later one at the same place is left, at another one refused.
class Names {
public:
    Names(const Document& document, ErrorCode code) : document_(document), code_(code) {}

    Result<bool> is_new(const ImportedPoint& p) {
        const auto [known, added] = first_.emplace(p.name, &p);
        if (added) return true;
        const ImportedPoint& q = *known->second;
        const double away = std::hypot(p.east_m - q.east_m, p.north_m - q.north_m);
        const double rise = p.height_m && q.height_m ? std::abs(*p.height_m - *q.height_m) : 0.0;
        if (away < kOnePlace_m && rise < kOnePlace_m) {
            ++repeated;
            return false;
        }
        return Refusal{code_,
                       {document_.name, p.line, p.column},
                       fmt::format("{}, which already stands in line {} at another place",
                                   in_quotes(p.name), q.line),
                       "a name of its own for each point"};
    }

    int repeated = 0;

private:
    const Document& document_;
    ErrorCode code_;
    std::unordered_map<std::string_view, const ImportedPoint*> first_;
};

Refusal holds_none(const Import& import, const Document& document, const char* what) {
    std::string held;
    const auto add = [&](std::size_t count, const char* word) {
        if (count > 0) held += fmt::format("{}{} {}", held.empty() ? "" : ", ", count, word);
    };
    add(import.points.size(), "points");
    add(import.sights.size(), "sights");
    add(import.setups.size(), "set-ups");
    add(import.grid_lines.size(), "grid lines");
    return {ErrorCode::value_missing,
            {document.name, 1, 1},
            fmt::format("a {} file that holds no {} ({})", to_word(import.format), what,
                        held.empty() ? "nothing that could be taken" : held),
            fmt::format("a file with {}", what)};
}

/// What a file with several kinds of points means by marks, and by points to be laid. LandXML says
/// which are control, which are to be staked out and which were; other files say nothing, and then
/// all of them are meant.
struct Wanted {
    bool only_control = false;
    bool only_to_lay = false;

    explicit Wanted(const Import& import) {
        for (const ImportedPoint& p : import.points) {
            only_control = only_control || p.is_control;
            only_to_lay = only_to_lay || import.word(p.kind) == "to stake out";
        }
    }
    bool is_mark(const ImportedPoint& p) const { return !only_control || p.is_control; }
    bool is_to_lay(const Import& import, const ImportedPoint& p) const {
        const std::string_view kind = import.word(p.kind);
        return only_to_lay ? kind == "to stake out" : !p.is_control && kind != "staked out";
    }
};

void say_others(std::vector<std::string>& notices, const Document& document, std::size_t all,
                std::size_t taken, const char* kind) {
    if (taken == all) return;
    notices.push_back(fmt::format("{}: {} of its {} points are {} and were taken", document.name,
                                  taken, all, kind));
}

template <class Row>
Table<Row> table_of(const Import& import) {
    Table<Row> out;
    out.unit = import.unit.unit;
    out.notices = import.notices;
    for (std::string& sentence : sentences(import)) out.notices.push_back(std::move(sentence));
    return out;
}

void say_repeated(std::vector<std::string>& notices, const Document& document, int repeated) {
    if (repeated == 0) return;
    notices.push_back(
        fmt::format("{}: {} points stand more than once at one place and were taken once",
                    document.name, repeated));
}

}  // namespace

Result<Import> read_open_format(const Document& document, const ReadOptions& options) {
    switch (format_of(document)) {
        case FileFormat::landxml:
            return read_landxml(document, options);
        case FileFormat::dxf:
        case FileFormat::dxf_binary:
            return read_dxf(document, options);
        case FileFormat::ifc:
            return read_ifc(document, options);
        case FileFormat::geojson:
            return read_geojson(document, options);
        case FileFormat::other_xml:
        case FileFormat::other_json:
        case FileFormat::delimited:
            break;
    }
    return Refusal{ErrorCode::format_unknown,
                   {document.name, 1, 1},
                   fmt::format("a file of {}", to_word(format_of(document))),
                   "LandXML, DXF, IFC or GeoJSON"};
}

Result<Table<frame::Mark>> read_any_marks(const Document& document, const ReadOptions& options) {
    if (format_of(document) == FileFormat::delimited) return read_marks(document, options);
    auto import = read_open_format(document, options);
    if (!import) return import.refusal();
    if (import->points.empty()) return holds_none(*import, document, "points");
    auto table = table_of<frame::Mark>(*import);
    Names names(document, ErrorCode::duplicate_mark);
    const Wanted wanted(*import);
    std::size_t taken = 0;
    for (const ImportedPoint& p : import->points) {
        if (!wanted.is_mark(p)) continue;
        ++taken;
        const auto is_new = names.is_new(p);
        if (!is_new) return is_new.refusal();
        if (!*is_new) continue;
        frame::Mark mark;
        mark.name = p.name;
        mark.east_m = p.east_m;
        mark.north_m = p.north_m;
        mark.height_m = p.height_m;
        if (p.sd_east_m) mark.sd_east_m = static_cast<double>(*p.sd_east_m);
        if (p.sd_north_m) mark.sd_north_m = static_cast<double>(*p.sd_north_m);
        if (p.sd_height_m) mark.sd_height_m = static_cast<double>(*p.sd_height_m);
        mark.role = p.is_control ? "control" : std::string(import->word(p.kind));
        mark.note = p.note;
        mark.place = {document.name, p.line, p.column};
        table.rows.push_back(std::move(mark));
    }
    say_others(table.notices, document, import->points.size(), taken, "control");
    say_repeated(table.notices, document, names.repeated);
    return table;
}

Result<Table<measure::Sight>> read_any_sights(const Document& document,
                                              const ReadOptions& options) {
    if (format_of(document) == FileFormat::delimited) return read_sights(document, options);
    auto import = read_open_format(document, options);
    if (!import) return import.refusal();
    if (import->sights.empty()) return holds_none(*import, document, "sights");
    auto table = table_of<measure::Sight>(*import);
    table.rows = std::move(import->sights);
    return table;
}

Result<Table<station::Setup>> read_any_setups(const Document& document,
                                              const ReadOptions& options) {
    if (format_of(document) == FileFormat::delimited) return read_setups(document, options);
    auto import = read_open_format(document, options);
    if (!import) return import.refusal();
    if (import->setups.empty()) return holds_none(*import, document, "set-ups");
    auto table = table_of<station::Setup>(*import);
    table.rows = std::move(import->setups);
    return table;
}

Result<Table<frame::DesignPoint>> read_any_points(const Document& document,
                                                  const ReadOptions& options) {
    if (format_of(document) == FileFormat::delimited) return read_points(document, options);
    auto import = read_open_format(document, options);
    if (!import) return import.refusal();
    if (import->points.empty()) return holds_none(*import, document, "points");
    auto table = table_of<frame::DesignPoint>(*import);
    Names names(document, ErrorCode::duplicate_point);
    const Wanted wanted(*import);
    std::size_t taken = 0;
    for (const ImportedPoint& p : import->points) {
        if (!wanted.is_to_lay(*import, p)) continue;
        ++taken;
        const auto is_new = names.is_new(p);
        if (!is_new) return is_new.refusal();
        if (!*is_new) continue;
        frame::DesignPoint point;
        point.name = p.name;
        point.east_m = p.east_m;
        point.north_m = p.north_m;
        point.height_m = p.height_m;
        point.element = std::string(to_word(p.source));
        point.note = p.note;
        point.place = {document.name, p.line, p.column};
        table.rows.push_back(std::move(point));
    }
    if (taken == 0) return holds_none(*import, document, "points to be laid");
    say_others(table.notices, document, import->points.size(), taken, "to be laid");
    say_repeated(table.notices, document, names.repeated);
    return table;
}

Result<Table<frame::GridLine>> read_any_grid_lines(const Document& document,
                                                   const ReadOptions& options) {
    if (format_of(document) == FileFormat::delimited) return read_grid_lines(document, options);
    auto import = read_open_format(document, options);
    if (!import) return import.refusal();
    if (import->grid_lines.empty()) return holds_none(*import, document, "grid lines");
    auto table = table_of<frame::GridLine>(*import);
    table.rows = std::move(import->grid_lines);
    return table;
}

}  // namespace layproof::exchange
