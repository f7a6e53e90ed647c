#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "exchange/ifc/ifc_solids_internal.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Affine3d;
using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr int kDeepestItem = 12;
/// A sweep that leans less is upright.
constexpr double kUpright = 1e-3;
/// Parts of one element.
constexpr std::size_t kMostBlocks = 1000;
/// An element of more different points is not one that stands on a floor.
constexpr std::size_t kMostFacePoints = 200'000;

double cross_of(const Vector2d& a, const Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

double area_of(const std::vector<Vector2d>& p) {
    double twice = 0.0;
    for (std::size_t i = 0; i < p.size(); ++i)
        twice += cross_of(p[i] - p[0], p[(i + 1) % p.size()] - p[0]);
    return 0.5 * std::abs(twice);
}

struct Span {
    double low = 0.0, high = 0.0;
};

template <class Points>
Span heights_of(const Points& points) {
    Span out{points.front().z(), points.front().z()};
    for (const auto& p : points) {
        out.low = std::min(out.low, p.z());
        out.high = std::max(out.high, p.z());
    }
    return out;
}

std::vector<Vector2d> plan_of_points(const std::vector<Vector3d>& points) {
    std::vector<Vector2d> out;
    out.reserve(points.size());
    for (const Vector3d& p : points) out.emplace_back(p.head<2>());
    return out;
}

Refusal too_many_parts(const Place& place) {
    return {ErrorCode::out_of_range, place,
            fmt::format("an element of more than {} parts", kMostBlocks), "one of fewer"};
}

}  // namespace

/// Andrew's monotone chain.
std::vector<Vector2d> convex_outline(std::vector<Vector2d> p) {
    std::sort(p.begin(), p.end(), [](const Vector2d& a, const Vector2d& b) {
        return a.x() < b.x() || (a.x() == b.x() && a.y() < b.y());
    });
    p.erase(std::unique(p.begin(), p.end()), p.end());
    if (p.size() < 3) return p;
    std::vector<Vector2d> hull;
    for (int side = 0; side < 2; ++side) {
        const std::size_t start = hull.size();
        for (const Vector2d& q : p) {
            while (hull.size() >= start + 2 &&
                   cross_of(hull.back() - hull[hull.size() - 2], q - hull.back()) <= 0.0)
                hull.pop_back();
            hull.push_back(q);
        }
        hull.pop_back();
        std::reverse(p.begin(), p.end());
    }
    return hull;
}

Result<Done> IfcSolids::charge(const StepRecord& record) {
    for (const StepValue& v : record.values) {
        values_ += 1 + v.list.size();
        for (const StepValue& inner : v.list) values_ += inner.list.size();
    }
    if (values_ > kMostShapeValues)
        return Refusal{
            ErrorCode::file_too_large, model_.place(record.id),
            fmt::format("shapes of more than {} values, mapped ones each time", kMostShapeValues),
            "a model with fewer"};
    return Done{};
}

Result<StepRecord> IfcSolids::record(std::uint64_t id) {
    auto out = model_.file().record(id);
    if (!out) return out;
    if (auto paid = charge(*out); !paid) return paid.refusal();
    return out;
}

Result<std::vector<IfcBlock>> IfcSolids::blocks(std::uint64_t shape, const Affine3d& placed) {
    Blocks out;
    const auto definition = record(shape);
    if (!definition) return definition.refusal();
    for (const bool by_type : {false, true}) {
        for (const std::uint64_t id : definition->references(2)) {
            const auto representation = record(id);
            if (!representation) return representation.refusal();
            const std::string type = representation->text(2);
            const bool is_body = by_type ? type == "SweptSolid" || type == "Clipping" ||
                                               type == "Brep" || type == "MappedRepresentation" ||
                                               type == "CSG" || type == "SolidModel" ||
                                               type == "Tessellation"
                                         : representation->text(1) == "Body";
            // One that only points to an axis is mapped as well.
            if (!is_body || (by_type && representation->text(1) == "Axis")) continue;
            for (const std::uint64_t part : representation->references(3)) {
                auto done = item(part, placed, 0, out);
                if (!done) return done.refusal();
            }
        }
        if (!out.empty()) break;
    }
    return out;
}

Result<std::vector<Vector2d>> IfcSolids::axis(std::uint64_t shape) {
    const auto definition = record(shape);
    if (!definition) return definition.refusal();
    for (const std::uint64_t id : definition->references(2)) {
        const auto representation = record(id);
        if (!representation) return representation.refusal();
        const auto items = representation->references(3);
        if (representation->text(1) != "Axis" || items.size() != 1) continue;
        return ifc_curve(model_, items.front());
    }
    return std::vector<Vector2d>{};
}

