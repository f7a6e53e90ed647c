#include "plan/obstacle.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::plan {
namespace {

using Eigen::Vector2d;

/// Corners nearer than this are one.
constexpr double kOneCorner_m = 1e-6;
constexpr double kSmallestArea_m2 = 1e-9;

double cross(const Vector2d& a, const Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
}

double turn_at(const Vector2d& a, const Vector2d& b, const Vector2d& c) {
    return cross(b - a, c - b);
}

double signed_area(const std::vector<Vector2d>& p) {
    double twice = 0.0;
    for (std::size_t i = 0; i < p.size(); ++i)
        twice += cross(p[i] - p[0], p[(i + 1) % p.size()] - p[0]);
    return 0.5 * twice;
}

bool stands(const Reach& reach) {
    return !std::isnan(reach.bottom_m) && !std::isnan(reach.top_m) && reach.top_m > reach.bottom_m;
}

/// Different corners, anticlockwise, without those in a line.
std::vector<Vector2d> cleaned(const std::vector<Vector2d>& outline) {
    std::vector<Vector2d> out;
    for (const Vector2d& p : outline) {
        if (!p.allFinite()) return {};
        if (out.empty() || (p - out.back()).norm() > kOneCorner_m) out.push_back(p);
    }
    while (out.size() > 1 && (out.front() - out.back()).norm() <= kOneCorner_m) out.pop_back();
    if (out.size() < 3) return {};
    if (signed_area(out) < 0.0) std::reverse(out.begin(), out.end());
    for (std::size_t i = 0; i < out.size() && out.size() > 3;) {
        const Vector2d& a = out[(i + out.size() - 1) % out.size()];
        const Vector2d& c = out[(i + 1) % out.size()];
        if (std::abs(turn_at(a, out[i], c)) < kSmallestArea_m2)
            out.erase(out.begin() + static_cast<std::ptrdiff_t>(i));
        else
            ++i;
    }
    return signed_area(out) > kSmallestArea_m2 ? out : std::vector<Vector2d>{};
}

bool is_convex(const std::vector<Vector2d>& p) {
    for (std::size_t i = 0; i < p.size(); ++i)
        if (turn_at(p[i], p[(i + 1) % p.size()], p[(i + 2) % p.size()]) < 0.0) return false;
    return true;
}

bool in_triangle(const Vector2d& a, const Vector2d& b, const Vector2d& c, const Vector2d& p) {
    return turn_at(a, b, p) >= 0.0 && turn_at(b, c, p) >= 0.0 && turn_at(c, a, p) >= 0.0;
}

Prism prism_of(std::vector<Vector2d> corners, const Reach& reach, int obstacle) {
    Prism out;
    for (const Vector2d& p : corners) out.centre_m += p / static_cast<double>(corners.size());
    out.corners = std::move(corners);
    out.reach = reach;
    out.obstacle = obstacle;
    return out;
}

/// The convex hull (Andrew's monotone chain).
std::vector<Vector2d> hull_of(std::vector<Vector2d> p) {
    std::sort(p.begin(), p.end(), [](const Vector2d& a, const Vector2d& b) {
        return a.x() < b.x() || (a.x() == b.x() && a.y() < b.y());
    });
    std::vector<Vector2d> hull;
    for (int side = 0; side < 2; ++side) {
        const std::size_t start = hull.size();
        for (const Vector2d& q : p) {
            while (hull.size() >= start + 2 &&
                   turn_at(hull[hull.size() - 2], hull.back(), q) <= 0.0)
                hull.pop_back();
            hull.push_back(q);
        }
        hull.pop_back();
        std::reverse(p.begin(), p.end());
    }
    return hull;
}

/// The corner of an ear: nothing else lies in its triangle.
std::optional<std::size_t> find_ear(const std::vector<Vector2d>& p) {
    for (std::size_t i = 0; i < p.size(); ++i) {
        const std::size_t before = (i + p.size() - 1) % p.size();
        const std::size_t after = (i + 1) % p.size();
        if (turn_at(p[before], p[i], p[after]) <= 0.0) continue;
        bool is_ear = true;
        for (std::size_t k = 0; k < p.size() && is_ear; ++k)
            if (k != before && k != i && k != after)
                is_ear = !in_triangle(p[before], p[i], p[after], p[k]);
        if (is_ear) return i;
    }
    return std::nullopt;
}

/// Ears cut off one after the other (Meisters, "Polygons have ears", 1975). An outline that crosses
/// itself is not cut up: its hull stands in, which hides more.
std::vector<Prism> cut_up(const std::vector<Vector2d>& outline, const Reach& reach, int obstacle) {
    std::vector<Vector2d> p = outline;
    std::vector<Prism> out;
    while (p.size() > 3) {
        const auto ear = find_ear(p);
        if (!ear) break;
        out.push_back(
            prism_of({p[(*ear + p.size() - 1) % p.size()], p[*ear], p[(*ear + 1) % p.size()]},
                     reach, obstacle));
        p.erase(p.begin() + static_cast<std::ptrdiff_t>(*ear));
    }
    if (p.size() == 3 && signed_area(p) > 0.0) {
        out.push_back(prism_of(std::move(p), reach, obstacle));
        return out;
    }
    return {prism_of(hull_of(outline), reach, obstacle)};
}

}  // namespace

