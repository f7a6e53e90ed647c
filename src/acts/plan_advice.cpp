// What would help, worked out: the map again with one thing changed, on a coarser lattice, and
// the places where a new mark would add most.

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>

#include "acts/plan_scene_internal.hpp"
#include "acts/words_internal.hpp"
#include "station/aids.hpp"

namespace layproof::acts::internal {
namespace {

using Eigen::Vector2d;
using Inside = PlanScene::Inside;

/// Places that are asked again, at most.
constexpr double kMostPlaces = 2500.0;
constexpr double kMostMarkPlaces = 450.0;
/// Where a new mark is tried.
constexpr double kMostSpots = 70.0;
constexpr double kBetterShare = 0.5;

double step_for(const Inside& scene, double most, double least) {
    const Vector2d size = scene.high_m - scene.low_m;
    return std::max(least, std::sqrt(std::max(size.x() * size.y(), 1.0) / most));
}

/// A single worker: the choice of set-ups runs beside it.
std::size_t provable_with(const Inside& scene, const plan::Site& site, double step_m) {
    plan::ReachMap map = plan::make_map(scene.low_m, scene.high_m, step_m, scene.points.size());
    plan::Surveyor surveyor(site);
    plan::fill(map, 0, map.size(), surveyor, scene.request.counts_from);
    return provable_points(map);
}

std::string gain_words(const Inside& scene, std::size_t now, std::size_t then) {
    return fmt::format("{} of {} could be proven instead of {}", then,
                       count(static_cast<int>(scene.points.size()), "point"), now);
}

/// The spot at which a new mark adds most points to those provable now.
std::optional<PlanAdvice> new_mark(const Inside& scene) {
    const double step = step_for(scene, kMostMarkPlaces, scene.request.step_m);
    const double spot_step = step_for(scene, kMostSpots, 2.0);
    std::vector<plan::ControlMark> marks = scene.site->marks();
    const std::size_t given = marks.size();
    double height = scene.floor_m;
    plan::ReachMap spots =
        plan::make_map(scene.low_m, scene.high_m, spot_step, scene.points.size());
    for (std::size_t s = 0; s < spots.size(); ++s) {
        plan::ControlMark mark;
        mark.name = "new";
        mark.at_m << spots.at(s), height;
        mark.sd_m.setConstant(frame::kDefaultMarkSd_m);
        // A mark needs a free foot and room for the rod's user.
        if (!scene.site->scene().has_room(mark.at_m.head<2>(), 0.3, height, height + 1.9)) continue;
        marks.push_back(std::move(mark));
    }
    const auto site = scene.other_site(scene.crew, marks);
    plan::Surveyor surveyor(*site);
    std::vector<char> may_use(marks.size(), 0);
    std::fill(may_use.begin(), may_use.begin() + static_cast<std::ptrdiff_t>(given), 1);
    plan::ReachMap places = plan::make_map(scene.low_m, scene.high_m, step, scene.points.size());
    const std::size_t words = static_cast<std::size_t>(places.words);
    std::vector<std::uint64_t> now(words, 0);
    plan::PlaceAnswer answer;
    const auto count_into = [&](std::vector<std::uint64_t>& bits) {
        for (std::size_t i = 0; i < answer.seen.size(); ++i)
            if (answer.chance[i] >= scene.request.counts_from) {
                const auto p = static_cast<std::size_t>(answer.seen[i]);
                bits[p / 64] |= std::uint64_t{1} << (p % 64);
            }
    };
    std::vector<std::size_t> usable;
    for (std::size_t p = 0; p < places.size(); ++p) {
        surveyor.ask(places.at(p), answer, may_use);
        if (answer.standing != plan::Standing::free) continue;
        usable.push_back(p);
        count_into(now);
    }
    const auto number = [](const std::vector<std::uint64_t>& bits) {
        std::size_t out = 0;
        for (const auto w : bits) out += static_cast<std::size_t>(std::popcount(w));
        return out;
    };
    const std::size_t before = number(now);
    std::size_t best = before;
    std::size_t at = marks.size();
    for (std::size_t m = given; m < marks.size(); ++m) {
        may_use[m] = 1;
        std::vector<std::uint64_t> with = now;
        const Eigen::Vector3d prism =
            marks[m].at_m + Eigen::Vector3d(0.0, 0.0, scene.crew.mark_rod_m);
        for (const std::size_t p : usable) {
            const Vector2d here = places.at(p);
            const Eigen::Vector3d eye(here.x(), here.y(), site->axes_height_m());
            if ((prism - eye).head<2>().norm() > scene.crew.farthest_mark_m ||
                !site->scene().is_free(eye, prism))
                continue;
            surveyor.ask(here, answer, may_use);
            count_into(with);
        }
        may_use[m] = 0;
        const std::size_t then = number(with);
        if (then > best) {
            best = then;
            at = m;
        }
    }
    if (at == marks.size()) return std::nullopt;
    PlanAdvice out;
    out.aid = "new-mark";
    out.provable = static_cast<int>(best);
    out.gained = static_cast<int>(best - before);
    out.east_m = marks[at].at_m.x();
    out.north_m = marks[at].at_m.y();
    out.says = fmt::format("A mark at about {}, {}: {}.", rough(marks[at].at_m.x(), scene.style),
                           rough(marks[at].at_m.y(), scene.style), gain_words(scene, before, best));
    return out;
}

}  // namespace

std::vector<PlanAdvice> plan_advice(const PlanScene::Inside& scene) {
    std::vector<PlanAdvice> out;
    const double step = step_for(scene, kMostPlaces, scene.request.step_m);
    const std::size_t now = provable_with(scene, *scene.site, step);
    const auto look = [&](const char* aid, const plan::Crew& crew, const std::string& words) {
        const auto site = scene.other_site(crew, scene.site->marks());
        const std::size_t then = provable_with(scene, *site, step);
        if (then <= now) return;
        PlanAdvice advice;
        advice.aid = aid;
        advice.provable = static_cast<int>(then);
        advice.gained = static_cast<int>(then - now);
        advice.says = fmt::format("{}: {}.", words, gain_words(scene, now, then));
        out.push_back(std::move(advice));
    };
    plan::Crew crew = scene.crew;
    if (crew.lay_rod_m > 2.0 * station::kShortRod_m) {
        crew.lay_rod_m = station::kShortRod_m;
        crew.mark_rod_m = std::min(crew.mark_rod_m, station::kShortRod_m);
        look("short-rod", crew,
             fmt::format("The rod held at {} on points and marks",
                         small(station::kShortRod_m, scene.style)));
    }
    crew = scene.crew;
    crew.instrument.bubble_rad *= station::kBipodShare;
    look("bipod", crew, "The rod on a bipod, on marks and points");
    crew = scene.crew;
    crew.instrument.angle_sd_rad *= kBetterShare;
    look("better-angles", crew,
         fmt::format("An instrument of {:.1f}\"",
                     crew.instrument.angle_sd_rad / measure::kRadPerArcsec));
    if (scene.crew.faces == 1) {
        crew = scene.crew;
        crew.faces = 2;
        look("two-faces", crew, "Marks sighted in two faces");
    }
    if (auto mark = new_mark(scene)) out.push_back(std::move(*mark));
    std::stable_sort(out.begin(), out.end(),
                     [](const auto& a, const auto& b) { return a.gained > b.gained; });
    return out;
}

}  // namespace layproof::acts::internal