Result<Done> IfcSolids::item(std::uint64_t id, const Affine3d& at, int depth, Blocks& out) {
    const auto read = record(id);
    if (!read) return read.refusal();
    const StepRecord& solid = *read;
    if (depth > kDeepestItem)
        return Refusal{ErrorCode::out_of_range, model_.place(id), "shapes made of each other",
                       fmt::format("at most {} of them within each other", kDeepestItem)};
    if (out.size() >= kMostBlocks) return too_many_parts(model_.place(id));
    const auto part = [&](std::size_t index) -> Result<Done> {
        const auto next = solid.reference(index);
        if (!next)
            return Refusal{ErrorCode::value_missing, model_.place(id),
                           ifc_word(solid.type) + " without a solid", "a solid"};
        return item(*next, at, depth + 1, out);
    };
    if (solid.type == "IFCEXTRUDEDAREASOLID") return extruded(solid, at, out);
    if (solid.type == "IFCMAPPEDITEM") return mapped(solid, at, depth, out);
    if (solid.type == "IFCBOOLEANCLIPPINGRESULT" || solid.type == "IFCBOOLEANRESULT") {
        const std::size_t first = out.size();
        auto done = part(1);
        if (done && solid.text(0) == "UNION") return part(2);
        for (std::size_t i = first; i < out.size(); ++i) out[i].is_enlarged = true;
        return done;
    }
    if (solid.type == "IFCCSGSOLID") return part(0);
    if (solid.type == "IFCFACETEDBREP" || solid.type == "IFCFACETEDBREPWITHVOIDS" ||
        solid.type == "IFCTRIANGULATEDFACESET" || solid.type == "IFCPOLYGONALFACESET")
        return faces(solid, at, out);
    return Refusal{ErrorCode::format_unknown, model_.place(id), ifc_word(solid.type),
                   "an extruded area, a cut or mapped one, or a closed set of faces"};
}

/// IfcCartesianTransformationOperator3D: axes made square to each other, the first one kept (base
/// axes of ISO 10303-42).
Result<Affine3d> IfcSolids::operation(std::uint64_t id) {
    const auto read = record(id);
    if (!read) return read.refusal();
    if (!read->type.starts_with("IFCCARTESIANTRANSFORMATIONOPERATOR3D"))
        return Refusal{ErrorCode::format_unknown, model_.place(id), ifc_word(read->type),
                       "IfcCartesianTransformationOperator3D"};
    const auto direction = [&](std::size_t index, const Vector3d& otherwise) -> Result<Vector3d> {
        const auto ref = read->reference(index);
        if (!ref) return otherwise;
        return model_.direction(*ref);
    };
    auto third = direction(4, Vector3d::UnitZ());
    if (!third) return third.refusal();
    auto first = direction(
        0, std::abs(third->x()) > 0.99 ? Vector3d(Vector3d::UnitY()) : Vector3d(Vector3d::UnitX()));
    if (!first) return first.refusal();
    Vector3d x = *first - first->dot(*third) * *third;
    if (!(x.norm() > 1e-9))
        return Refusal{ErrorCode::out_of_range, model_.place(id), "axes that are parallel",
                       "axes that differ"};
    x.normalize();
    Vector3d y = third->cross(x);
    auto second = direction(1, y);
    if (!second) return second.refusal();
    if (second->dot(y) < 0.0) y = -y;
    const double scale = read->number(3).value_or(1.0);
    const bool is_uneven = read->type.ends_with("NONUNIFORM");
    Affine3d out = Affine3d::Identity();
    out.linear().col(0) = scale * x;
    out.linear().col(1) = (is_uneven ? read->number(5).value_or(scale) : scale) * y;
    out.linear().col(2) = (is_uneven ? read->number(6).value_or(scale) : scale) * *third;
    if (const auto origin = read->reference(2)) {
        const auto point = model_.point(*origin);
        if (!point) return point.refusal();
        out.translation() = *point;
    }
    return out;
}

