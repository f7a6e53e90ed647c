#include "exchange/dxf/dxf_drawing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <unordered_map>
#include <unordered_set>
#include <utility>

#include "exchange/dxf/dxf_groups_internal.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Vector3d;

constexpr std::size_t kDeepestBlock = 16;
constexpr std::size_t kHeldEntities = 4096;
constexpr std::size_t kUnfoldedAtLeast = 20'000;
constexpr std::size_t kUnfoldedForEach = 1000;
constexpr std::size_t kMostTextBytes = std::size_t{256} << 20U;

enum class EntityKind { point, line, circle, arc, polyline, text, insert };

struct Vertex {
    Vector3d at;
    double bulge = 0.0;
};

struct Entity {
    EntityKind kind{};
    bool is_down = false;  ///< extrusion 0, 0, −1
    bool is_closed = false;
    int layer = -1;
    int line = 0;
    int block = -1;  ///< insert
    Vector3d a = Vector3d::Zero();
    Vector3d b = Vector3d::Zero();  ///< line: its end; insert: scale
    double size = 0.0;              ///< radius, text height
    double turn = 0.0;              ///< radians; arc: start
    double sweep = 0.0;
    int rows = 1, columns = 1;
    double row_step = 0.0, column_step = 0.0;
    std::string text;
    std::string note;              ///< attributes of an insert
    std::vector<Vertex> vertices;  ///< polyline
    std::vector<std::pair<std::string, DrawnText>> attributes;
};

struct Block {
    Vector3d base = Vector3d::Zero();
    std::vector<Entity> entities;
};

/// Plan: a linear map and a shift; height: a factor and a shift.
struct Map {
    double xx = 1.0, xy = 0.0, yx = 0.0, yy = 1.0;
    Vector3d shift = Vector3d::Zero();
    double zz = 1.0;

    Vector3d operator()(const Vector3d& p) const {
        return {xx * p.x() + xy * p.y() + shift.x(), yx * p.x() + yy * p.y() + shift.y(),
                zz * p.z() + shift.z()};
    }
    /// First the other, then this.
    Map after(const Map& o) const {
        Map m;
        m.xx = xx * o.xx + xy * o.yx;
        m.xy = xx * o.xy + xy * o.yy;
        m.yx = yx * o.xx + yy * o.yx;
        m.yy = yx * o.xy + yy * o.yy;
        m.zz = zz * o.zz;
        m.shift = (*this)(o.shift);
        return m;
    }
    double determinant() const { return xx * yy - xy * yx; }
    double scale() const { return std::sqrt(std::abs(determinant())); }
    bool is_even() const {
        const double a = std::hypot(xx, yx);
        const double b = std::hypot(xy, yy);
        const double skew = xx * xy + yx * yy;
        return std::abs(a - b) <= 1e-9 * a && std::abs(skew) <= 1e-9 * a * b && a > 0.0;
    }
};

Map mirror_x() {
    Map m;
    m.xx = -1.0;
    m.zz = -1.0;
    return m;
}

class DrawingReader {
public:
    explicit DrawingReader(const Document& document) : document_(document), groups_(document) {}

    Result<Drawing> read();

private:
    using Groups = std::vector<DxfGroup>;

    Result<Done> read_header();
    template <class Take>
    Result<Done> each_in_section(std::string_view type, Take take);
    Result<Done> read_tables();
    Result<Done> read_blocks();
    Result<Done> read_entities(std::vector<Entity>& into, std::string_view end_word);
    Result<bool> collect(Groups& into);
    Result<bool> read_entity(std::string_view type, int line, std::vector<Entity>& into);
    Result<Done> read_vertices(Entity& polyline);
    Result<Done> read_attributes(Entity& insert);
    Result<Done> set_common(const Groups& groups, Entity& entity, std::string& left_why);
    void set_text_place(const Groups& groups, Entity& entity) const;
    Result<Done> fill(std::string_view type, const Groups& groups, Entity& entity,
                      std::string& left_why);
    Result<Done> fill_polyline(const Groups& groups, Entity& entity);
    Result<Done> skip_section();

