#include "exchange/ifc/ifc_obstacles.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <unordered_map>
#include <unordered_set>
#include <utility>

#include "exchange/ifc/ifc.hpp"
#include "exchange/ifc/ifc_model_internal.hpp"
#include "exchange/ifc/ifc_solids_internal.hpp"
#include "frame/map_conversion.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Affine3d;
using Eigen::Isometry3d;
using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr std::size_t kMostLeftWords = 12;

constexpr std::array<std::string_view, 5> kStanding{"IFCCOLUMN", "IFCCOLUMNSTANDARDCASE", "IFCWALL",
                                                    "IFCWALLSTANDARDCASE", "IFCWALLELEMENTEDCASE"};
/// May stand in a sight, but are not told apart from what does not.
constexpr std::array<std::string_view, 18> kOthers{"IFCBEAM",
                                                   "IFCMEMBER",
                                                   "IFCPLATE",
                                                   "IFCCURTAINWALL",
                                                   "IFCSTAIR",
                                                   "IFCSTAIRFLIGHT",
                                                   "IFCRAMP",
                                                   "IFCRAILING",
                                                   "IFCDOOR",
                                                   "IFCWINDOW",
                                                   "IFCROOF",
                                                   "IFCFOOTING",
                                                   "IFCPILE",
                                                   "IFCFURNITURE",
                                                   "IFCCOVERING",
                                                   "IFCBUILDINGELEMENTPROXY",
                                                   "IFCFURNISHINGELEMENT",
                                                   "IFCSLAB"};

bool concerns_one(const Refusal& refusal) {
    return refusal.code == ErrorCode::format_unknown || refusal.code == ErrorCode::value_missing ||
           refusal.code == ErrorCode::out_of_range;
}

bool is_wall(std::string_view type) {
    return type.starts_with("IFCWALL");
}

/// A line moved to its left, its bends mitred.
std::vector<Vector2d> beside(const std::vector<Vector2d>& line, double by) {
    const auto left = [&](std::size_t piece) {
        const Vector2d step = line[piece + 1] - line[piece];
        return Vector2d(Vector2d(-step.y(), step.x()).normalized());
    };
    std::vector<Vector2d> out;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const Vector2d before = left(i == 0 ? 0 : i - 1);
        const Vector2d after = left(i + 1 == line.size() ? i - 1 : i);
        out.emplace_back(line[i] + by * (before + after) / std::max(0.2, 1.0 + before.dot(after)));
    }
    return out;
}

class ObstacleModel {
public:
    ObstacleModel(const StepFile& file, const Document& document, const Import& import,
                  bool is_on_map)
        : file_(file), document_(document), model_(file, document), solids_(model_) {
        unit_m_ = import.unit.metres_per_unit.value_or(1.0);
        if (is_on_map && import.map_conversion) map_ = frame::resolve(*import.map_conversion);
    }

    Result<Done> read();
    Table<ObstacleRow> take();

private:
    struct Named {
        std::string name, more;
        std::uint64_t id = 0;
    };
    struct Left {
        int count = 0;
        Place first;
    };

    Result<Done> read_relations();
    Result<Done> read_element(std::uint64_t id);
    Result<bool> read_body(const StepRecord& element, const Isometry3d& at, const Named& named);
    Result<bool> read_parts(const StepRecord& wall, const Named& named);
    Result<bool> read_axis(const StepRecord& wall, const Isometry3d& at, const Named& named);
    Result<std::optional<std::pair<double, double>>> layers(std::uint64_t wall);
    Result<Isometry3d> placement_of(const StepRecord& element);
    bool add_block(const IfcBlock& block, const Named& named, int line);
    ObstacleRow row_of(const Named& named, int line);
    Vector3d on_site(const Vector3d& model) const;
    void leave(const StepRecord& element, const Refusal& refusal);
    void say_left(Table<ObstacleRow>& out) const;

