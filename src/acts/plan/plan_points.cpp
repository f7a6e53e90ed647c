// Why a point cannot be proven: covered, out of reach, hidden, too few marks, or the tolerance.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "acts/plan/plan_scene.hpp"
#include "acts/shared/words.hpp"
#include "plan/sight_lines.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using Inside = PlanScene::Inside;

/// Heights that are said to be the same differ by no more.
constexpr double kSameHeight_m = 0.02;
/// Pairs of point and place looked at for the distance; above, every nth place stands for all.
constexpr double kMostPairs = 2e8;
constexpr std::size_t kPlacesATurn = 256;

double target_height(const Inside& scene, std::size_t point) {
    return scene.points[point].height_m.value_or(scene.floor_m) + scene.crew.lay_rod_m;
}

std::vector<std::size_t> free_places(const plan::ReachMap& map) {
    std::vector<std::size_t> out;
    for (std::size_t p = 0; p < map.size(); ++p)
        if (map.standing[p] == plan::Standing::free) out.push_back(p);
    return out;
}

/// Where it lies as seen from the places for the tripod.
struct Apart {
    double nearest_m = std::numeric_limits<double>::infinity();
    bool can_be_sighted = false;  ///< some place is near enough, and not too near or too steep
};

Apart apart_of(const Inside& scene, const plan::ReachMap& map,
               const std::vector<std::size_t>& places, std::size_t every, std::size_t point) {
    const plan::Crew& crew = scene.crew;
    const Vector2d at(scene.points[point].east_m, scene.points[point].north_m);
    const double rise = std::abs(target_height(scene, point) - scene.site->axes_height_m());
    const double least = std::max(crew.nearest_m, rise / std::tan(crew.steepest_rad));
    Apart out;
    for (std::size_t i = 0; i < places.size(); i += every) {
        const double plan = (map.at(places[i]) - at).norm();
        out.nearest_m = std::min(out.nearest_m, plan);
        out.can_be_sighted = out.can_be_sighted || (plan >= least && plan <= crew.farthest_point_m);
    }
    return out;
}

/// The most marks in sight from any place that sees the point, for each point asked.
std::vector<int> most_marks_beside(const Inside& scene, const plan::ReachMap& map,
                                   const std::vector<std::size_t>& places,
                                   const std::vector<std::size_t>& points) {
    std::vector<Vector3d> at;
    double low = scene.site->axes_height_m();
    double high = low;
    for (const std::size_t p : points) {
        at.emplace_back(scene.points[p].east_m, scene.points[p].north_m, target_height(scene, p));
        low = std::min(low, at.back().z());
        high = std::max(high, at.back().z());
    }
    const plan::SightTargets targets(scene.site->scene(), at);
    const std::size_t workers = threads::most();
    std::vector<std::vector<int>> most(workers, std::vector<int>(points.size(), 0));
    std::vector<plan::Lookout> lookouts(workers, plan::Lookout(scene.site->scene()));
    std::vector<std::vector<std::uint8_t>> seen(workers);
    const double steepest = std::tan(scene.crew.steepest_rad);
    internal::share_out(
        places.size(), kPlacesATurn, [&](std::size_t w, std::size_t from, std::size_t to) {
            for (std::size_t i = from; i < to; ++i) {
                const Vector2d here = map.at(places[i]);
                const Vector3d eye(here.x(), here.y(), scene.site->axes_height_m());
                lookouts[w].stand(eye, low, high);
                lookouts[w].look(targets, scene.crew.nearest_m, scene.crew.farthest_point_m,
                                 seen[w]);
                const int marks = map.marks[places[i]];
                for (std::size_t p = 0; p < points.size(); ++p) {
                    const Vector3d by = at[p] - eye;
                    if (seen[w][p] != 0 && std::abs(by.z()) <= steepest * by.head<2>().norm())
                        most[w][p] = std::max(most[w][p], marks);
                }
            }
        });
    std::vector<int> out(points.size(), 0);
    for (const auto& part : most)
        for (std::size_t p = 0; p < out.size(); ++p) out[p] = std::max(out[p], part[p]);
    return out;
}

void say_far(const Inside& scene, const Apart& apart, std::size_t point, PlanPointReport& report) {
    const double farthest = scene.crew.farthest_point_m;
    report.state = PlanPointState::out_of_reach;
    report.why = PlanPointWhy::far;
    if (apart.nearest_m > farthest) {
        report.says = fmt::format(
            "{} from the nearest place for a tripod; the longest sight is {}.",
            internal::rough(apart.nearest_m, scene.style), internal::rough(farthest, scene.style));
        return;
    }
    const double rise = target_height(scene, point) - scene.site->axes_height_m();
    report.says = std::abs(rise) > 2.0
                      ? fmt::format("{} {} the instrument: too steep to sight from every place.",
                                    internal::rough(std::abs(rise), scene.style),
                                    rise > 0.0 ? "above" : "below")
                      : "No place for a tripod lies at a distance from which it can be sighted.";
}