    Result<Done> unfold_model();
    Result<Done> unfold(const std::vector<Entity>& entities, const Map& map, int layer);
    Result<Done> unfold_insert(const Entity& insert, const Map& map, int layer);
    void place_text(const DrawnText& text, const Map& map, int layer);
    void place_polyline(const Entity& entity, const Map& map, int layer);
    void place_arc(const Entity& entity, const Map& map, int layer);
    Result<Done> count_one(int line);
    Refusal too_many_unfolded(int line) const {
        return {ErrorCode::file_too_large,
                {document_.name, line, 1},
                fmt::format("more than {} things once blocks are unfolded", unfold_limit_),
                "a drawing with fewer"};
    }

    int word(std::string_view text);
    void leave(std::string_view what, std::string_view why, int line);
    Result<double> number(const DxfGroup& g) const { return dxf_number(groups_, g); }

    const Document& document_;
    DxfGroups groups_;
    Drawing drawing_;
    std::unordered_map<std::string, int> numbers_;
    std::unordered_map<int, Block> blocks_;
    std::unordered_set<int> hidden_layers_;
    std::vector<Entity> model_;  ///< still to be unfolded
    bool is_unfolding_ = false;  ///< some of the model space is
    std::vector<int> open_blocks_;
    std::size_t count_ = 0;  ///< unfolded
    std::size_t unfold_limit_ = 0;
    std::size_t text_bytes_ = 0;  ///< unfolded
    std::size_t read_count_ = 0;
    std::unordered_map<std::string, std::size_t> left_index_;
};

int DrawingReader::word(std::string_view text) {
    const std::string key = dxf_text(text, false);
    const auto [found, added] = numbers_.emplace(key, static_cast<int>(drawing_.words.size()));
    if (added) drawing_.words.push_back(key);
    return found->second;
}

void DrawingReader::leave(std::string_view what, std::string_view why, int line) {
    constexpr std::size_t kMostGroups = 200;
    std::string key = fmt::format("{}\n{}", what, why);
    if (!left_index_.contains(key) && drawing_.left.size() >= kMostGroups) key = "\n";
    const auto [found, added] = left_index_.emplace(key, drawing_.left.size());
    if (added) {
        const bool is_other = key == "\n";
        drawing_.left.push_back({is_other ? "other things" : std::string(what),
                                 0,
                                 is_other ? "of other kinds" : std::string(why),
                                 {document_.name, line, 1}});
    }
    ++drawing_.left[found->second].count;
}

/// All groups up to the next 0; false at the end of the bytes.
Result<bool> DrawingReader::collect(Groups& into) {
    into.clear();
    DxfGroup g;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more;
        if (!*more) return false;
        if (g.code == 0) {
            groups_.back();
            return true;
        }
        into.push_back(g);
    }
}

Result<Done> DrawingReader::skip_section() {
    DxfGroup g;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) return Done{};
        if (g.code == 0 && (g.value == "ENDSEC" || g.value == "EOF")) {
            if (g.value == "EOF") groups_.back();
            return Done{};
        }
    }
}

Result<Done> DrawingReader::read_header() {
    DxfGroup g;
    std::string_view variable;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) return Done{};
        if (g.code == 0) {
            if (g.value == "EOF") groups_.back();
            return Done{};
        }
        if (g.code == 9) {
            variable = g.value;
        } else if (variable == "$ACADVER" && g.code == 1) {
            drawing_.version = std::string(g.value.substr(0, 20));
        } else if ((variable == "$INSUNITS" || variable == "$MEASUREMENT") && g.code == 70) {
            const auto value = number(g);
            if (!value) return value.refusal();
            const int whole = std::abs(*value) < 1000.0 ? static_cast<int>(*value) : 0;
            (variable == "$INSUNITS" ? drawing_.insunits : drawing_.measurement) = whole;
        }
    }
}

