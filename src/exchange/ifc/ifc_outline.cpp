#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "exchange/ifc/ifc_outline_internal.hpp"
#include "exchange/text/text.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Isometry3d;
using Eigen::Vector2d;
using Eigen::Vector3d;
using OutlineCorners = std::vector<Vector2d>;

constexpr int kArcChords = 12;
constexpr int kRoundCorners = 32;
constexpr int kDeepestCurve = 6;

Refusal not_an_outline(const IfcModel& model, const StepRecord& record, std::string_view expected) {
    return {ErrorCode::format_unknown, model.place(record.id), ifc_word(record.type),
            std::string(expected)};
}

constexpr std::string_view kCurves = "a line, a polyline or an indexed polycurve";

/// From a through b to c on a circle, a left out; straight when they lie in a line.
void add_arc(const Vector2d& a, const Vector2d& b, const Vector2d& c, OutlineCorners& out) {
    const Vector2d u = b - a;
    const Vector2d v = c - a;
    const double d = 2.0 * (u.x() * v.y() - u.y() * v.x());
    if (!(std::abs(d) > 1e-9 * u.norm() * v.norm())) {
        out.push_back(b);
        out.push_back(c);
        return;
    }
    const Vector2d to_centre = Vector2d(v.y() * u.squaredNorm() - u.y() * v.squaredNorm(),
                                        u.x() * v.squaredNorm() - v.x() * u.squaredNorm()) /
                               d;
    const Vector2d centre = a + to_centre;
    const auto bearing = [&](const Vector2d& p) {
        return std::atan2(p.y() - centre.y(), p.x() - centre.x());
    };
    const double from = bearing(a);
    const auto turned = [&](double to) {
        double t = std::fmod(to - from, measure::kTwoPi);
        return t < 0.0 ? t + measure::kTwoPi : t;
    };
    double through = turned(bearing(b));
    double whole = turned(bearing(c));
    if (through > whole) whole -= measure::kTwoPi;
    for (int i = 1; i < kArcChords; ++i) {
        const double at = from + whole * i / kArcChords;
        out.push_back(centre + to_centre.norm() * Vector2d(std::cos(at), std::sin(at)));
    }
    out.push_back(c);
}

/// A polygon around an ellipse about its centre.
OutlineCorners polygon_around(double half_x, double half_y) {
    OutlineCorners out;
    const double out_by = 1.0 / std::cos(measure::kPi / kRoundCorners);
    for (int i = 0; i < kRoundCorners; ++i) {
        const double at = measure::kTwoPi * i / kRoundCorners;
        out.emplace_back(out_by * half_x * std::cos(at), out_by * half_y * std::sin(at));
    }
    return out;
}

void drop_repeated_end(OutlineCorners& corners) {
    while (corners.size() > 1 && (corners.front() - corners.back()).norm() <=
                                     1e-9 * std::max(1.0, corners.front().norm()))
        corners.pop_back();
}

Result<OutlineCorners> indexed_curve(const IfcModel& model, const StepRecord& record) {
    const auto list_id = record.reference(0);
    if (!list_id)
        return Refusal{ErrorCode::value_missing, model.place(record.id), "a curve without points",
                       "a list of points"};
    const auto list = model.file().record(*list_id);
    if (!list) return list.refusal();
    OutlineCorners points;
    for (const StepValue& row : list->at(0).list) {
        if (row.list.size() < 2)
            return Refusal{ErrorCode::value_missing, model.place(*list_id),
                           "a point of one coordinate", "points of two coordinates"};
        points.emplace_back(row.list[0].number, row.list[1].number);
    }
    const auto& segments = record.at(1).list;
    if (segments.empty()) return points;
    OutlineCorners out;
    for (const StepValue& segment : segments) {
        OutlineCorners piece;
        for (const StepValue& index : segment.list) {
            if (!(index.number >= 1.0 && index.number <= static_cast<double>(points.size())))
                return Refusal{ErrorCode::out_of_range, model.place(record.id),
                               fmt::format("point number {}", index.number),
                               fmt::format("1 to {}", points.size())};
            piece.push_back(points[static_cast<std::size_t>(index.number) - 1]);
        }
        if (piece.size() < 2) continue;
        if (out.size() > kMostOutlineCorners) break;  // too many, which the profile says
        if (out.empty()) out.push_back(piece.front());
        if (segment.text == "IFCARCINDEX" && piece.size() == 3)
            add_arc(piece[0], piece[1], piece[2], out);
        else
            out.insert(out.end(), piece.begin() + 1, piece.end());
    }
    return out;
}

