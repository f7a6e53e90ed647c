#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <unordered_set>

#include "exchange/ifc/ifc_model_internal.hpp"
#include "exchange/text/text.hpp"

namespace layproof::exchange {
namespace {

using Eigen::Isometry3d;
using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr std::size_t kLongestChain = 1000;
constexpr int kDeepestUnit = 8;

struct Prefix {
    std::string_view word;
    double factor;
};

constexpr std::array kPrefixes{
    Prefix{"EXA", 1e18},  Prefix{"PETA", 1e15},  Prefix{"TERA", 1e12},  Prefix{"GIGA", 1e9},
    Prefix{"MEGA", 1e6},  Prefix{"KILO", 1e3},   Prefix{"HECTO", 1e2},  Prefix{"DECA", 10.0},
    Prefix{"DECI", 0.1},  Prefix{"CENTI", 1e-2}, Prefix{"MILLI", 1e-3}, Prefix{"MICRO", 1e-6},
    Prefix{"NANO", 1e-9}, Prefix{"PICO", 1e-12},
};

/// Our unit of that size, when it is within 1e-7 of one: the two feet are 2e-6 apart.
std::optional<measure::LengthUnit> our_unit(double metres) {
    using measure::LengthUnit;
    for (const LengthUnit u : {LengthUnit::metre, LengthUnit::millimetre, LengthUnit::foot,
                               LengthUnit::us_foot, LengthUnit::inch}) {
        if (std::abs(metres / measure::metres_per(u) - 1.0) < 1e-7) return u;
    }
    return std::nullopt;
}

/// Where two lines cross; nothing for parallel ones.
std::optional<Vector2d> cross_lines(const Vector2d& p, const Vector2d& u, const Vector2d& q,
                                    const Vector2d& v) {
    const double d = u.x() * v.y() - u.y() * v.x();
    if (!(std::abs(d) > 1e-6 * u.norm() * v.norm())) return std::nullopt;
    const Vector2d w = q - p;
    return Vector2d(p + u * ((w.x() * v.y() - w.y() * v.x()) / d));
}

bool starts_with_letter(const std::string& s) {
    return !s.empty() && ((s[0] >= 'A' && s[0] <= 'Z') || (s[0] >= 'a' && s[0] <= 'z'));
}

}  // namespace

Refusal IfcModel::unsupported(const StepRecord& record, std::string what) const {
    return {ErrorCode::format_unknown, file_.place(record.id), std::move(what),
            "straight and level"};
}

std::string IfcModel::crossing(const std::string& a, const std::string& b) {
    const bool swap = !starts_with_letter(a) && starts_with_letter(b);
    return swap ? b + '/' + a : a + '/' + b;
}

Result<UnitEvidence> IfcModel::unit(std::uint64_t id) const {
    return unit(id, 0);
}

Result<UnitEvidence> IfcModel::unit(std::uint64_t id, int depth) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    UnitEvidence out;
    out.is_stated = true;
    if (record->type == "IFCSIUNIT") {
        double factor = 1.0;
        const std::string prefix = record->text(2);
        const std::string name = record->text(3);
        bool is_known = prefix.empty();
        for (const Prefix& p : kPrefixes) {
            if (p.word != prefix) continue;
            factor = p.factor;
            is_known = true;
        }
        if (!is_known || name != "METRE") {
            return Refusal{ErrorCode::unit_unknown, place(id),
                           fmt::format("IfcSIUnit {} {}", prefix, name), "a unit of length"};
        }
        out.metres_per_unit = factor;
        out.words = fmt::format("IfcSIUnit {}{}METRE", prefix, prefix.empty() ? "" : " ");
    } else if (record->type == "IFCCONVERSIONBASEDUNIT" ||
               record->type == "IFCCONVERSIONBASEDUNITWITHOFFSET") {
        if (depth >= kDeepestUnit) {
            return Refusal{ErrorCode::reference_circular, place(id),
                           "units made of each other without end", "a unit made of metres"};
        }
        const auto factor_id = record->reference(3);
        const auto factor = factor_id ? file_.record(*factor_id) : Result<StepRecord>(StepRecord{});
        if (!factor) return factor.refusal();
        const auto number = factor->number(0);
        const auto base_id = factor->reference(1);
        if (!number || !base_id || !(*number > 0.0)) {
            return Refusal{ErrorCode::unit_unknown, place(id),
                           "a unit without a factor: " + in_quotes(record->text(2)),
                           "IfcMeasureWithUnit with a number and a unit"};
        }
        const auto base = unit(*base_id, depth + 1);
        if (!base) return base;
        out.metres_per_unit = *number * *base->metres_per_unit;
        out.words = fmt::format("IfcConversionBasedUnit {} = {} m", in_quotes(record->text(2)),
                                *out.metres_per_unit);
    } else {
        return Refusal{ErrorCode::unit_unknown, place(id), in_quotes(record->type),
                       "IfcSIUnit or IfcConversionBasedUnit"};
    }
    const bool is_sane = *out.metres_per_unit > 1e-9 && *out.metres_per_unit < 1e7;
    if (!is_sane) {
        return Refusal{ErrorCode::unit_unknown, place(id), out.words, "a unit of length"};
    }
    out.unit = our_unit(*out.metres_per_unit);
    if (out.unit) out.metres_per_unit = measure::metres_per(*out.unit);
    return out;
}