/// Calls `take` with the groups of each thing of that type up to the end of the section.
template <class Take>
Result<Done> DrawingReader::each_in_section(std::string_view type, Take take) {
    DxfGroup g;
    Groups groups;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) return Done{};
        if (g.code != 0) continue;
        if (g.value == "ENDSEC") return Done{};
        if (g.value == "EOF") {
            groups_.back();
            return Done{};
        }
        if (g.value != type) continue;
        const auto more_groups = collect(groups);
        if (!more_groups) return more_groups.refusal();
        auto done = take(groups);
        if (!done) return done;
    }
}

Result<Done> DrawingReader::read_tables() {
    return each_in_section("LAYER", [&](const Groups& groups) -> Result<Done> {
        int layer = -1;
        bool is_hidden = false;
        for (const DxfGroup& v : groups) {
            if (v.code == 2) layer = word(v.value);
            if (v.code != 62 && v.code != 70) continue;
            const auto value = number(v);
            if (!value) return value.refusal();
            if (v.code == 62 && *value < 0.0) is_hidden = true;
            if (v.code == 70 && std::fmod(std::abs(*value), 2.0) == 1.0) is_hidden = true;
        }
        if (layer >= 0 && is_hidden) hidden_layers_.insert(layer);
        return Done{};
    });
}

Result<Done> DrawingReader::read_blocks() {
    return each_in_section("BLOCK", [&](const Groups& groups) -> Result<Done> {
        int name = -1;
        Block block;
        for (const DxfGroup& v : groups) {
            if (v.code == 2) name = word(v.value);
            if (v.code != 10 && v.code != 20 && v.code != 30) continue;
            const auto value = number(v);
            if (!value) return value.refusal();
            block.base[v.code / 10 - 1] = *value;
        }
        auto done = read_entities(block.entities, "ENDBLK");
        if (done && name >= 0) blocks_.insert_or_assign(name, std::move(block));
        return done;
    });
}

Result<Done> DrawingReader::read_entities(std::vector<Entity>& into, std::string_view end_word) {
    DxfGroup g;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) return Done{};
        if (g.code != 0) continue;
        if (g.value == end_word) return Done{};
        if (g.value == "EOF" || g.value == "ENDSEC") {
            groups_.back();
            return Done{};
        }
        const auto read = read_entity(g.value, g.line, into);
        if (!read) return read.refusal();
        // Layers and blocks stand before what uses them: a large drawing need not be held twice.
        if (&into != &model_ || model_.size() < kHeldEntities) continue;
        is_unfolding_ = true;
        auto done = unfold_model();
        if (!done) return done;
    }
}

/// What was read of the model space so far, as geometry.
Result<Done> DrawingReader::unfold_model() {
    // A few lines of text must not become millions of points.
    unfold_limit_ = std::min(kMostImported, kUnfoldedAtLeast + kUnfoldedForEach * read_count_);
    auto done = unfold(model_, Map{}, -1);
    model_.clear();
    return done;
}

Result<Done> DrawingReader::set_common(const Groups& groups, Entity& entity,
                                       std::string& left_why) {
    double up = 1.0;
    double tilt = 0.0;
    for (const DxfGroup& g : groups) {
        switch (g.code) {
            case 8:
                entity.layer = word(g.value);
                break;
            case 67:
                if (g.value == "1") left_why = "in paper space";
                break;
            case 60:
                if (g.value == "1") left_why = "invisible";
                break;
            case 210:
            case 220:
            case 230: {
                const auto value = number(g);
                if (!value) return value.refusal();
                if (g.code == 230) {
                    up = *value;
                } else {
                    tilt = std::max(tilt, std::abs(*value));
                }
                break;
            }
            default:
                break;
        }
    }
    if (tilt > 1e-9) left_why = "tilted out of the plan";
    entity.is_down = up < 0.0;
    return Done{};
}

void DrawingReader::set_text_place(const Groups& groups, Entity& entity) const {
    bool is_aligned = false;
    bool has_second = false;
    Vector3d second = Vector3d::Zero();
    for (const DxfGroup& g : groups) {
        if ((g.code == 72 || g.code == 73 || g.code == 74) && g.value != "0") is_aligned = true;
        if (g.code != 11 && g.code != 21 && g.code != 31) continue;
        const auto value = number(g);
        if (!value) return;
        second[(g.code - 1) / 10 - 1] = *value;
        has_second = true;
    }
    if (is_aligned && has_second) entity.a = second;
}