void say_in_doubt(const Inside& scene, int marks, std::size_t point, PlanPointReport& report) {
    report.state = PlanPointState::in_doubt;
    if (marks < 2) {
        report.why = PlanPointWhy::few_marks;
        report.says = marks == 0 ? "Seen only from places where no mark is in sight."
                                 : "Seen only from places where one mark is in sight: one does not "
                                   "place a station.";
        return;
    }
    if (marks == 2) {
        report.why = PlanPointWhy::two_marks;
        report.says =
            "Seen only from places where two marks are in sight: they cannot check each other.";
        return;
    }
    report.why = PlanPointWhy::tolerance;
    report.says =
        fmt::format("Seen, but from nowhere well enough for {}.",
                    internal::tolerance(scene.targets[point].tolerance_plan_m, scene.style));
}

}  // namespace

std::string_view to_word(PlanPointWhy why) {
    switch (why) {
        case PlanPointWhy::none:
            return "none";
        case PlanPointWhy::covered:
            return "covered";
        case PlanPointWhy::no_place:
            return "no-place";
        case PlanPointWhy::far:
            return "far";
        case PlanPointWhy::hidden:
            return "hidden";
        case PlanPointWhy::few_marks:
            return "few-marks";
        case PlanPointWhy::two_marks:
            return "two-marks";
        case PlanPointWhy::tolerance:
            return "tolerance";
    }
    return "none";
}

int internal::obstacle_on(const Inside& scene, const Vector2d& at_m, std::optional<double> height_m,
                          double rod_m) {
    const double foot = height_m.value_or(scene.floor_m);
    const double low = height_m ? foot + kSameHeight_m : foot + std::max(rod_m, kSameHeight_m);
    const double high = foot + std::max(rod_m, kSameHeight_m);
    for (std::size_t i = 0; i < scene.prisms.size(); ++i) {
        const plan::Prism& prism = scene.prisms[i];
        const double size = scene.prism_sizes_m[i];
        if ((prism.centre_m - at_m).squaredNorm() <= size * size && prism.reach.top_m > low &&
            prism.reach.bottom_m < high && plan::plan_distance(prism, at_m) == 0.0)
            return prism.obstacle;
    }
    return -1;
}

void internal::report_points(const Inside& scene, const plan::ReachMap& map,
                             const std::vector<float>& best, PlanAnswer& answer) {
    const std::vector<std::size_t> places = free_places(map);
    std::vector<std::size_t> unseen;
    std::vector<std::size_t> doubtful;
    for (std::size_t i = 0; i < scene.points.size(); ++i) {
        const frame::DesignPoint& p = scene.points[i];
        PlanPointReport report;
        report.name = p.name;
        report.east_m = p.east_m;
        report.north_m = p.north_m;
        report.best = std::max(0.0F, best[i]);
        if (scene.point_cover[i] >= 0) {
            report.state = PlanPointState::in_obstacle;
            report.why = PlanPointWhy::covered;
            report.says =
                fmt::format("{} stands on it.",
                            scene.obstacle_names[static_cast<std::size_t>(scene.point_cover[i])]);
        } else if (best[i] >= answer.counts_from) {
            report.state = PlanPointState::counted;
        } else if (places.empty()) {
            report.why = PlanPointWhy::no_place;
            report.says = "There is no place where a tripod may stand.";
        } else {
            (best[i] < 0.0F ? unseen : doubtful).push_back(i);
        }
        answer.point_reports.push_back(std::move(report));
    }
    const double pairs = static_cast<double>(unseen.size()) * static_cast<double>(places.size());
    const auto every = static_cast<std::size_t>(std::ceil(std::max(1.0, pairs / kMostPairs)));
    for (const std::size_t i : unseen) {
        const Apart apart = apart_of(scene, map, places, every, i);
        PlanPointReport& report = answer.point_reports[i];
        if (!apart.can_be_sighted) {
            say_far(scene, apart, i, report);
            continue;
        }
        report.why = PlanPointWhy::hidden;
        report.says = "Hidden by obstacles from every place for a tripod.";
    }
    if (doubtful.empty()) return;
    const std::vector<int> marks = most_marks_beside(scene, map, places, doubtful);
    for (std::size_t k = 0; k < doubtful.size(); ++k)
        say_in_doubt(scene, marks[k], doubtful[k], answer.point_reports[doubtful[k]]);
}

}  // namespace layproof::acts