Result<UnitEvidence> IfcModel::length_unit() const {
    std::optional<std::uint64_t> assignment;
    for (const char* type : {"IFCPROJECT", "IFCPROJECTLIBRARY"}) {
        for (const std::uint64_t id : file_.of_type(type)) {
            const auto record = file_.record(id);
            if (!record) return record.refusal();
            if (!assignment) assignment = record->reference(8);
        }
    }
    const auto& all = file_.of_type("IFCUNITASSIGNMENT");
    if (!assignment && all.size() == 1) assignment = all[0];
    if (assignment) {
        const auto record = file_.record(*assignment);
        if (!record) return record.refusal();
        for (const std::uint64_t id : record->references(0)) {
            const auto candidate = file_.record(id);
            if (!candidate) return candidate.refusal();
            if (candidate->text(1) == "LENGTHUNIT") return unit(id);
        }
    }
    return Refusal{ErrorCode::unit_missing,
                   {document_.name, 1, 1},
                   "an IFC file whose project states no unit of length",
                   "IfcUnitAssignment with a LENGTHUNIT, or the unit stated with --unit"};
}

Result<Vector3d> IfcModel::point(std::uint64_t id) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    if (record->type != "IFCCARTESIANPOINT") return unsupported(*record, in_quotes(record->type));
    const auto numbers = record->numbers(0);
    Vector3d out = Vector3d::Zero();
    for (std::size_t i = 0; i < std::min<std::size_t>(3, numbers.size()); ++i) {
        out[static_cast<Eigen::Index>(i)] = numbers[i];
    }
    return out;
}

Result<Vector3d> IfcModel::direction(std::uint64_t id) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    const auto numbers = record->numbers(0);
    Vector3d out = Vector3d::Zero();
    for (std::size_t i = 0; i < std::min<std::size_t>(3, numbers.size()); ++i) {
        out[static_cast<Eigen::Index>(i)] = numbers[i];
    }
    const double length = out.norm();
    if (!(length > 1e-12) || !std::isfinite(length)) {
        return Refusal{ErrorCode::out_of_range, place(id), "a direction of no length",
                       "a direction"};
    }
    return Vector3d(out / length);
}

Result<Isometry3d> IfcModel::axis_placement(std::uint64_t id) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    const bool is_plane = record->type == "IFCAXIS2PLACEMENT2D";
    if (!is_plane && record->type != "IFCAXIS2PLACEMENT3D") {
        return unsupported(*record, in_quotes(record->type));
    }
    const auto location_id = record->reference(0);
    if (!location_id) {
        return Refusal{ErrorCode::value_missing, place(id), "a placement without location",
                       "a location"};
    }
    const auto location = point(*location_id);
    if (!location) return location.refusal();
    Vector3d z = Vector3d::UnitZ();
    Vector3d x = Vector3d::UnitX();
    const auto z_id = is_plane ? std::nullopt : record->reference(1);
    const auto x_id = record->reference(is_plane ? 1 : 2);
    if (z_id) {
        const auto read = direction(*z_id);
        if (!read) return read.refusal();
        z = *read;
    }
    if (x_id) {
        const auto read = direction(*x_id);
        if (!read) return read.refusal();
        x = *read;
    } else if (std::abs(z.x()) > 0.99) {
        x = Vector3d::UnitY();
    }
    x -= x.dot(z) * z;
    if (x.norm() < 1e-9) {
        return Refusal{ErrorCode::out_of_range, place(id), "a placement whose axes are parallel",
                       "axes that differ"};
    }
    x.normalize();
    Isometry3d out = Isometry3d::Identity();
    out.linear().col(0) = x;
    out.linear().col(1) = z.cross(x);
    out.linear().col(2) = z;
    out.translation() = *location;
    return out;
}