std::vector<Prism> prisms_of_outline(const std::vector<Vector2d>& outline, const Reach& reach,
                                     int obstacle) {
    std::vector<Vector2d> corners = cleaned(outline);
    if (corners.empty() || !stands(reach)) return {};
    if (is_convex(corners)) return {prism_of(std::move(corners), reach, obstacle)};
    return cut_up(corners, reach, obstacle);
}

std::optional<Prism> round_prism(const Vector2d& centre_m, double radius_m, const Reach& reach,
                                 int obstacle) {
    if (!centre_m.allFinite() || !std::isfinite(radius_m) || !(radius_m > 0.0) || !stands(reach))
        return std::nullopt;
    Prism out;
    out.centre_m = centre_m;
    out.radius_m = radius_m;
    out.reach = reach;
    out.obstacle = obstacle;
    return out;
}

std::optional<Prism> rectangle(const Vector2d& centre_m, double width_m, double depth_m,
                               double turn_rad, const Reach& reach, int obstacle) {
    const Vector2d ahead(std::sin(turn_rad), std::cos(turn_rad));
    const Vector2d right(ahead.y(), -ahead.x());
    const Vector2d a = 0.5 * width_m * right;
    const Vector2d b = 0.5 * depth_m * ahead;
    if (!(width_m > 0.0) || !(depth_m > 0.0)) return std::nullopt;
    auto out = prisms_of_outline(
        {centre_m - a - b, centre_m + a - b, centre_m + a + b, centre_m - a + b}, reach, obstacle);
    if (out.empty()) return std::nullopt;
    return std::move(out.front());
}

std::vector<Prism> wall(const std::vector<Vector2d>& line, double thickness_m, const Reach& reach,
                        int obstacle) {
    std::vector<Prism> out;
    if (!(thickness_m > 0.0)) return out;
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
        const Vector2d along = line[i + 1] - line[i];
        const double length = along.norm();
        if (!std::isfinite(length) || length <= kOneCorner_m) continue;
        const Vector2d unit = along / length;
        const double half = 0.5 * thickness_m;
        const Vector2d from = line[i] - (i > 0 ? half : 0.0) * unit;
        const Vector2d to = line[i + 1] + (i + 2 < line.size() ? half : 0.0) * unit;
        const Vector2d side = half * Vector2d(-unit.y(), unit.x());
        auto piece =
            prisms_of_outline({from - side, to - side, to + side, from + side}, reach, obstacle);
        for (Prism& p : piece) out.push_back(std::move(p));
    }
    return out;
}

Prism widened(const Prism& prism, double clearance_m) {
    Prism out = prism;
    if (!(clearance_m > 0.0)) return out;
    out.reach.bottom_m -= clearance_m;
    out.reach.top_m += clearance_m;
    if (prism.is_round()) {
        out.radius_m += clearance_m;
        return out;
    }
    const auto& p = prism.corners;
    const std::size_t n = p.size();
    std::vector<Vector2d> corners;
    corners.reserve(2 * n);
    for (std::size_t i = 0; i < n; ++i) {
        const Vector2d before = (p[i] - p[(i + n - 1) % n]).normalized();
        const Vector2d after = (p[(i + 1) % n] - p[i]).normalized();
        const Vector2d outward = Vector2d(before.y() + after.y(), -before.x() - after.x());
        // Tangent of half the angle between an edge and the cut: each is a quarter of the turn.
        const double turn = std::atan2(cross(before, after), before.dot(after));
        const double t = clearance_m * std::tan(0.25 * turn);
        if (outward.norm() < 1e-12 || !(t > 0.0)) continue;
        const Vector2d out_before(before.y(), -before.x());
        const Vector2d out_after(after.y(), -after.x());
        corners.push_back(p[i] + clearance_m * out_before + t * before);
        corners.push_back(p[i] + clearance_m * out_after - t * after);
    }
    if (corners.size() >= 3) out.corners = std::move(corners);
    return out;
}

double plan_distance(const Prism& prism, const Vector2d& place_m) {
    if (prism.is_round()) return std::max(0.0, (place_m - prism.centre_m).norm() - prism.radius_m);
    const auto& p = prism.corners;
    bool inside = true;
    double nearest = kOpen_m;
    for (std::size_t i = 0; i < p.size(); ++i) {
        const Vector2d& a = p[i];
        const Vector2d edge = p[(i + 1) % p.size()] - a;
        inside = inside && cross(edge, place_m - a) >= 0.0;
        const double share = std::clamp((place_m - a).dot(edge) / edge.squaredNorm(), 0.0, 1.0);
        nearest = std::min(nearest, (place_m - a - share * edge).norm());
    }
    return inside ? 0.0 : nearest;
}

bool is_inside(const std::vector<Vector2d>& polygon, const Vector2d& place_m) {
    bool inside = false;
    for (std::size_t i = 0, j = polygon.size() - 1; i < polygon.size(); j = i++) {
        const Vector2d& a = polygon[i];
        const Vector2d& b = polygon[j];
        if ((a.y() > place_m.y()) == (b.y() > place_m.y())) continue;
        const double x = a.x() + (place_m.y() - a.y()) / (b.y() - a.y()) * (b.x() - a.x());
        inside = inside != (place_m.x() < x);
    }
    return inside;
}

}  // namespace layproof::plan
