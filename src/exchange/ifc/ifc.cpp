#include "exchange/ifc/ifc.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <unordered_map>
#include <unordered_set>
#include <utility>

#include "exchange/ifc/ifc_model_internal.hpp"
#include "exchange/tables/readers.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Isometry3d;
using Eigen::Vector3d;

constexpr std::size_t kMostCrossings = 100'000;
constexpr double kLevel = 1e-6;

/// A refusal that concerns one thing only, which is left; others end the reading.
bool is_local(const Refusal& refusal) {
    return refusal.code == ErrorCode::format_unknown || refusal.code == ErrorCode::value_missing ||
           refusal.code == ErrorCode::out_of_range;
}

class IfcReader {
public:
    IfcReader(const StepFile& file, const Document& document, Import& import)
        : file_(file), model_(file, document), document_(document), import_(import) {}

    Result<Done> read(const ReadOptions& options);

private:
    Result<Done> read_unit(const ReadOptions& options);
    Result<Done> read_grids();
    Result<Done> read_grid(const StepRecord& grid);
    Result<Done> read_elements(const char* type, PointSource source);
    Result<Done> read_element(const StepRecord& element, PointSource source);
    Result<Done> read_map_conversion();
    Result<Done> take_conversion(const StepRecord& record, frame::MapConversion c);
    Result<Done> apply_map_conversion();
    Result<Done> read_crs(std::uint64_t id, frame::MapConversion& conversion);
    Result<bool> is_identity(std::uint64_t placement) const;
    Result<bool> is_anchor(const StepRecord& fastener);
    Result<std::vector<Vector3d>> mapped_origins(const StepRecord& element) const;
    void add_point(const StepRecord& element, PointSource source, const Vector3d& at,
                   std::string name, std::string crossing);
    void add_line(frame::GridLine line, const StepRecord& grid);
    void name_points();

    const StepFile& file_;
    IfcModel model_;
    const Document& document_;
    Import& import_;
    double unit_m_ = 1.0;
    std::map<std::string, std::size_t> line_names_;
    std::optional<std::unordered_map<std::uint64_t, std::uint64_t>> type_of_;
    struct Extra {
        std::string crossing, tag;
        std::uint64_t id = 0;
    };
    std::vector<Extra> extras_;  ///< beside the elements' points
    std::size_t first_element_ = 0;
};

Result<Done> IfcReader::read_unit(const ReadOptions& options) {
    auto unit = model_.length_unit();
    if (!unit) {
        if (unit.refusal().code != ErrorCode::unit_missing || !options.unit) return unit.refusal();
        import_.unit.unit = options.unit;
        import_.unit.metres_per_unit = measure::metres_per(*options.unit);
        import_.unit.words = "the project states no unit of length";
    } else {
        import_.unit = *unit;
        if (options.unit && options.unit != unit->unit) {
            import_.notices.push_back(
                fmt::format("{}: the file says {}; the unit given beside it ({}) was not used",
                            document_.name, unit->words, measure::to_word(*options.unit)));
        }
        const std::string words = lower(unit->words);
        const bool is_foot =
            words.find("foot") != std::string::npos || words.find("feet") != std::string::npos;
        if (is_foot && unit->unit == measure::LengthUnit::us_foot) {
            import_.notices.push_back(
                fmt::format("{}: {}, the US survey foot", document_.name, unit->words));
        }
    }
    unit_m_ = *import_.unit.metres_per_unit;
    return Done{};
}

void IfcReader::add_line(frame::GridLine line, const StepRecord& grid) {
    if (!frame::is_line(line)) {
        import_.leave("grid axis", "shorter than 10 mm", line.place);
        return;
    }
    const auto known = line_names_.find(line.name);
    if (known != line_names_.end()) {
        const frame::GridLine& other = import_.grid_lines[known->second];
        const double off = std::max(std::abs(frame::place_by(other, line.start_m).across_m),
                                    std::abs(frame::place_by(other, line.end_m).across_m));
        if (off < kOnePlace_m) return;  // the same line on another storey
        const std::string first = line.name;
        const std::string of = grid.text(2).empty() ? fmt::format("#{}", grid.id) : grid.text(2);
        line.name = fmt::format("{} ({})", first, of);
        if (line_names_.contains(line.name)) line.name = fmt::format("{} (#{})", first, grid.id);
        if (line_names_.contains(line.name)) {
            import_.leave("grid axis", "its name stands twice in its grid", line.place);
            return;
        }
    }
    line_names_[line.name] = import_.grid_lines.size();
    import_.grid_lines.push_back(std::move(line));
}