Result<Done> DrawingReader::fill_polyline(const Groups& groups, Entity& entity) {
    double elevation = 0.0;
    for (const DxfGroup& g : groups) {
        if (g.code != 10 && g.code != 20 && g.code != 42 && g.code != 38 && g.code != 70) continue;
        const auto value = number(g);
        if (!value) return value.refusal();
        if (g.code == 10) entity.vertices.push_back({Vector3d(*value, 0.0, 0.0), 0.0});
        if (g.code == 20 && !entity.vertices.empty()) entity.vertices.back().at.y() = *value;
        if (g.code == 42 && !entity.vertices.empty()) entity.vertices.back().bulge = *value;
        if (g.code == 38) elevation = *value;
        if (g.code == 70) entity.is_closed = std::fmod(std::abs(*value), 2.0) == 1.0;
    }
    for (Vertex& v : entity.vertices) v.at.z() = elevation;
    return Done{};
}

Result<Done> DrawingReader::fill(std::string_view type, const Groups& groups, Entity& entity,
                                 std::string& left_why) {
    if (type == "LWPOLYLINE") {
        entity.kind = EntityKind::polyline;
        return fill_polyline(groups, entity);
    }
    const bool is_insert = type == "INSERT";
    const bool is_line = type == "LINE";
    const bool is_mtext = type == "MTEXT";
    if (is_insert) entity.b = Vector3d::Ones();
    double end_angle = 0.0;
    std::string text;
    for (const DxfGroup& g : groups) {
        if ((g.code == 1 || g.code == 3) && !is_insert) text += g.value.substr(0, 2000);
        if (g.code == 2 && is_insert) entity.block = word(g.value);
        const bool is_wanted = g.code == 10 || g.code == 20 || g.code == 30 || g.code == 40 ||
                               (is_line && (g.code == 11 || g.code == 21 || g.code == 31)) ||
                               (g.code >= 41 && g.code <= 45 && is_insert) || g.code == 50 ||
                               g.code == 51 || (is_insert && (g.code == 70 || g.code == 71)) ||
                               (g.code == 70 && type == "POLYLINE");
        if (!is_wanted) continue;
        const auto value = number(g);
        if (!value) return value.refusal();
        const double v = *value;
        switch (g.code) {
            case 10:
            case 20:
            case 30:
                entity.a[g.code / 10 - 1] = v;
                break;
            case 11:
            case 21:
            case 31:
                entity.b[g.code / 10 - 1] = v;
                break;
            case 40:
                entity.size = v;
                break;
            case 41:
            case 42:
            case 43:
                entity.b[g.code - 41] = v;
                break;
            case 44:
                entity.column_step = v;
                break;
            case 45:
                entity.row_step = v;
                break;
            case 50:
                entity.turn = v * measure::kRadPerDeg;
                break;
            case 51:
                end_angle = v * measure::kRadPerDeg;
                break;
            case 70:
                if (is_insert) entity.columns = static_cast<int>(std::clamp(v, 0.0, 1e6));
                entity.is_closed = std::fmod(std::abs(v), 2.0) == 1.0;
                break;
            case 71:
                entity.rows = static_cast<int>(std::clamp(v, 0.0, 1e6));
                break;
            default:
                break;
        }
    }
    if (is_insert) {
        entity.kind = EntityKind::insert;
        entity.rows = std::max(entity.rows, 1);
        entity.columns = std::max(entity.columns, 1);
    } else if (type == "POINT") {
        entity.kind = EntityKind::point;
    } else if (is_line) {
        entity.kind = EntityKind::line;
    } else if (type == "CIRCLE" || type == "ARC") {
        entity.kind = type == "ARC" ? EntityKind::arc : EntityKind::circle;
        entity.sweep = measure::wrap_0_2pi(end_angle - entity.turn);
        if (entity.sweep == 0.0) entity.sweep = measure::kTwoPi;
        if (!(entity.size > 0.0)) left_why = "no radius";
    } else if (type == "POLYLINE") {
        entity.kind = EntityKind::polyline;
    } else {
        entity.kind = EntityKind::text;
        entity.text = dxf_text(text, is_mtext);
        // In MTEXT 11, 21 are the direction of writing.
        if (!is_mtext) set_text_place(groups, entity);
    }
    return Done{};
}