    const StepFile& file_;
    const Document& document_;
    IfcModel model_;
    IfcSolids solids_;
    std::optional<frame::ResolvedConversion> map_;
    double unit_m_ = 1.0;
    std::unordered_map<std::uint64_t, std::vector<std::uint64_t>> parts_;
    std::unordered_map<std::uint64_t, std::uint64_t> material_;
    std::unordered_set<std::uint64_t> opened_;
    std::vector<ObstacleRow> rows_;
    std::vector<Named> names_;  ///< beside rows_
    std::map<std::string, Left> left_;
    int columns_ = 0, walls_ = 0, enlarged_ = 0, by_axis_ = 0, by_place_ = 0, with_openings_ = 0,
        hulls_ = 0;
};

Vector3d ObstacleModel::on_site(const Vector3d& at) const {
    const Vector3d metres = unit_m_ * at;
    return map_ && map_->is_usable() ? map_->to_map(metres) : metres;
}

void ObstacleModel::leave(const StepRecord& element, const Refusal& refusal) {
    Left& group = left_[fmt::format("{}: found {}, expected {}", ifc_word(element.type),
                                    refusal.found, refusal.expected)];
    if (group.count++ == 0) group.first = refusal.place;
}

ObstacleRow ObstacleModel::row_of(const Named& named, int line) {
    ObstacleRow row;
    row.kind = ObstacleKind::outline;
    row.name = named.name;
    row.place = {document_.name, line, 1};
    names_.push_back(named);
    return row;
}

/// False when it is no size of something that stands on a floor.
bool ObstacleModel::add_block(const IfcBlock& block, const Named& named, int line) {
    constexpr double kLeast = 0.001;
    constexpr double kMost = 1000.0;
    const double height = unit_m_ * (block.top - block.bottom);
    if (!(height >= kLeast && height <= kMost)) return false;
    std::vector<Vector2d> corners;
    Vector2d low(1e300, 1e300);
    Vector2d high = -low;
    const auto see = [&](const Vector2d& p) {
        low = low.cwiseMin(p);
        high = high.cwiseMax(p);
    };
    for (const Vector2d& c : block.outline) {
        corners.emplace_back(on_site({c.x(), c.y(), block.bottom}).head<2>());
        see(corners.back());
    }
    const double radius = unit_m_ * block.radius;
    if (corners.empty()) {
        corners.emplace_back(on_site({block.centre.x(), block.centre.y(), block.bottom}).head<2>());
        see(corners[0] - Vector2d(radius, radius));
        see(corners[0] + Vector2d(radius, radius));
    }
    const Vector2d size = high - low;
    if (!(size.maxCoeff() >= kLeast && size.maxCoeff() <= kMost) ||
        !(low.cwiseAbs().maxCoeff() <= kLargestCoordinate_m))
        return false;
    const double bottom = on_site({block.centre.x(), block.centre.y(), block.bottom}).z();
    if (!(std::abs(bottom) <= kLargestCoordinate_m)) return false;
    ObstacleRow row = row_of(named, line);
    if (block.outline.empty()) {
        row.kind = ObstacleKind::round;
        row.width_m = 2.0 * radius;
    }
    row.corners = std::move(corners);
    row.bottom_m = bottom;
    row.top_m = bottom + height;
    rows_.push_back(std::move(row));
    enlarged_ += block.is_enlarged ? 1 : 0;
    return true;
}

Result<Isometry3d> ObstacleModel::placement_of(const StepRecord& element) {
    const auto id = element.reference(5);
    if (!id)
        return Refusal{ErrorCode::value_missing, model_.place(element.id), "no placement",
                       "an ObjectPlacement"};
    return model_.placement(*id);
}

Result<bool> ObstacleModel::read_body(const StepRecord& element, const Isometry3d& at,
                                      const Named& named) {
    const auto shape = element.reference(6);
    if (!shape) return false;
    auto blocks = solids_.blocks(*shape, Affine3d(at.matrix()));
    if (!blocks) return blocks.refusal();
    bool is_taken = false;
    for (IfcBlock& block : *blocks) {
        if (rows_.size() > kMostObstacles) break;  // refused at the end
        if (block.outline.size() > kMostCorners) {
            block.outline = convex_outline(std::move(block.outline));
            if (block.outline.size() > kMostCorners)
                return Refusal{ErrorCode::out_of_range, model_.place(element.id),
                               fmt::format("an outline of more than {} corners", kMostCorners),
                               "one of fewer"};
            ++hulls_;
        }
        if (!add_block(block, named, element.line))
            return Refusal{ErrorCode::out_of_range, model_.place(element.id),
                           "a size or place out of range",
                           "1 mm to 1,000 m, within 100,000,000 m of zero"};
        is_taken = true;
    }
    return is_taken;
}