Result<Done> IfcReader::read_grid(const StepRecord& grid) {
    Isometry3d at = Isometry3d::Identity();
    if (const auto placement = grid.reference(5)) {
        const auto read = model_.placement(*placement);
        if (!read) {
            if (!is_local(read.refusal())) return read.refusal();
            import_.leave("IfcGrid", read.refusal().found, model_.place(grid.id));
            return Done{};
        }
        at = *read;
    }
    if (at.linear()(2, 2) < 1.0 - kLevel) {
        import_.leave("IfcGrid", "it is not level", model_.place(grid.id));
        return Done{};
    }
    std::array<std::vector<IfcAxis>, 2> families;
    for (const std::size_t family : {7U, 8U, 9U}) {
        for (const std::uint64_t id : grid.references(family)) {
            const auto axis = model_.axis(id);
            if (!axis) {
                if (!is_local(axis.refusal())) return axis.refusal();
                import_.leave("grid axis", axis.refusal().found, model_.place(id));
                continue;
            }
            const Vector3d from = unit_m_ * (at * Vector3d(axis->from.x(), axis->from.y(), 0.0));
            const Vector3d to = unit_m_ * (at * Vector3d(axis->to.x(), axis->to.y(), 0.0));
            frame::GridLine line;
            line.name = axis->tag.empty() ? fmt::format("#{}", id) : axis->tag;
            line.family =
                fmt::format("{}{}",
                            family == 7   ? "U"
                            : family == 8 ? "V"
                                          : "W",
                            file_.of_type("IFCGRID").size() > 1 ? fmt::format(" of #{}", grid.id)
                                                                : std::string());
            line.start_m = from.head<2>();
            line.end_m = to.head<2>();
            line.place = model_.place(id);
            if (family < 9) families[family - 7].push_back({line.name, line.start_m, line.end_m});
            add_line(std::move(line), grid);
        }
    }
    if (families[0].size() * families[1].size() > kMostCrossings - import_.points.size()) {
        import_.leave("grid crossings", "more than 100,000", model_.place(grid.id));
        return Done{};
    }
    for (const IfcAxis& u : families[0]) {
        for (const IfcAxis& v : families[1]) {
            const frame::GridLine a{u.tag, "", u.from, u.to, {}};
            const frame::GridLine b{v.tag, "", v.from, v.to, {}};
            const auto crossing = frame::crossing(a, b);
            if (!crossing || !crossing->allFinite()) continue;
            ImportedPoint point;
            point.name = IfcModel::crossing(u.tag, v.tag);
            point.east_m = crossing->x();
            point.north_m = crossing->y();
            point.source = PointSource::grid_crossing;
            point.kind = import_.keep_word("IfcGrid");
            point.line = grid.line;
            point.column = 1;
            import_.points.push_back(std::move(point));
        }
    }
    return Done{};
}

Result<Done> IfcReader::read_grids() {
    for (const std::uint64_t id : file_.of_type("IFCGRID")) {
        const auto grid = file_.record(id);
        if (!grid) return grid.refusal();
        auto done = read_grid(*grid);
        if (!done) return done;
    }
    return Done{};
}

Result<bool> IfcReader::is_anchor(const StepRecord& fastener) {
    const auto says = [](const std::string& word) {
        return lower(word).find("anchor") != std::string::npos;
    };
    if (fastener.text(10) == "ANCHORBOLT") return true;
    if (says(fastener.text(2)) || says(fastener.text(4))) return true;
    if (!type_of_) {
        type_of_.emplace();
        for (const std::uint64_t id : file_.of_type("IFCRELDEFINESBYTYPE")) {
            const auto relation = file_.record(id);
            if (!relation) return relation.refusal();
            const auto type = relation->reference(5);
            if (!type || file_.type(*type) != "IFCMECHANICALFASTENERTYPE") continue;
            for (const std::uint64_t element : relation->references(4)) {
                type_of_->emplace(element, *type);
            }
        }
    }
    const auto found = type_of_->find(fastener.id);
    if (found == type_of_->end()) return false;
    const auto type = file_.record(found->second);
    if (!type) return type.refusal();
    return type->text(9) == "ANCHORBOLT" || says(type->text(2));
}