Result<Done> IfcSolids::mapped(const StepRecord& mapped_item, const Affine3d& at, int depth,
                               Blocks& out) {
    const auto source_id = mapped_item.reference(0);
    const auto target_id = mapped_item.reference(1);
    if (!source_id || !target_id)
        return Refusal{ErrorCode::value_missing, model_.place(mapped_item.id),
                       "a mapped item without source or target", "both"};
    const auto source = record(*source_id);
    if (!source) return source.refusal();
    const auto target = operation(*target_id);
    if (!target) return target.refusal();
    Affine3d whole = at * *target;
    if (const auto origin_id = source->reference(0)) {
        const auto origin = model_.axis_placement(*origin_id);
        if (!origin) return origin.refusal();
        whole = whole * origin->inverse();
    }
    const auto representation_id = source->reference(1);
    if (!representation_id)
        return Refusal{ErrorCode::value_missing, model_.place(*source_id),
                       "a map without representation", "a representation"};
    const auto representation = record(*representation_id);
    if (!representation) return representation.refusal();
    for (const std::uint64_t id : representation->references(3)) {
        auto done = item(id, whole, depth + 1, out);
        if (!done) return done;
    }
    return Done{};
}

Result<Done> IfcSolids::extruded(const StepRecord& solid, const Affine3d& at, Blocks& out) {
    const auto profile_id = solid.reference(0);
    const auto direction_id = solid.reference(2);
    const auto depth = solid.number(3);
    if (!profile_id || !depth || !(std::abs(*depth) > 0.0))
        return Refusal{ErrorCode::value_missing, model_.place(solid.id),
                       "an extruded area without profile or depth", "both, the depth above zero"};
    Affine3d whole = at;
    if (const auto position = solid.reference(1)) {
        const auto placement = model_.axis_placement(*position);
        if (!placement) return placement.refusal();
        whole = whole * *placement;
    }
    Vector3d along = Vector3d::UnitZ();
    if (direction_id) {
        const auto direction = model_.direction(*direction_id);
        if (!direction) return direction.refusal();
        along = *direction;
    }
    const auto outlines = ifc_profile(model_, *profile_id);
    if (!outlines) return outlines.refusal();
    const Vector3d sweep = whole.linear() * (*depth * along);
    const bool is_upright = sweep.head<2>().norm() <= kUpright * std::abs(sweep.z());
    for (const IfcOutline& outline : *outlines) {
        if (out.size() >= kMostBlocks) return too_many_parts(model_.place(solid.id));
        values_ += outline.corners.size();
        std::vector<Vector3d> ends;
        for (const Vector2d& c : outline.corners)
            ends.push_back(whole * Vector3d(c.x(), c.y(), 0.0));
        const Span foot = heights_of(ends);
        IfcBlock block;
        block.is_enlarged = outline.is_enlarged;
        if (is_upright) {
            block.outline = plan_of_points(ends);
            block.bottom = std::min(foot.low, foot.low + sweep.z());
            block.top = std::max(foot.high, foot.high + sweep.z());
            block.is_enlarged |= foot.high - foot.low > kUpright * std::abs(sweep.z());
            const Vector3d x = whole.linear().col(0);
            const Vector3d y = whole.linear().col(1);
            const bool is_even = std::abs(x.norm() - y.norm()) < 1e-6 * x.norm() &&
                                 std::abs(x.z()) + std::abs(y.z()) < 1e-3 * x.norm();
            if (outline.radius > 0.0 && is_even) {
                block.centre =
                    (whole * Vector3d(outline.centre.x(), outline.centre.y(), 0.0)).head<2>();
                block.radius = outline.radius * x.norm();
                block.outline.clear();
            }
        } else {
            const std::size_t corners = ends.size();
            for (std::size_t i = 0; i < corners; ++i) ends.push_back(ends[i] + sweep);
            const Span all = heights_of(ends);
            block.outline = convex_outline(plan_of_points(ends));
            block.bottom = all.low;
            block.top = all.high;
            // The swept volume against that of the block around it.
            Vector3d normal = Vector3d::Zero();
            for (std::size_t i = 0; i < corners; ++i)
                normal += 0.5 * (ends[i] - ends[0]).cross(ends[(i + 1) % corners] - ends[0]);
            const double volume = std::abs(normal.dot(sweep));
            block.is_enlarged |= volume < 0.99 * area_of(block.outline) * (all.high - all.low);
        }
        if (block.radius == 0.0 && !(area_of(block.outline) > 0.0))
            return Refusal{ErrorCode::out_of_range, model_.place(solid.id), "a solid of no volume",
                           "a solid"};
        out.push_back(std::move(block));
    }
    return Done{};
}