Result<std::pair<Vector2d, Vector2d>> IfcModel::curve_ends(std::uint64_t id) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    std::vector<Vector2d> points;
    if (record->type == "IFCPOLYLINE") {
        for (const std::uint64_t p : record->references(0)) {
            const auto read = point(p);
            if (!read) return read.refusal();
            points.emplace_back(read->head<2>());
        }
    } else if (record->type == "IFCINDEXEDPOLYCURVE") {
        const auto list_id = record->reference(0);
        const auto list = list_id ? file_.record(*list_id) : Result<StepRecord>(StepRecord{});
        if (!list) return list.refusal();
        for (const StepValue& row : list->at(0).list) {
            if (row.list.size() >= 2) points.emplace_back(row.list[0].number, row.list[1].number);
        }
    } else if (record->type == "IFCLINE" || record->type == "IFCTRIMMEDCURVE") {
        const bool is_trimmed = record->type == "IFCTRIMMEDCURVE";
        const auto basis_id = is_trimmed ? record->reference(0) : std::optional(id);
        const auto line = basis_id ? file_.record(*basis_id) : Result<StepRecord>(StepRecord{});
        if (!line) return line.refusal();
        if (line->type != "IFCLINE" || !line->reference(0) || !line->reference(1)) {
            return unsupported(*record, "a curve of " + in_quotes(line->type));
        }
        const auto from = point(*line->reference(0));
        if (!from) return from.refusal();
        const auto vector = file_.record(*line->reference(1));
        if (!vector) return vector.refusal();
        const auto along = direction(vector->reference(0).value_or(0));
        if (!along) return along.refusal();
        const Vector2d step = vector->number(1).value_or(1.0) * along->head<2>();
        std::array<double, 2> trims{0.0, 1.0};
        for (std::size_t t = 0; is_trimmed && t < 2; ++t) {
            for (const StepValue& v : record->at(t + 1).list) {
                if (v.kind == StepValue::Kind::number) trims[t] = v.number;
                if (v.kind != StepValue::Kind::reference) continue;
                const auto end = point(v.reference);
                if (!end) return end.refusal();
                const double square = step.squaredNorm();
                if (square > 0.0) {
                    trims[t] = step.dot((*end - *from).head<2>()) / square;
                }
                break;
            }
        }
        points.emplace_back(from->head<2>() + trims[0] * step);
        points.emplace_back(from->head<2>() + trims[1] * step);
        if (is_trimmed && record->text(3) == "F") std::swap(points[0], points[1]);
    } else {
        return unsupported(*record, "an axis curve of " + in_quotes(record->type));
    }
    if (points.size() < 2) return unsupported(*record, "an axis with fewer than two points");
    const Vector2d along = points.back() - points.front();
    const double length = along.norm();
    if (!(length > 0.0) || !std::isfinite(length)) {
        return unsupported(*record, "an axis of no length");
    }
    for (const Vector2d& p : points) {
        const Vector2d w = p - points.front();
        if (std::abs(along.x() * w.y() - along.y() * w.x()) > 1e-6 * length * length) {
            return unsupported(*record, "a bent axis");
        }
    }
    return std::pair(points.front(), points.back());
}

Result<IfcAxis> IfcModel::axis(std::uint64_t id) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    const auto curve = record->reference(1);
    if (record->type != "IFCGRIDAXIS" || !curve) {
        return Refusal{ErrorCode::value_missing, place(id), "a grid axis without curve",
                       "IfcGridAxis with an AxisCurve"};
    }
    const auto ends = curve_ends(*curve);
    if (!ends) return ends.refusal();
    IfcAxis out{record->text(0), ends->first, ends->second};
    if (record->text(2) == "F") std::swap(out.from, out.to);
    return out;
}

/// IfcVirtualGridIntersection: two axes, each moved to the left of its sense by its offset (the
/// sense of IfcOffsetCurve2D, from memory); the third offset is the height.
Result<Vector3d> IfcModel::intersection(std::uint64_t id, Vector2d* tangent) const {
    const auto record = file_.record(id);
    if (!record) return record.refusal();
    const auto axes = record->references(0);
    const auto offsets = record->numbers(1);
    if (record->type != "IFCVIRTUALGRIDINTERSECTION" || axes.size() < 2) {
        return unsupported(*record, in_quotes(record->type));
    }
    std::array<Vector2d, 2> from, along;
    for (std::size_t i = 0; i < 2; ++i) {
        const auto read = axis(axes[i]);
        if (!read) return read.refusal();
        along[i] = (read->to - read->from).normalized();
        const double offset = i < offsets.size() ? offsets[i] : 0.0;
        from[i] = read->from + offset * Vector2d(-along[i].y(), along[i].x());
    }
    const auto at = cross_lines(from[0], along[0], from[1], along[1]);
    if (!at) return unsupported(*record, "two axes that do not cross");
    if (tangent != nullptr) *tangent = along[0];
    return Vector3d(at->x(), at->y(), offsets.size() > 2 ? offsets[2] : 0.0);
}