/// Where the mapped items of an element stand in its own coordinates: one fastener may show a whole
/// group of bolts.
Result<std::vector<Vector3d>> IfcReader::mapped_origins(const StepRecord& element) const {
    std::vector<Vector3d> out;
    constexpr std::size_t kMost = 1000;
    const auto shape_id = element.reference(6);
    if (!shape_id) return out;
    const auto shape = file_.record(*shape_id);
    if (!shape) return shape.refusal();
    for (const std::uint64_t representation_id : shape->references(2)) {
        const auto representation = file_.record(representation_id);
        if (!representation) return representation.refusal();
        if (representation->text(1) != "Body") continue;
        for (const std::uint64_t item_id : representation->references(3)) {
            if (file_.type(item_id) != "IFCMAPPEDITEM" || out.size() >= kMost) continue;
            const auto item = file_.record(item_id);
            if (!item) return item.refusal();
            const auto target_id = item->reference(1);
            const auto target =
                target_id ? file_.record(*target_id) : Result<StepRecord>(StepRecord{});
            if (!target) return target.refusal();
            const auto origin_id = target->reference(2);
            const auto origin =
                origin_id ? model_.point(*origin_id) : Result<Vector3d>(Vector3d(0, 0, 0));
            if (!origin) return origin.refusal();
            out.push_back(*origin);
        }
    }
    return out;
}

void IfcReader::add_point(const StepRecord& element, PointSource source, const Vector3d& at,
                          std::string name, std::string crossing) {
    const Vector3d at_m = unit_m_ * at;
    if (!at_m.allFinite() || at_m.cwiseAbs().maxCoeff() > kLargestCoordinate_m) {
        import_.leave(element.type, "more than 100,000,000 m from zero", model_.place(element.id));
        return;
    }
    ImportedPoint point;
    point.name = std::move(name);
    point.name_is_made = point.name.empty();
    if (point.name_is_made) point.name = element.text(0);
    if (point.name.empty()) point.name = fmt::format("#{}", element.id);
    point.east_m = at_m.x();
    point.north_m = at_m.y();
    point.height_m = at_m.z();
    point.source = source;
    point.kind = import_.keep_word(element.type);
    if (!element.text(0).empty()) point.note = "GlobalId=" + element.text(0);
    if (!crossing.empty()) point.note += (point.note.empty() ? "grid=" : " grid=") + crossing;
    point.line = element.line;
    point.column = 1;
    import_.points.push_back(std::move(point));
    extras_.push_back({std::move(crossing), element.text(7), element.id});
}

Result<Done> IfcReader::read_element(const StepRecord& element, PointSource source) {
    const auto placement_id = element.reference(5);
    if (!placement_id) {
        import_.leave(element.type, "it is not placed", model_.place(element.id));
        return Done{};
    }
    const auto at = model_.placement(*placement_id);
    if (!at) {
        if (!is_local(at.refusal())) return at.refusal();
        import_.leave(element.type, at.refusal().found, model_.place(element.id));
        return Done{};
    }
    if (import_.points.size() >= kMostImported) {
        return Refusal{ErrorCode::file_too_large, model_.place(element.id),
                       "more than 2,000,000 points", "a model with fewer"};
    }
    const std::string crossing = model_.crossing_name(*placement_id);
    if (source == PointSource::fastener) {
        const auto origins = mapped_origins(element);
        if (!origins) return origins.refusal();
        if (origins->size() > 1) {
            int number = 0;
            for (const Vector3d& origin : *origins) {
                add_point(element, source, *at * origin,
                          fmt::format("{}-{}", element.text(2), ++number), crossing);
            }
            return Done{};
        }
    }
    add_point(element, source, at->translation(), element.text(2), crossing);
    return Done{};
}

Result<Done> IfcReader::read_elements(const char* type, PointSource source) {
    for (const std::uint64_t id : file_.of_type(type)) {
        const auto element = file_.record(id);
        if (!element) return element.refusal();
        if (element->type == "IFCMECHANICALFASTENER") {
            const auto anchor = is_anchor(*element);
            if (!anchor) return anchor.refusal();
            if (!*anchor) {
                import_.leave("IfcMechanicalFastener", "not an anchor bolt", model_.place(id));
                continue;
            }
        }
        if (element->type == "IFCDISCRETEACCESSORY" && element->text(8) != "ANCHORPLATE" &&
            element->text(8) != "SHOE") {
            import_.leave("IfcDiscreteAccessory", "neither anchor plate nor shoe",
                          model_.place(id));
            continue;
        }
        auto done = read_element(*element, source);
        if (!done) return done;
    }
    return Done{};
}