Result<Done> DrawingReader::read_vertices(Entity& polyline) {
    DxfGroup g;
    Groups groups;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) return Done{};
        if (g.code != 0) continue;
        if (g.value == "SEQEND") return Done{};
        if (g.value != "VERTEX") {
            groups_.back();
            return Done{};
        }
        const auto more_groups = collect(groups);
        if (!more_groups) return more_groups.refusal();
        Vertex vertex{Vector3d::Zero(), 0.0};
        for (const DxfGroup& v : groups) {
            if (v.code != 10 && v.code != 20 && v.code != 30 && v.code != 42) continue;
            const auto value = number(v);
            if (!value) return value.refusal();
            if (v.code == 42) {
                vertex.bulge = *value;
            } else {
                vertex.at[v.code / 10 - 1] = *value;
            }
        }
        auto counted = count_one(g.line);
        if (!counted) return counted;
        polyline.vertices.push_back(vertex);
    }
}

Result<Done> DrawingReader::read_attributes(Entity& insert) {
    DxfGroup g;
    Groups groups;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) return Done{};
        if (g.code != 0) continue;
        if (g.value == "SEQEND") return Done{};
        if (g.value != "ATTRIB") {
            groups_.back();
            return Done{};
        }
        const auto more_groups = collect(groups);
        if (!more_groups) return more_groups.refusal();
        Entity entity;
        std::string left_why;
        auto done = set_common(groups, entity, left_why);
        if (done) done = fill("TEXT", groups, entity, left_why);
        if (!done) return done;
        std::string tag;
        for (const DxfGroup& v : groups) {
            if (v.code == 2) tag = dxf_text(v.value, false);
        }
        DrawnText text{entity.a, entity.size, entity.text, entity.layer, g.line, true};
        if (insert.attributes.size() < 100) insert.attributes.emplace_back(tag, std::move(text));
    }
}

Result<Done> DrawingReader::count_one(int line) {
    if (++read_count_ <= kMostImported) return Done{};
    return Refusal{ErrorCode::file_too_large,
                   {document_.name, line, 1},
                   "more than 2,000,000 things drawn",
                   "a drawing with fewer"};
}

Result<bool> DrawingReader::read_entity(std::string_view type, int line,
                                        std::vector<Entity>& into) {
    static const std::unordered_set<std::string_view> kTaken{
        "POINT", "LINE", "CIRCLE", "ARC", "LWPOLYLINE", "POLYLINE", "TEXT", "MTEXT", "INSERT"};
    if (!kTaken.contains(type)) {
        // Definitions inside blocks and dimension parts tell nothing by themselves.
        if (type != "SEQEND" && type != "ATTDEF") {
            leave(dxf_text(type.substr(0, 40), false), "a kind of entity that holds no points",
                  line);
        }
        return true;
    }
    Groups groups;
    const auto more = collect(groups);
    if (!more) return more;
    Entity entity;
    entity.line = line;
    std::string left_why;
    auto done = set_common(groups, entity, left_why);
    if (done) done = fill(type, groups, entity, left_why);
    if (!done) return done.refusal();
    if (type == "POLYLINE") done = read_vertices(entity);
    const bool has_attributes =
        type == "INSERT" && std::any_of(groups.begin(), groups.end(), [](const DxfGroup& g) {
            return g.code == 66 && g.value == "1";
        });
    if (done && has_attributes) done = read_attributes(entity);
    if (done) done = count_one(line);
    if (!done) return done.refusal();
    if (left_why.empty()) {
        into.push_back(std::move(entity));
    } else {
        leave(type, left_why, line);
    }
    return true;
}