Result<std::vector<Vector3d>> IfcSolids::point_list(std::uint64_t id) {
    const auto list = record(id);
    if (!list) return list.refusal();
    std::vector<Vector3d> out;
    for (const StepValue& row : list->at(0).list) {
        if (row.list.size() < 3)
            return Refusal{ErrorCode::value_missing, model_.place(id),
                           "a point of fewer than three coordinates", "three coordinates"};
        out.emplace_back(row.list[0].number, row.list[1].number, row.list[2].number);
    }
    return out;
}

/// The corners of every face, in its sense.
Result<std::vector<std::vector<Vector3d>>> IfcSolids::loops(const StepRecord& solid) {
    std::vector<std::vector<Vector3d>> out;
    if (solid.type.starts_with("IFCFACETEDBREP")) {
        const auto shell = record(solid.reference(0).value_or(0));
        if (!shell) return shell.refusal();
        for (const std::uint64_t face_id : shell->references(0)) {
            const auto face = record(face_id);
            if (!face) return face.refusal();
            for (const std::uint64_t bound_id : face->references(0)) {
                const auto bound = record(bound_id);
                if (!bound) return bound.refusal();
                const auto loop = record(bound->reference(0).value_or(0));
                if (!loop) return loop.refusal();
                std::vector<Vector3d> corners;
                for (const std::uint64_t p : loop->references(0)) {
                    const auto point = model_.point(p);
                    if (!point) return point.refusal();
                    corners.push_back(*point);
                }
                if (bound->text(1) == "F") std::reverse(corners.begin(), corners.end());
                out.push_back(std::move(corners));
            }
        }
        return out;
    }
    const auto points = point_list(solid.reference(0).value_or(0));
    if (!points) return points.refusal();
    const auto add = [&](const StepValue& indices) -> bool {
        std::vector<Vector3d> corners;
        for (const StepValue& index : indices.list) {
            if (!(index.number >= 1.0 && index.number <= static_cast<double>(points->size())))
                return false;
            corners.push_back((*points)[static_cast<std::size_t>(index.number) - 1]);
        }
        out.push_back(std::move(corners));
        return true;
    };
    const Refusal bad{ErrorCode::out_of_range, model_.place(solid.id),
                      "a face of a point that is not in the list",
                      fmt::format("point numbers 1 to {}", points->size())};
    if (solid.type == "IFCTRIANGULATEDFACESET") {
        for (const StepValue& triangle : solid.at(3).list)
            if (!add(triangle)) return bad;
    } else {
        for (const std::uint64_t face_id : solid.references(2)) {
            const auto face = record(face_id);
            if (!face) return face.refusal();
            if (!add(face->at(0))) return bad;
        }
    }
    return out;
}

Result<Done> IfcSolids::faces(const StepRecord& solid, const Affine3d& at, Blocks& out) {
    const auto faces_read = loops(solid);
    if (!faces_read) return faces_read.refusal();
    std::vector<Vector3d> points;
    double six_volumes = 0.0;
    for (const std::vector<Vector3d>& face : *faces_read) {
        std::vector<Vector3d> corners;
        for (const Vector3d& p : face) corners.push_back(at * p);
        points.insert(points.end(), corners.begin(), corners.end());
        if (points.size() > kMostFacePoints)
            return Refusal{ErrorCode::out_of_range, model_.place(solid.id),
                           fmt::format("faces of more than {} corners", kMostFacePoints),
                           "a shape of fewer"};
        for (std::size_t i = 1; i + 1 < corners.size(); ++i)
            six_volumes += (corners[0] - points[0])
                               .dot((corners[i] - points[0]).cross(corners[i + 1] - points[0]));
    }
    if (points.size() < 4)
        return Refusal{ErrorCode::value_missing, model_.place(solid.id),
                       fmt::format("{} without faces", ifc_word(solid.type)), "faces"};
    IfcBlock block;
    const Span heights = heights_of(points);
    block.outline = convex_outline(plan_of_points(points));
    block.bottom = heights.low;
    block.top = heights.high;
    const double whole = area_of(block.outline) * (heights.high - heights.low);
    const double filled = std::abs(six_volumes) / 6.0 / whole;
    if (!(whole > 0.0) || !(filled >= kLeastFilled))
        return Refusal{
            ErrorCode::out_of_range, model_.place(solid.id),
            "a set of faces that is far from a straight block",
            fmt::format("one that fills {:.0f} % of the block around it", 100.0 * kLeastFilled)};
    block.is_enlarged = filled < 0.99;
    out.push_back(std::move(block));
    return Done{};
}

}  // namespace layproof::exchange