/// One name for each point: with the grid crossing, the Tag or the record's number where needed.
void IfcReader::name_points() {
    std::unordered_map<std::string, int> counts;
    for (const ImportedPoint& p : import_.points) ++counts[p.name];
    std::unordered_set<std::string> used;
    for (std::size_t i = 0; i < first_element_; ++i) used.insert(import_.points[i].name);
    int renamed = 0;
    for (std::size_t i = first_element_; i < import_.points.size(); ++i) {
        ImportedPoint& point = import_.points[i];
        const Extra& extra = extras_[i - first_element_];
        if (counts[point.name] > 1) {
            const std::string first = point.name;
            ++renamed;
            const std::string more = !extra.crossing.empty() ? extra.crossing : extra.tag;
            if (!more.empty()) point.name = first + ' ' + more;
            if (more.empty() || used.contains(point.name)) {
                point.name = fmt::format("{} #{}", first, extra.id);
            }
        }
        used.insert(point.name);
    }
    if (renamed > 0) {
        import_.notices.push_back(
            fmt::format("{}: {} points share their name with others and were told apart by grid "
                        "crossing, Tag or record number",
                        document_.name, renamed));
    }
}

Result<bool> IfcReader::is_identity(std::uint64_t placement) const {
    const auto at = model_.axis_placement(placement);
    if (!at) {
        if (is_local(at.refusal())) return true;
        return at.refusal();
    }
    return at->isApprox(Isometry3d::Identity(), 1e-12);
}

Result<Done> IfcReader::read_crs(std::uint64_t id, frame::MapConversion& conversion) {
    const auto crs = file_.record(id);
    if (!crs) return crs.refusal();
    conversion.crs = crs->text(0);
    import_.frame = crs->text(0);
    const std::string zone = crs->text(5);
    if (import_.frame.empty()) import_.frame = crs->text(4) + (zone.empty() ? "" : " " + zone);
    if (const auto unit_id = crs->reference(6)) {
        const auto unit = model_.unit(*unit_id);
        if (!unit) return unit.refusal();
        conversion.map_metres_per_unit = *unit->metres_per_unit;
    }
    return Done{};
}

/// Keeps it with its coordinate system, and says what is odd about it.
Result<Done> IfcReader::take_conversion(const StepRecord& record, frame::MapConversion c) {
    c.model_metres_per_unit = unit_m_;
    if (const auto crs = record.reference(1)) {
        auto done = read_crs(*crs, c);
        if (!done) return done;
    }
    if (const auto context = record.reference(0)) {
        const auto read = file_.record(*context);
        if (!read) return read.refusal();
        if (const auto world = read->reference(4)) {
            const auto same = is_identity(*world);
            if (!same) return same.refusal();
            c.has_world_offset = !*same;
        }
    }
    for (const std::string& warning : frame::resolve(c).warnings) {
        import_.notices.push_back(fmt::format("{}:{}: {}", document_.name, record.line, warning));
    }
    import_.map_conversion = std::move(c);
    return Done{};
}

Result<Done> IfcReader::read_map_conversion() {
    for (const char* type : {"IFCMAPCONVERSION", "IFCMAPCONVERSIONSCALED", "IFCRIGIDOPERATION"}) {
        const bool is_rigid = std::string_view(type) == "IFCRIGIDOPERATION";
        for (const std::uint64_t id : file_.of_type(type)) {
            if (import_.map_conversion) {
                import_.leave("map conversion", "one was taken already", model_.place(id));
                continue;
            }
            const auto record = file_.record(id);
            if (!record) return record.refusal();
            const auto east = record->number(2);
            const auto north = record->number(3);
            const auto height = record->number(4);
            if (!east || !north || (!height && !is_rigid)) {
                import_.leave("map conversion", "Eastings, Northings or height is missing",
                              model_.place(id));
                continue;
            }
            if (is_rigid && record->at(2).text == "IFCPLANEANGLEMEASURE") {
                import_.leave("map conversion", "its coordinates are angles", model_.place(id));
                continue;
            }
            frame::MapConversion c;
            c.is_rigid = is_rigid;
            c.eastings = *east;
            c.northings = *north;
            c.orthogonal_height = height.value_or(0.0);
            if (!is_rigid) {
                c.x_axis_abscissa = record->number(5);
                c.x_axis_ordinate = record->number(6);
                c.scale = record->number(7);
                c.factor_x = record->number(8);
                c.factor_y = record->number(9);
                c.factor_z = record->number(10);
            }
            auto done = take_conversion(*record, std::move(c));
            if (!done) return done;
        }
    }
    return Done{};
}