void DrawingReader::place_text(const DrawnText& text, const Map& map, int layer) {
    if (text.text.empty()) return;
    text_bytes_ += text.text.size();
    DrawnText placed = text;
    placed.at = map(text.at);
    placed.height = text.height * map.scale();
    if (placed.layer < 0) placed.layer = layer;
    drawing_.texts.push_back(std::move(placed));
}

void DrawingReader::place_arc(const Entity& entity, const Map& map, int layer) {
    if (!map.is_even()) {
        leave("ARC", "in a block with uneven scale", entity.line);
        return;
    }
    DrawnArc arc{map(entity.a), entity.size * map.scale(), 0.0, entity.sweep, layer, entity.line};
    const bool is_mirrored = map.determinant() < 0.0;
    const double from = is_mirrored ? entity.turn + entity.sweep : entity.turn;
    const Vector3d start =
        map(entity.a + entity.size * Vector3d(std::cos(from), std::sin(from), 0.0)) - arc.centre;
    arc.start_rad = measure::wrap_0_2pi(std::atan2(start.y(), start.x()));
    drawing_.arcs.push_back(arc);
}

void DrawingReader::place_polyline(const Entity& entity, const Map& map, int layer) {
    const std::vector<Vertex>& v = entity.vertices;
    if (v.size() < 2) return;
    const double turn = map.determinant() < 0.0 ? -1.0 : 1.0;
    const bool is_even = map.is_even();
    const std::size_t count = entity.is_closed ? v.size() : v.size() - 1;
    // Two half circles: a circle drawn as a polyline.
    const bool is_circle = entity.is_closed && v.size() == 2 && is_even &&
                           std::abs(std::abs(v[0].bulge) - 1.0) < 1e-9 && v[0].bulge == v[1].bulge;
    if (is_circle) {
        const Vector3d a = map(v[0].at);
        const Vector3d b = map(v[1].at);
        DrawnPoint point;
        point.at = 0.5 * (a + b);
        point.source = PointSource::circle;
        point.radius = 0.5 * (b - a).head<2>().norm();
        point.layer = layer;
        point.line = entity.line;
        if (point.radius > 0.0) drawing_.points.push_back(std::move(point));
        return;
    }
    for (std::size_t i = 0; i < count; ++i) {
        const Vector3d from = map(v[i].at);
        const Vector3d to = map(v[(i + 1) % v.size()].at);
        if (v[i].bulge == 0.0) {
            drawing_.lines.push_back({from, to, layer, entity.line});
        } else if (!is_even) {
            leave("ARC", "in a block with uneven scale", entity.line);
        } else if (auto arc = bulge_arc(from, to, turn * v[i].bulge)) {
            arc->layer = layer;
            arc->line = entity.line;
            drawing_.arcs.push_back(*arc);
        }
    }
}