Result<OutlineCorners> curve_points(const IfcModel& model, std::uint64_t id, int depth);

/// A straight piece between two trims, numbers along it or points.
Result<OutlineCorners> trimmed_curve(const IfcModel& model, const StepRecord& record) {
    const auto basis_id = record.reference(0);
    if (!basis_id || model.file().type(*basis_id) != "IFCLINE")
        return not_an_outline(model, record, kCurves);
    const auto line = model.file().record(*basis_id);
    if (!line) return line.refusal();
    const auto from = model.point(line->reference(0).value_or(0));
    if (!from) return from.refusal();
    const auto vector = model.file().record(line->reference(1).value_or(0));
    if (!vector) return vector.refusal();
    const auto along = model.direction(vector->reference(0).value_or(0));
    if (!along) return along.refusal();
    const Vector2d step = vector->number(1).value_or(1.0) * along->head<2>();
    OutlineCorners out;
    for (const std::size_t t : {1U, 2U}) {
        std::optional<Vector2d> end;
        for (const StepValue& v : record.at(t).list) {
            if (v.kind == StepValue::Kind::number && !end) end = from->head<2>() + v.number * step;
            if (v.kind != StepValue::Kind::reference) continue;
            const auto point = model.point(v.reference);
            if (!point) return point.refusal();
            end = point->head<2>();
        }
        if (!end)
            return Refusal{ErrorCode::value_missing, model.place(record.id),
                           "a trimmed curve without ends", "a number or a point for each end"};
        out.push_back(*end);
    }
    if (record.text(3) == "F") std::reverse(out.begin(), out.end());
    return out;
}

Result<OutlineCorners> composite_curve(const IfcModel& model, const StepRecord& record, int depth) {
    OutlineCorners out;
    for (const std::uint64_t id : record.references(0)) {
        const auto segment = model.file().record(id);
        if (!segment) return segment.refusal();
        const auto parent = segment->reference(2);
        if (segment->type != "IFCCOMPOSITECURVESEGMENT" || !parent)
            return not_an_outline(model, *segment, "IfcCompositeCurveSegment");
        auto piece = curve_points(model, *parent, depth + 1);
        if (!piece) return piece;
        if (segment->text(1) == "F") std::reverse(piece->begin(), piece->end());
        if (out.size() > kMostOutlineCorners) break;  // too many, which the profile says
        for (const Vector2d& p : *piece)
            if (out.empty() || (p - out.back()).norm() > 1e-9 * std::max(1.0, p.norm()))
                out.push_back(p);
    }
    return out;
}

Result<OutlineCorners> curve_points(const IfcModel& model, std::uint64_t id, int depth) {
    const auto record = model.file().record(id);
    if (!record) return record.refusal();
    if (depth > kDeepestCurve)
        return Refusal{ErrorCode::format_unknown, model.place(id), "curves made of each other",
                       std::string(kCurves)};
    if (record->type == "IFCPOLYLINE") {
        OutlineCorners out;
        const auto points = record->references(0);
        for (const std::uint64_t p : points) {
            const auto point = model.point(p);
            if (!point) return point.refusal();
            out.emplace_back(point->head<2>());
            if (out.size() > kMostOutlineCorners) break;
        }
        return out;
    }
    if (record->type == "IFCINDEXEDPOLYCURVE") return indexed_curve(model, *record);
    if (record->type == "IFCTRIMMEDCURVE") return trimmed_curve(model, *record);
    if (record->type == "IFCCOMPOSITECURVE") return composite_curve(model, *record, depth);
    return not_an_outline(model, *record, kCurves);
}

Refusal without_size(const IfcModel& model, const StepRecord& record) {
    return {ErrorCode::value_missing, model.place(record.id),
            ifc_word(record.type) + " without a size above zero", "its sizes"};
}

/// Where a size of the profile stands; the second one of a rolled section may be left out.
struct Rolled {
    std::string_view type;
    std::size_t x, y;
};
constexpr std::array<Rolled, 6> kRolled{{
    {"IFCISHAPEPROFILEDEF", 3, 4},
    {"IFCLSHAPEPROFILEDEF", 4, 3},
    {"IFCTSHAPEPROFILEDEF", 4, 3},
    {"IFCUSHAPEPROFILEDEF", 4, 3},
    {"IFCCSHAPEPROFILEDEF", 4, 3},
    {"IFCASYMMETRICISHAPEPROFILEDEF", 3, 4},
}};