/// A wall made of parts shows nothing itself.
Result<bool> ObstacleModel::read_parts(const StepRecord& wall, const Named& named) {
    const auto found = parts_.find(wall.id);
    if (found == parts_.end()) return false;
    bool is_taken = false;
    for (const std::uint64_t id : found->second) {
        // Walls among the parts are taken by themselves.
        if (is_wall(file_.type(id))) {
            is_taken = true;
            continue;
        }
        const auto part = file_.record(id);
        if (!part) return part.refusal();
        const auto at = placement_of(*part);
        if (!at) return at.refusal();
        const auto taken = read_body(*part, *at, named);
        if (!taken) return taken;
        is_taken = is_taken || *taken;
    }
    return is_taken;
}

/// From and to across the axis, left of it positive; nothing without layers.
Result<std::optional<std::pair<double, double>>> ObstacleModel::layers(std::uint64_t wall) {
    using Answer = std::optional<std::pair<double, double>>;
    const auto found = material_.find(wall);
    if (found == material_.end()) return Answer{};
    const auto usage = file_.record(found->second);
    if (!usage) return usage.refusal();
    const auto set_id = usage->reference(0);
    if (usage->type != "IFCMATERIALLAYERSETUSAGE" || !set_id) return Answer{};
    const auto set = file_.record(*set_id);
    if (!set) return set.refusal();
    double thickness = 0.0;
    for (const std::uint64_t id : set->references(0)) {
        const auto layer = file_.record(id);
        if (!layer) return layer.refusal();
        thickness += layer->number(1).value_or(0.0);
    }
    if (!(thickness > 0.0)) return Answer{};
    const double from = usage->number(3).value_or(0.0);
    return Answer({from, from + (usage->text(2) == "NEGATIVE" ? -thickness : thickness)});
}

Result<bool> ObstacleModel::read_axis(const StepRecord& wall, const Isometry3d& at,
                                      const Named& named) {
    const auto shape = wall.reference(6);
    const auto across = layers(wall.id);
    if (!across) return across.refusal();
    if (!shape || !*across) return false;
    const auto line = solids_.axis(*shape);
    if (!line) return line.refusal();
    if (line->size() < 2) return false;
    const double middle = 0.5 * ((*across)->first + (*across)->second);
    const double thickness = unit_m_ * std::abs((*across)->second - (*across)->first);
    if (!(thickness >= 0.001 && thickness <= 100.0)) return false;
    ObstacleRow row = row_of(named, wall.line);
    row.kind = ObstacleKind::wall;
    row.width_m = thickness;
    for (const Vector2d& p : beside(*line, middle))
        row.corners.emplace_back(on_site(at * Vector3d(p.x(), p.y(), 0.0)).head<2>());
    for (const Vector2d& p : row.corners)
        if (!((p - row.corners.front()).norm() <= 1000.0) ||
            !(p.cwiseAbs().maxCoeff() <= kLargestCoordinate_m)) {
            names_.pop_back();
            return false;
        }
    rows_.push_back(std::move(row));
    ++by_axis_;
    return true;
}

