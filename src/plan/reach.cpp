#include "plan/reach.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::plan {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr std::uint64_t kMapSeed = 8;
/// Head room over the floor that a tripod and its user take up.
constexpr double kUserHeight_m = 1.9;

std::vector<Vector3d> prisms_over(const std::vector<ControlMark>& marks, const Crew& crew,
                                  double floor_m) {
    std::vector<Vector3d> out;
    for (const ControlMark& mark : marks)
        out.emplace_back(mark.at_m.x(), mark.at_m.y(),
                         (mark.has_height ? mark.at_m.z() : floor_m) + crew.mark_rod_m);
    return out;
}

std::vector<Vector3d> prisms_over(const std::vector<PlanPoint>& points, const Crew& crew,
                                  double floor_m) {
    std::vector<Vector3d> out;
    for (const PlanPoint& p : points)
        out.emplace_back(p.east_m, p.north_m,
                         (p.has_height ? p.height_m : floor_m) + crew.lay_rod_m);
    return out;
}

}  // namespace

Site::Site(std::vector<ControlMark> marks, const std::vector<station::LayTarget>& points,
           std::vector<Prism> obstacles, std::vector<std::vector<Vector2d>> no_go, Crew crew,
           double floor_m, double clearance_m, int map_draws)
    : marks_(std::move(marks)),
      points_(plan_points(points)),
      scene_(std::move(obstacles), clearance_m),
      no_go_(std::move(no_go)),
      crew_(std::move(crew)),
      floor_m_(floor_m),
      draws_(map_draws, std::max(1, static_cast<int>(marks_.size())), kMapSeed) {
    const auto over_marks = prisms_over(marks_, crew_, floor_m_);
    const auto over_points = prisms_over(points_, crew_, floor_m_);
    mark_targets_ = SightTargets(scene_, over_marks);
    point_targets_ = SightTargets(scene_, over_points);
    low_m_ = high_m_ = axes_height_m();
    for (const auto* list : {&over_marks, &over_points})
        for (const Vector3d& p : *list) {
            if (!p.allFinite()) continue;
            low_m_ = std::min(low_m_, p.z());
            high_m_ = std::max(high_m_, p.z());
        }
}

bool Site::is_no_go(const Vector2d& at) const {
    return std::any_of(no_go_.begin(), no_go_.end(),
                       [&](const auto& polygon) { return is_inside(polygon, at); });
}

int Site::obstacle_over(const ControlMark& mark) const {
    const double foot = mark.has_height ? mark.at_m.z() : floor_m_;
    for (const Prism& prism : scene_.prisms())
        if (plan_distance(prism, mark.at_m.head<2>()) == 0.0 && prism.reach.top_m > foot &&
            prism.reach.bottom_m < foot + crew_.mark_rod_m)
            return prism.obstacle;
    return -1;
}

std::string_view to_word(Standing standing) {
    switch (standing) {
        case Standing::free:
            return "free";
        case Standing::no_go:
            return "no-go";
        case Standing::no_room:
            return "no-room";
        case Standing::inside_obstacle:
            return "inside-obstacle";
    }
    return "free";
}

Surveyor::Surveyor(const Site& site)
    : site_(site), lookout_(site.scene()), best_chance_(site.points().size(), -1.0F) {}

void Surveyor::see(const Vector2d& at_m, PlaceAnswer& answer, const std::vector<char>& may_use) {
    answer.at_m = at_m;
    answer.standing = Standing::free;
    answer.marks.clear();
    answer.seen.clear();
    answer.chance.clear();
    answer.is_solvable = false;
    answer.expected = 0.0;
    answer.nothing_wrong = 0.0;
    answer.pose_covariance.setZero();
    const Crew& crew = site_.crew();
    if (site_.is_no_go(at_m)) {
        answer.standing = Standing::no_go;
        return;
    }
    const double room = site_.scene().room_at(at_m, crew.room_m, site_.floor_m() + 0.05,
                                              site_.floor_m() + kUserHeight_m);
    if (room < crew.room_m) {
        answer.standing = room == 0.0 ? Standing::inside_obstacle : Standing::no_room;
        return;
    }
    const Vector3d axes(at_m.x(), at_m.y(), site_.axes_height_m());
    lookout_.stand(axes, site_.low_m_, site_.high_m_);
    lookout_.look(site_.mark_targets_, crew.nearest_m, crew.farthest_mark_m, seen_marks_);
    const double steepest = std::tan(crew.steepest_rad);
    for (std::size_t m = 0; m < seen_marks_.size(); ++m) {
        if (seen_marks_[m] == 0 || (!may_use.empty() && may_use[m] == 0)) continue;
        const ControlMark& mark = site_.marks()[m];
        const double rise = mark.has_height ? mark.at_m.z() + crew.mark_rod_m - axes.z() : 0.0;
        if (std::abs(rise) > steepest * (mark.at_m.head<2>() - at_m).norm()) continue;
        answer.marks.push_back(static_cast<int>(m));
    }
    if (static_cast<int>(answer.marks.size()) > kMostControl) {
        // The nearest carry the station; sights to more would not be taken.
        const auto apart = [&](int m) {
            return (site_.marks()[static_cast<std::size_t>(m)].at_m.head<2>() - at_m).squaredNorm();
        };
        std::nth_element(answer.marks.begin(), answer.marks.begin() + kMostControl,
                         answer.marks.end(), [&](int a, int b) { return apart(a) < apart(b); });
        answer.marks.resize(kMostControl);
        std::sort(answer.marks.begin(), answer.marks.end());
    }
    lookout_.look(site_.point_targets_, crew.nearest_m, crew.farthest_point_m, seen_points_);
    for (std::size_t p = 0; p < seen_points_.size(); ++p) {
        if (seen_points_[p] == 0) continue;
        const PlanPoint& point = site_.points()[p];
        const double rise =
            (point.has_height ? point.height_m : site_.floor_m()) + crew.lay_rod_m - axes.z();
        const double dx = point.east_m - at_m.x();
        const double dy = point.north_m - at_m.y();
        if (rise * rise > steepest * steepest * (dx * dx + dy * dy)) continue;
        answer.seen.push_back(static_cast<int>(p));
    }
}