/// The placement relative to its parent.
Result<Isometry3d> IfcModel::own(const StepRecord& placement) const {
    if (placement.type == "IFCLOCALPLACEMENT") {
        const auto id = placement.reference(1);
        if (!id) return Isometry3d::Identity();
        return axis_placement(*id);
    }
    if (placement.type != "IFCGRIDPLACEMENT") {
        return unsupported(placement, "a placement of " + in_quotes(placement.type));
    }
    // IFC 4: location, direction. IFC 4.3: relative to, location, direction.
    const std::size_t first = placement.values.size() >= 3 ? 1 : 0;
    const auto location = placement.reference(first);
    if (!location) return unsupported(placement, "a grid placement without location");
    Vector2d x;
    const auto at = intersection(*location, &x);
    if (!at) return at.refusal();
    if (const auto ref = placement.reference(first + 1)) {
        if (file_.type(*ref) == "IFCVIRTUALGRIDINTERSECTION") {
            const auto second = intersection(*ref, nullptr);
            if (!second) return second.refusal();
            x = (*second - *at).head<2>();
        } else {
            const auto read = direction(*ref);
            if (!read) return read.refusal();
            x = read->head<2>();
        }
    }
    if (!(x.norm() > 1e-12)) return unsupported(placement, "a grid placement without direction");
    x.normalize();
    Isometry3d out = Isometry3d::Identity();
    out.linear().col(0) = Vector3d(x.x(), x.y(), 0.0);
    out.linear().col(1) = Vector3d(-x.y(), x.x(), 0.0);
    out.translation() = *at;
    return out;
}

Result<std::optional<std::uint64_t>> IfcModel::parent(const StepRecord& placement) {
    if (placement.type != "IFCGRIDPLACEMENT") return placement.reference(0);
    const std::size_t first = placement.values.size() >= 3 ? 1 : 0;
    if (first == 1 && placement.reference(0)) return placement.reference(0);
    // The placement of the grid that the axes belong to.
    if (!grid_of_axis_) {
        grid_of_axis_.emplace();
        for (const std::uint64_t grid_id : file_.of_type("IFCGRID")) {
            const auto grid = file_.record(grid_id);
            if (!grid) return grid.refusal();
            for (const std::size_t family : {7U, 8U, 9U}) {
                for (const std::uint64_t a : grid->references(family)) {
                    grid_of_axis_->emplace(a, grid_id);
                }
            }
        }
    }
    const auto location = placement.reference(first);
    const auto record = location ? file_.record(*location) : Result<StepRecord>(StepRecord{});
    if (!record) return record.refusal();
    const auto axes = record->references(0);
    const auto found = axes.empty() ? grid_of_axis_->end() : grid_of_axis_->find(axes[0]);
    if (found == grid_of_axis_->end()) return std::optional<std::uint64_t>{};
    const auto grid = file_.record(found->second);
    if (!grid) return grid.refusal();
    return grid->reference(5);
}

Result<Isometry3d> IfcModel::placement(std::uint64_t id) {
    std::vector<std::pair<std::uint64_t, Isometry3d>> chain;
    std::unordered_set<std::uint64_t> seen;
    Isometry3d whole = Isometry3d::Identity();
    for (std::optional<std::uint64_t> at = id; at;) {
        const auto known = placements_.find(*at);
        if (known != placements_.end()) {
            whole = known->second;
            break;
        }
        if (!seen.insert(*at).second) {
            return Refusal{ErrorCode::reference_circular, place(*at),
                           fmt::format("placement #{}, which is placed relative to itself", *at),
                           "placements that lead to the project's origin"};
        }
        if (chain.size() >= kLongestChain) {
            return Refusal{ErrorCode::nested_too_deep, place(*at),
                           "more than 1000 placements on each other",
                           "a model as programs write it"};
        }
        const auto record = file_.record(*at);
        if (!record) return record.refusal();
        const auto next = parent(*record);
        if (!next) return next.refusal();
        const auto local = own(*record);
        if (!local) return local.refusal();
        chain.emplace_back(*at, *local);
        at = *next;
    }
    for (auto it = chain.rbegin(); it != chain.rend(); ++it) {
        whole = whole * it->second;
        placements_.emplace(it->first, whole);
    }
    return whole;
}

std::string IfcModel::crossing_name(std::uint64_t placement_id) {
    const auto placement = file_.record(placement_id);
    if (!placement || placement->type != "IFCGRIDPLACEMENT") return {};
    const auto location = placement->reference(placement->values.size() >= 3 ? 1 : 0);
    const auto record = location ? file_.record(*location) : Result<StepRecord>(StepRecord{});
    if (!record) return {};
    const auto axes = record->references(0);
    if (axes.size() < 2) return {};
    for (const double offset : record->numbers(1)) {
        if (offset != 0.0) return {};
    }
    const auto a = file_.record(axes[0]);
    const auto b = file_.record(axes[1]);
    if (!a || !b || a->text(0).empty() || b->text(0).empty()) return {};
    return crossing(a->text(0), b->text(0));
}

}  // namespace layproof::exchange