Result<Done> DrawingReader::unfold_insert(const Entity& insert, const Map& map, int layer) {
    for (const auto& attribute : insert.attributes) place_text(attribute.second, map, layer);
    static const std::unordered_set<std::string> kNameTags{
        "point", "pnt", "pt",   "no",  "num",   "nummer", "number",
        "name",  "id",  "mark", "tag", "label", "grid",   "axis"};
    const auto found = blocks_.find(insert.block);
    Map turned;
    const double c = std::cos(insert.turn);
    const double s = std::sin(insert.turn);
    turned.xx = c * insert.b.x();
    turned.xy = -s * insert.b.y();
    turned.yx = s * insert.b.x();
    turned.yy = c * insert.b.y();
    turned.zz = insert.b.z();
    if (std::find(open_blocks_.begin(), open_blocks_.end(), insert.block) != open_blocks_.end()) {
        return Refusal{ErrorCode::reference_circular,
                       {document_.name, insert.line, 1},
                       "block " + in_quotes(drawing_.word(insert.block)) + ", which holds itself",
                       "blocks that do not hold themselves"};
    }
    if (open_blocks_.size() >= kDeepestBlock) {
        return Refusal{ErrorCode::nested_too_deep,
                       {document_.name, insert.line, 1},
                       "more than 16 blocks inside each other",
                       "a drawing as drafting programs write it"};
    }
    for (int row = 0; row < insert.rows; ++row) {
        for (int column = 0; column < insert.columns; ++column) {
            const Vector3d step(column * insert.column_step, row * insert.row_step, 0.0);
            Map at;
            at.shift =
                insert.a + Vector3d(c * step.x() - s * step.y(), s * step.x() + c * step.y(), 0.0);
            DrawnPoint point;
            point.at = map(at.shift);
            point.source = PointSource::insert;
            point.layer = layer;
            point.block = insert.block;
            point.line = insert.line;
            for (const auto& [tag, text] : insert.attributes) {
                if (text.text.empty() || row + column > 0) continue;
                const bool is_name =
                    kNameTags.contains(lower(tag)) || insert.attributes.size() == 1;
                text_bytes_ += text.text.size();
                if (is_name && point.text < 0) {
                    point.text = static_cast<int>(drawing_.texts.size());
                    DrawnText name = text;
                    name.at = point.at;
                    name.is_attribute = true;
                    drawing_.texts.push_back(std::move(name));
                } else {
                    if (!point.note.empty()) point.note += ' ';
                    point.note += tag + '=' + text.text;
                }
            }
            drawing_.points.push_back(std::move(point));
            if (++count_ > unfold_limit_ || text_bytes_ > kMostTextBytes) {
                return too_many_unfolded(insert.line);
            }
            if (found == blocks_.end()) continue;
            Map base;
            base.shift = -found->second.base;
            open_blocks_.push_back(insert.block);
            auto done =
                unfold(found->second.entities, map.after(at).after(turned).after(base), layer);
            open_blocks_.pop_back();
            if (!done) return done;
        }
    }
    if (found == blocks_.end()) leave("INSERT", "its block is not in the file", insert.line);
    return Done{};
}

Result<Done> DrawingReader::unfold(const std::vector<Entity>& entities, const Map& map,
                                   int insert_layer) {
    for (const Entity& entity : entities) {
        if (++count_ > unfold_limit_ || text_bytes_ > kMostTextBytes) {
            return too_many_unfolded(entity.line);
        }
        // What is drawn on layer 0 of a block lies on the layer of the insert.
        const bool is_zero = drawing_.word(entity.layer) == "0";
        const int layer = insert_layer >= 0 && is_zero ? insert_layer : entity.layer;
        if (hidden_layers_.contains(layer)) {
            leave("things", "on layers that are off or frozen", entity.line);
            continue;
        }
        // Points and lines are in world coordinates whatever their extrusion.
        const bool is_own_frame =
            entity.kind != EntityKind::point && entity.kind != EntityKind::line;
        const Map own = is_own_frame && entity.is_down ? map.after(mirror_x()) : map;
        switch (entity.kind) {
            case EntityKind::point:
            case EntityKind::circle: {
                DrawnPoint point;
                point.at = own(entity.a);
                if (entity.kind == EntityKind::circle) {
                    point.source = PointSource::circle;
                    point.radius = entity.size * own.scale();
                }
                point.layer = layer;
                point.line = entity.line;
                drawing_.points.push_back(std::move(point));
                break;
            }
            case EntityKind::line:
                drawing_.lines.push_back({own(entity.a), own(entity.b), layer, entity.line});
                break;
            case EntityKind::arc:
                place_arc(entity, own, layer);
                break;
            case EntityKind::polyline:
                count_ += entity.vertices.size();
                place_polyline(entity, own, layer);
                break;
            case EntityKind::text:
                place_text({entity.a, entity.size, entity.text, layer, entity.line, false}, own,
                           layer);
                break;
            case EntityKind::insert: {
                auto done = unfold_insert(entity, own, layer);
                if (!done) return done;
                break;
            }
        }
    }
    return Done{};
}