Result<Done> ObstacleModel::read_relations() {
    for (const std::uint64_t id : file_.of_type("IFCRELVOIDSELEMENT")) {
        const auto relation = file_.record(id);
        if (!relation) return relation.refusal();
        if (const auto element = relation->reference(4)) opened_.insert(*element);
    }
    for (const std::uint64_t id : file_.of_type("IFCRELAGGREGATES")) {
        const auto relation = file_.record(id);
        if (!relation) return relation.refusal();
        const auto whole = relation->reference(4);
        if (!whole || !is_wall(file_.type(*whole))) continue;
        auto& parts = parts_[*whole];
        for (const std::uint64_t part : relation->references(5)) parts.push_back(part);
    }
    for (const std::uint64_t id : file_.of_type("IFCRELASSOCIATESMATERIAL")) {
        const auto relation = file_.record(id);
        if (!relation) return relation.refusal();
        const auto material = relation->reference(5);
        if (!material || file_.type(*material) != "IFCMATERIALLAYERSETUSAGE") continue;
        for (const std::uint64_t element : relation->references(4))
            if (is_wall(file_.type(element))) material_[element] = *material;
    }
    return Done{};
}

Result<Done> ObstacleModel::read_element(std::uint64_t id) {
    const auto element = file_.record(id);
    if (!element) return element.refusal();
    Named named{element->text(2), element->text(7), id};
    if (named.name.empty()) named.name = element->text(7);
    if (named.name.empty()) named.name = element->text(0);
    if (named.name.empty()) named.name = fmt::format("#{}", id);
    const auto at = placement_of(*element);
    if (!at) {
        if (!concerns_one(at.refusal())) return at.refusal();
        leave(*element, at.refusal());
        return Done{};
    }
    const std::string crossing = model_.crossing_name(*element->reference(5));
    if (!crossing.empty()) named.more = crossing;
    const std::size_t first = rows_.size();
    const int enlarged_before = enlarged_;
    const bool is_a_wall = is_wall(element->type);
    auto taken = read_body(*element, *at, named);
    if (taken && !*taken && is_a_wall) taken = read_parts(*element, named);
    const auto forget = [&] {
        rows_.resize(first);
        names_.resize(first);
        enlarged_ = enlarged_before;
    };
    if (!taken && !concerns_one(taken.refusal())) return taken.refusal();
    if (!taken) forget();
    if (is_a_wall && (!taken || !*taken)) {
        const auto by_axis = read_axis(*element, *at, named);
        if (!by_axis && !concerns_one(by_axis.refusal())) return by_axis.refusal();
        if (by_axis && *by_axis) {
            ++walls_;
            return Done{};
        }
        forget();
        leave(*element, !taken
                            ? taken.refusal()
                            : Refusal{ErrorCode::value_missing, model_.place(id),
                                      "no body, nor an axis with material layers", "one of them"});
        return Done{};
    }
    if (!is_a_wall && (!taken || !*taken)) {
        if (!taken) leave(*element, taken.refusal());
        const Vector2d place = on_site(at->translation()).head<2>();
        if (!(place.cwiseAbs().maxCoeff() <= kLargestCoordinate_m)) {
            leave(*element, {ErrorCode::out_of_range, model_.place(id), "a place out of range",
                             "within 100,000,000 m of zero"});
            return Done{};
        }
        ObstacleRow row = row_of(named, element->line);
        row.kind = ObstacleKind::column;
        row.corners = {place};
        row.width_m = row.depth_m = kDrawnColumn_m;
        rows_.push_back(std::move(row));
        ++by_place_;
    }
    (is_a_wall ? walls_ : columns_) += 1;
    with_openings_ += opened_.contains(id) ? 1 : 0;
    return Done{};
}

Result<Done> ObstacleModel::read() {
    auto done = read_relations();
    for (const std::string_view type : kStanding)
        for (const std::uint64_t id : file_.of_type(type)) {
            if (done) done = read_element(id);
            if (!done) return done;
            if (rows_.size() > kMostObstacles)
                return Refusal{ErrorCode::out_of_range,
                               {document_.name, 0, 0},
                               fmt::format("more than {} obstacles", kMostObstacles),
                               "the obstacles of one floor"};
        }
    return done;
}