/// The sizes of the rectangle around a profile about its own centre.
std::optional<Vector2d> box_of(const StepRecord& record, bool& is_enlarged) {
    const auto size = [&](std::size_t x, std::size_t y) -> std::optional<Vector2d> {
        const auto a = record.number(x);
        const auto b = record.number(y);
        const double first = a.value_or(b.value_or(0.0));
        const double second = b.value_or(first);
        if (!(first > 0.0) || !(second > 0.0)) return std::nullopt;
        return Vector2d(first, second);
    };
    if (record.type == "IFCRECTANGLEPROFILEDEF") return size(3, 4);
    is_enlarged = true;
    if (record.type == "IFCROUNDEDRECTANGLEPROFILEDEF" ||
        record.type == "IFCRECTANGLEHOLLOWPROFILEDEF")
        return size(3, 4);
    if (record.type == "IFCZSHAPEPROFILEDEF") {
        auto out = size(4, 3);
        const double web = record.number(5).value_or(0.0);
        if (out && out->x() > web) out->x() = 2.0 * out->x() - web;
        return out;
    }
    for (const Rolled& r : kRolled) {
        if (record.type != r.type) continue;
        auto out = size(r.x, r.y);
        if (out && r.type.starts_with("IFCASYM"))
            out->x() = std::max(out->x(), record.number(8).value_or(0.0));
        return out;
    }
    return std::nullopt;
}

bool is_boxed(std::string_view type) {
    return type == "IFCRECTANGLEPROFILEDEF" || type == "IFCROUNDEDRECTANGLEPROFILEDEF" ||
           type == "IFCRECTANGLEHOLLOWPROFILEDEF" || type == "IFCZSHAPEPROFILEDEF" ||
           std::any_of(kRolled.begin(), kRolled.end(),
                       [&](const Rolled& r) { return r.type == type; });
}

/// Moves what was made about the profile's own centre to its position.
Result<IfcOutline> at_its_position(const IfcModel& model, const StepRecord& record,
                                   IfcOutline outline) {
    const auto position = record.reference(2);
    if (!position) return outline;
    const auto at = model.axis_placement(*position);
    if (!at) return at.refusal();
    const auto move = [&](Vector2d& p) { p = (*at * Vector3d(p.x(), p.y(), 0.0)).head<2>(); };
    for (Vector2d& corner : outline.corners) move(corner);
    move(outline.centre);
    return outline;
}

Result<std::vector<IfcOutline>> closed_profile(const IfcModel& model, const StepRecord& record) {
    const auto outer = record.reference(2);
    if (!outer)
        return Refusal{ErrorCode::value_missing, model.place(record.id),
                       ifc_word(record.type) + " without OuterCurve", "a closed curve"};
    IfcOutline out;
    out.is_enlarged = record.type != "IFCARBITRARYCLOSEDPROFILEDEF";
    if (model.file().type(*outer) == "IFCCIRCLE") {
        const auto circle = model.file().record(*outer);
        if (!circle) return circle.refusal();
        out.radius = circle->number(1).value_or(0.0);
        if (!(out.radius > 0.0)) return without_size(model, *circle);
        out.corners = polygon_around(out.radius, out.radius);
        const auto at = model.axis_placement(circle->reference(0).value_or(0));
        if (!at) return at.refusal();
        out.centre = at->translation().head<2>();
        for (Vector2d& corner : out.corners) corner += out.centre;
        return std::vector<IfcOutline>{std::move(out)};
    }
    auto corners = ifc_curve(model, *outer);
    if (!corners) return corners.refusal();
    if (corners->size() < 3)
        return Refusal{ErrorCode::out_of_range, model.place(*outer),
                       fmt::format("an outline of {} corners", corners->size()),
                       "three corners or more"};
    if (corners->size() > kMostOutlineCorners)
        return Refusal{ErrorCode::out_of_range, model.place(*outer),
                       fmt::format("an outline of more than {} corners", kMostOutlineCorners),
                       "an outline as programs write it"};
    out.corners = std::move(*corners);
    return std::vector<IfcOutline>{std::move(out)};
}