Result<Drawing> DrawingReader::read() {
    DxfGroup g;
    bool has_end = false;
    for (;;) {
        const auto more = groups_.next(g);
        if (!more) return more.refusal();
        if (!*more) break;
        if (g.code == 0 && g.value == "EOF") {
            has_end = true;
            break;
        }
        if (g.code != 0 || g.value != "SECTION") continue;
        const auto named = groups_.next(g);
        if (!named) return named.refusal();
        if (!*named) break;
        Result<Done> done = Done{};
        if (is_unfolding_ && (g.value == "TABLES" || g.value == "BLOCKS")) {
            return Refusal{ErrorCode::not_well_formed, groups_.place(g),
                           in_quotes(g.value) + " again, behind the entities",
                           "layers and blocks before what uses them"};
        }
        if (g.value == "HEADER") {
            done = read_header();
        } else if (g.value == "TABLES") {
            done = read_tables();
        } else if (g.value == "BLOCKS") {
            done = read_blocks();
        } else if (g.value == "ENTITIES") {
            done = read_entities(model_, "ENDSEC");
        } else {
            done = skip_section();
        }
        if (!done) return done.refusal();
    }
    if (!has_end) {
        return Refusal{ErrorCode::not_well_formed, groups_.place(), "the end of the bytes",
                       "EOF at the end of a DXF file: this one was cut short"};
    }
    auto done = unfold_model();
    if (!done) return done.refusal();
    return std::move(drawing_);
}

struct InsertUnit {
    int number;
    std::string_view word;
    double metres;
};

constexpr std::array kInsertUnits{
    InsertUnit{1, "inches", 0.0254},     InsertUnit{2, "feet", 0.3048},
    InsertUnit{3, "miles", 1609.344},    InsertUnit{4, "millimetres", 0.001},
    InsertUnit{5, "centimetres", 0.01},  InsertUnit{6, "metres", 1.0},
    InsertUnit{7, "kilometres", 1000.0}, InsertUnit{10, "yards", 0.9144},
    InsertUnit{14, "decimetres", 0.1},   InsertUnit{21, "US survey feet", 1200.0 / 3937.0},
};

}  // namespace

std::optional<DrawnArc> bulge_arc(const Vector3d& from, const Vector3d& to, double bulge) {
    const Eigen::Vector2d chord = (to - from).head<2>();
    const double length = chord.norm();
    if (bulge == 0.0 || !(length > 0.0) || !std::isfinite(bulge)) return std::nullopt;
    DrawnArc arc;
    arc.sweep_rad = 4.0 * std::atan(std::abs(bulge));
    arc.radius = 0.25 * length * (std::abs(bulge) + 1.0 / std::abs(bulge));
    // The centre lies on the bisector, left of the chord for an anticlockwise arc below 180°.
    const double away = 0.25 * length * (1.0 / bulge - bulge);
    const Eigen::Vector2d left(-chord.y() / length, chord.x() / length);
    const Eigen::Vector2d centre = from.head<2>() + 0.5 * chord + away * left;
    arc.centre = {centre.x(), centre.y(), from.z()};
    const Vector3d start = bulge > 0.0 ? from : to;
    arc.start_rad = measure::wrap_0_2pi(std::atan2(start.y() - centre.y(), start.x() - centre.x()));
    if (!std::isfinite(arc.radius) || !arc.centre.allFinite()) return std::nullopt;
    return arc;
}

std::string_view insunits_word(int insunits) {
    for (const InsertUnit& u : kInsertUnits) {
        if (u.number == insunits) return u.word;
    }
    return "no unit";
}

std::optional<double> insunits_metres(int insunits) {
    for (const InsertUnit& u : kInsertUnits) {
        if (u.number == insunits) return u.metres;
    }
    return std::nullopt;
}

Result<Drawing> read_drawing(const Document& document) {
    if (format_of(document) == FileFormat::dxf_binary) {
        return Refusal{ErrorCode::format_unknown,
                       {document.name, 1, 1},
                       "a binary DXF file",
                       "ASCII DXF: save the drawing as DXF text"};
    }
    if (trimmed(without_bom(document.bytes)).empty()) {
        return Refusal{ErrorCode::empty_file, {document.name, 1, 1}, "nothing", "a DXF file"};
    }
    DrawingReader reader(document);
    return reader.read();
}

}  // namespace layproof::exchange