void ObstacleModel::say_left(Table<ObstacleRow>& out) const {
    std::size_t said = 0;
    int more = 0;
    for (const auto& [words, group] : left_) {
        if (said++ >= kMostLeftWords) {
            more += group.count;
            continue;
        }
        out.notices.push_back(fmt::format("{}:{}: {} {}; the shape is not read{}", group.first.file,
                                          group.first.line, group.count, words,
                                          group.count > 1 ? " (first one named)." : "."));
    }
    if (more > 0)
        out.notices.push_back(fmt::format("{}: {} more shapes were not read for other reasons.",
                                          document_.name, more));
    std::string others;
    for (const std::string_view type : kOthers)
        if (const auto& all = file_.of_type(type); !all.empty())
            others +=
                fmt::format("{}{} {}", others.empty() ? "" : ", ", all.size(), ifc_word(type));
    if (!others.empty())
        out.notices.push_back(
            fmt::format("{}: not taken as obstacles: {}. What of it stands in a sight belongs in a "
                        "table of obstacles.",
                        document_.name, others));
}

Table<ObstacleRow> ObstacleModel::take() {
    Table<ObstacleRow> out;
    std::unordered_map<std::string, std::unordered_set<std::uint64_t>> owners;
    for (const Named& n : names_) owners[n.name].insert(n.id);
    std::unordered_map<std::string, std::uint64_t> used;
    for (std::size_t i = 0; i < rows_.size(); ++i) {
        const Named& n = names_[i];
        if (owners[n.name].size() > 1) {
            std::string name = n.more.empty() ? std::string() : n.name + ' ' + n.more;
            const auto at = used.find(name);
            if (name.empty() || (at != used.end() && at->second != n.id))
                name = fmt::format("{} #{}", n.name, n.id);
            used.emplace(name, n.id);
            rows_[i].name = std::move(name);
        }
    }
    out.rows = std::move(rows_);
    const auto number = [](int n, const char* noun) {
        return n == 0 ? std::string() : fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s");
    };
    const std::string columns = number(columns_, "column");
    const std::string walls = number(walls_, "wall");
    std::string words =
        columns_ + walls_ == 0
            ? fmt::format("{}: no column and no wall is taken.", document_.name)
            : fmt::format("{}: {}{}{} taken, bottom and top from the shapes.", document_.name,
                          columns, columns.empty() || walls.empty() ? "" : " and ", walls);
    if (with_openings_ > 0)
        words += fmt::format(" {} with openings {} taken as solid: no sight goes through a door.",
                             with_openings_, with_openings_ == 1 ? "is" : "are");
    if (enlarged_ > 0)
        words += fmt::format(" {} {} taken as the straight block around the shape.", enlarged_,
                             enlarged_ == 1 ? "is" : "are");
    if (hulls_ > 0)
        words += fmt::format(" {} of more than {} corners {} taken as the hull.", hulls_,
                             kMostCorners, hulls_ == 1 ? "is" : "are");
    out.notices.push_back(std::move(words));
    if (by_axis_ > 0)
        out.notices.push_back(fmt::format(
            "{}: {} wall{} without a body that is read taken along the axis, heights open.",
            document_.name, by_axis_, by_axis_ == 1 ? "" : "s"));
    if (by_place_ > 0)
        out.notices.push_back(fmt::format(
            "{}: {} column{} without a shape that is read taken {:.0f} mm square at the place, "
            "heights open.",
            document_.name, by_place_, by_place_ == 1 ? "" : "s", kDrawnColumn_m * 1000.0));
    say_left(out);
    return out;
}

}  // namespace

Result<Table<ObstacleRow>> read_ifc_obstacles(const Document& document,
                                              const ReadOptions& options) {
    const auto import = read_ifc(document, options);
    if (!import) return import.refusal();
    const auto file = StepFile::open(document);
    if (!file) return file.refusal();
    ObstacleModel model(*file, document, *import, options.apply_map_conversion);
    auto done = model.read();
    if (!done) return done.refusal();
    Table<ObstacleRow> out = model.take();
    std::vector<std::string> said;
    out.unit = import->unit.unit;
    // What it says about the names of points does not concern obstacles, which have their own.
    for (const std::string& notice : import->notices)
        if (notice.find("points share their name") == std::string::npos) said.push_back(notice);
    out.notices.insert(out.notices.begin(), said.begin(), said.end());
    return out;
}

}  // namespace layproof::exchange