/// Every place in the model's own coordinates becomes one on the map.
Result<Done> IfcReader::apply_map_conversion() {
    const Place place{document_.name, 1, 1};
    if (!import_.map_conversion)
        return Refusal{ErrorCode::value_missing, place, "an IFC file without a map conversion",
                       "one with a map conversion, or its own coordinates"};
    const frame::ResolvedConversion conversion = frame::resolve(*import_.map_conversion);
    if (!conversion.is_usable())
        return Refusal{ErrorCode::out_of_range, place,
                       conversion.warnings.empty() ? "a map conversion that cannot be"
                                                   : conversion.warnings.front(),
                       "a map conversion that can be applied"};
    bool is_near = true;
    const auto convert = [&](double east, double north, double height) {
        const Vector3d out = conversion.to_map({east, north, height});
        is_near = is_near && out.allFinite() && out.cwiseAbs().maxCoeff() <= kLargestCoordinate_m;
        return out;
    };
    for (ImportedPoint& point : import_.points) {
        const Vector3d at = convert(point.east_m, point.north_m, point.height_m.value_or(0.0));
        point.east_m = at.x();
        point.north_m = at.y();
        if (point.height_m) point.height_m = at.z();
    }
    for (frame::GridLine& line : import_.grid_lines) {
        line.start_m = convert(line.start_m.x(), line.start_m.y(), 0.0).head<2>();
        line.end_m = convert(line.end_m.x(), line.end_m.y(), 0.0).head<2>();
    }
    if (!is_near)
        return Refusal{ErrorCode::out_of_range, place, "a map conversion that leads off the earth",
                       "coordinates within 100,000,000 m"};
    std::erase_if(import_.grid_lines,
                  [](const frame::GridLine& line) { return !frame::is_line(line); });
    return Done{};
}

Result<Done> IfcReader::read(const ReadOptions& options) {
    auto done = read_unit(options);
    if (done) done = read_grids();
    first_element_ = import_.points.size();
    const std::pair<const char*, PointSource> kElements[] = {
        {"IFCCOLUMN", PointSource::column},
        {"IFCCOLUMNSTANDARDCASE", PointSource::column},
        {"IFCFOOTING", PointSource::footing},
        {"IFCPILE", PointSource::footing},
        {"IFCMECHANICALFASTENER", PointSource::fastener},
        {"IFCDISCRETEACCESSORY", PointSource::fastener},
    };
    for (const auto& [type, source] : kElements) {
        if (done) done = read_elements(type, source);
    }
    if (done) done = read_map_conversion();
    if (!done) return done;
    name_points();
    if (options.apply_map_conversion) {
        done = apply_map_conversion();
        if (!done) return done;
    }
    if (import_.map_conversion) {
        const std::string map = import_.frame.empty() ? "a map" : in_quotes(import_.frame);
        import_.notices.push_back(
            options.apply_map_conversion
                ? fmt::format("{}: coordinates are those of {}: its map conversion was applied",
                              document_.name, map)
                : fmt::format("{}: coordinates are the model's own; its map conversion to {} was "
                              "not applied",
                              document_.name, map));
    }
    for (const char* type : {"IFCBEAM", "IFCSLAB", "IFCWALL", "IFCWALLSTANDARDCASE", "IFCPLATE",
                             "IFCOPENINGELEMENT", "IFCBUILDINGELEMENTPROXY", "IFCMEMBER"}) {
        const auto& all = file_.of_type(type);
        if (!all.empty()) {
            import_.leave(type, "no point to lay by itself", model_.place(all[0]),
                          static_cast<int>(all.size()));
        }
    }
    return Done{};
}

}  // namespace

Result<Import> read_ifc(const Document& document, const ReadOptions& options) {
    const auto file = StepFile::open(document);
    if (!file) return file.refusal();
    Import import;
    import.format = FileFormat::ifc;
    import.version = file->schema();
    const bool is_old = import.version.starts_with("IFC2X");
    if (!import.version.starts_with("IFC4") && !is_old) {
        return Refusal{ErrorCode::format_unknown,
                       {document.name, 1, 1},
                       "the schema " + in_quotes(import.version),
                       "IFC4 or IFC4X3"};
    }
    if (is_old) {
        import.notices.push_back(
            document.name + ": IFC 2x3 was read as far as grids and placements are those of IFC 4");
    }
    IfcReader reader(*file, document, import);
    auto done = reader.read(options);
    if (!done) return done.refusal();
    return import;
}

}  // namespace layproof::exchange