Result<std::vector<IfcOutline>> profile_outlines(const IfcModel& model, std::uint64_t id,
                                                 int depth) {
    const auto record = model.file().record(id);
    if (!record) return record.refusal();
    const std::string& type = record->type;
    if (type == "IFCARBITRARYCLOSEDPROFILEDEF" || type == "IFCARBITRARYPROFILEDEFWITHVOIDS")
        return closed_profile(model, *record);
    if (type == "IFCCOMPOSITEPROFILEDEF" && depth < kDeepestCurve) {
        std::vector<IfcOutline> out;
        for (const std::uint64_t part : record->references(2)) {
            auto read = profile_outlines(model, part, depth + kDeepestCurve);
            if (!read) return read;
            if (out.size() + read->size() > kMostOutlineCorners)
                return Refusal{ErrorCode::out_of_range, model.place(id), "a profile of many parts",
                               fmt::format("at most {}", kMostOutlineCorners)};
            std::move(read->begin(), read->end(), std::back_inserter(out));
        }
        return out;
    }
    IfcOutline out;
    if (is_boxed(type)) {
        const auto box = box_of(*record, out.is_enlarged);
        if (!box) return without_size(model, *record);
        const Vector2d half = 0.5 * *box;
        out.corners = {{-half.x(), -half.y()},
                       {half.x(), -half.y()},
                       {half.x(), half.y()},
                       {-half.x(), half.y()}};
    } else if (type == "IFCCIRCLEPROFILEDEF" || type == "IFCCIRCLEHOLLOWPROFILEDEF") {
        out.radius = record->number(3).value_or(0.0);
        if (!(out.radius > 0.0)) return without_size(model, *record);
        out.corners = polygon_around(out.radius, out.radius);
        out.is_enlarged = type == "IFCCIRCLEHOLLOWPROFILEDEF";
    } else if (type == "IFCELLIPSEPROFILEDEF") {
        const double a = record->number(3).value_or(0.0);
        const double b = record->number(4).value_or(0.0);
        if (!(a > 0.0) || !(b > 0.0)) return without_size(model, *record);
        out.corners = polygon_around(a, b);
        out.is_enlarged = true;
    } else {
        return not_an_outline(model, *record,
                              "a rectangle, a circle, a section or a closed outline");
    }
    auto moved = at_its_position(model, *record, std::move(out));
    if (!moved) return moved.refusal();
    return std::vector<IfcOutline>{std::move(*moved)};
}

}  // namespace

Result<std::vector<Vector2d>> ifc_curve(const IfcModel& model, std::uint64_t id) {
    auto out = curve_points(model, id, 0);
    if (out) drop_repeated_end(*out);
    return out;
}

Result<std::vector<IfcOutline>> ifc_profile(const IfcModel& model, std::uint64_t id) {
    return profile_outlines(model, id, 0);
}

std::string ifc_word(std::string_view type) {
    static constexpr std::array<std::string_view, 46> kWords{{
        "IfcWall",
        "IfcWallStandardCase",
        "IfcWallElementedCase",
        "IfcColumn",
        "IfcColumnStandardCase",
        "IfcBuildingElementPart",
        "IfcBeam",
        "IfcStair",
        "IfcStairFlight",
        "IfcRamp",
        "IfcRailing",
        "IfcCurtainWall",
        "IfcBuildingElementProxy",
        "IfcPlate",
        "IfcMember",
        "IfcDoor",
        "IfcWindow",
        "IfcFurniture",
        "IfcFurnishingElement",
        "IfcRoof",
        "IfcFooting",
        "IfcPile",
        "IfcSlab",
        "IfcCovering",
        "IfcExtrudedAreaSolid",
        "IfcExtrudedAreaSolidTapered",
        "IfcRevolvedAreaSolid",
        "IfcSweptDiskSolid",
        "IfcSurfaceCurveSweptAreaSolid",
        "IfcFixedReferenceSweptAreaSolid",
        "IfcAdvancedBrep",
        "IfcFacetedBrep",
        "IfcFacetedBrepWithVoids",
        "IfcTriangulatedFaceSet",
        "IfcPolygonalFaceSet",
        "IfcShellBasedSurfaceModel",
        "IfcFaceBasedSurfaceModel",
        "IfcBlock",
        "IfcBoundingBox",
        "IfcCircle",
        "IfcEllipse",
        "IfcBSplineCurve",
        "IfcTrimmedCurve",
        "IfcTrapeziumProfileDef",
        "IfcDerivedProfileDef",
        "IfcCenterLineProfileDef",
    }};
    const std::string small = lower(type);
    for (const std::string_view word : kWords)
        if (lower(word) == small) return std::string(word);
    return std::string(type.substr(0, 60));
}

}  // namespace layproof::exchange