void Surveyor::ask(const Vector2d& at_m, PlaceAnswer& answer, const std::vector<char>& may_use) {
    ask(at_m, answer, may_use, site_.draws());
}

void Surveyor::ask(const Vector2d& at_m, PlaceAnswer& answer, const std::vector<char>& may_use,
                   const Draws& draws) {
    see(at_m, answer, may_use);
    if (answer.standing != Standing::free) return;
    const Vector3d axes(at_m.x(), at_m.y(), site_.axes_height_m());
    outlook_.stand(axes, site_.marks(), answer.marks, site_.crew());
    answer.is_solvable = outlook_.is_solvable();
    if (!answer.is_solvable) {
        answer.chance.assign(answer.seen.size(), 0.0);
        for (const int p : answer.seen) {
            float& best = best_chance_[static_cast<std::size_t>(p)];
            best = std::max(best, 0.0F);
        }
        return;
    }
    answer.pose_covariance = outlook_.pose_covariance();
    outlook_.forecast(draws, site_.points(), answer.seen, site_.table(), answer.chance);
    answer.nothing_wrong = outlook_.nothing_wrong();
    for (std::size_t i = 0; i < answer.chance.size(); ++i) {
        answer.expected += answer.chance[i];
        float& best = best_chance_[static_cast<std::size_t>(answer.seen[i])];
        best = std::max(best, static_cast<float>(answer.chance[i]));
    }
}

void Surveyor::ask_closely(const Vector2d& at_m, const std::vector<int>& marks,
                           const CloseEffort& effort, PlaceAnswer& answer) {
    see(at_m, answer, {});
    if (answer.standing != Standing::free) return;
    answer.marks = marks;
    const Vector3d axes(at_m.x(), at_m.y(), site_.axes_height_m());
    outlook_.stand(axes, site_.marks(), marks, site_.crew());
    answer.is_solvable = outlook_.is_solvable();
    answer.pose_covariance = outlook_.pose_covariance();
    outlook_.share(effort, site_.points(), answer.seen, site_.table(), answer.chance);
    answer.nothing_wrong = outlook_.nothing_wrong();
    for (const double c : answer.chance) answer.expected += c;
}

ReachMap make_map(const Vector2d& low_m, const Vector2d& high_m, double step_m, std::size_t points,
                  std::size_t most) {
    ReachMap map;
    map.step_m = step_m;
    const auto count = [&](double length) {
        return static_cast<int>(std::floor(std::max(length, 0.0) / map.step_m + 1e-9)) + 1;
    };
    // Coordinates that fit no lattice are the caller's to refuse; here they give no place.
    const Vector2d size = high_m - low_m;
    if (!low_m.allFinite() || !high_m.allFinite() || !(step_m > 0.0)) return map;
    while (static_cast<double>(std::max(size.x(), 0.0) / map.step_m + 1.0) *
               (std::max(size.y(), 0.0) / map.step_m + 1.0) >
           static_cast<double>(most))
        map.step_m *= 1.25;
    map.columns = count(size.x());
    map.rows = count(size.y());
    map.west_m = low_m.x() + 0.5 * (size.x() - map.step_m * (map.columns - 1));
    map.south_m = low_m.y() + 0.5 * (size.y() - map.step_m * (map.rows - 1));
    const auto n = static_cast<std::size_t>(map.columns) * static_cast<std::size_t>(map.rows);
    map.words = static_cast<int>((points + 63) / 64);
    map.expected.assign(n, -1.0F);
    map.in_sight.assign(n, 0);
    map.marks.assign(n, 0);
    map.standing.assign(n, Standing::free);
    map.counted.assign(n * static_cast<std::size_t>(map.words), 0);
    return map;
}

void fill(ReachMap& map, std::size_t from, std::size_t to, Surveyor& surveyor, double counts_from) {
    PlaceAnswer answer;
    for (std::size_t place = from; place < to; ++place) {
        surveyor.ask(map.at(place), answer);
        map.standing[place] = answer.standing;
        if (answer.standing != Standing::free) continue;
        map.expected[place] = static_cast<float>(answer.expected);
        map.marks[place] = static_cast<std::uint8_t>(answer.marks.size());
        map.in_sight[place] =
            static_cast<std::uint16_t>(std::min<std::size_t>(answer.seen.size(), 65535));
        std::uint64_t* bits = map.counted.data() + place * static_cast<std::size_t>(map.words);
        for (std::size_t i = 0; i < answer.seen.size(); ++i)
            if (answer.chance[i] >= counts_from) {
                const auto p = static_cast<std::size_t>(answer.seen[i]);
                bits[p / 64] |= std::uint64_t{1} << (p % 64);
            }
    }
}

}  // namespace layproof::plan
