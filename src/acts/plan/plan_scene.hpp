#pragma once
// What a plan stands on, made ready once.

#include <algorithm>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "acts/plan/plan.hpp"
#include "frame/mark.hpp"
#include "plan/reach.hpp"
#include "threads/threads.hpp"

namespace layproof::acts {

struct PlanScene::Inside {
    PlanRequest request;
    measure::LengthUnit unit = measure::LengthUnit::metre;
    measure::LengthStyle style;
    std::vector<frame::DesignPoint> points;
    std::vector<int> point_cover;             ///< obstacle on each point; −1: none
    std::vector<station::LayTarget> targets;  ///< a covered one is nowhere, so never seen
    std::vector<plan::ControlMark> marks;     ///< as given; a covered one is nowhere for the site
    std::vector<int> mark_cover;              ///< obstacle on each mark; −1: none
    std::vector<plan::Prism> prisms;
    std::vector<double> prism_sizes_m;  ///< farthest corner from the centre
    std::vector<std::string> obstacle_names;
    struct Source {
        std::string name;
        std::size_t first = 0, last = 0;  ///< into prisms
    };
    std::vector<Source> sources;  ///< files of obstacles
    std::vector<std::vector<Eigen::Vector2d>> no_go;
    plan::Crew crew;
    double floor_m = 0.0;
    std::vector<std::string> notices;
    std::unique_ptr<plan::Site> site;
    std::unique_ptr<plan::Surveyor> surveyor;  ///< of plan_position
    std::unique_ptr<plan::Draws> draws;        ///< of plan_position
    Eigen::Vector2d low_m = Eigen::Vector2d::Zero();
    Eigen::Vector2d high_m = Eigen::Vector2d::Zero();

    /// The same site with something changed about the crew, the marks or the points.
    std::unique_ptr<plan::Site> other_site(
        const plan::Crew& other, std::vector<plan::ControlMark> other_marks,
        const std::vector<station::LayTarget>& points_then) const {
        return std::make_unique<plan::Site>(std::move(other_marks), points_then, prisms, no_go,
                                            other, floor_m, request.clearance_m);
    }
    std::unique_ptr<plan::Site> other_site(const plan::Crew& other,
                                           std::vector<plan::ControlMark> other_marks) const {
        return other_site(other, std::move(other_marks), targets);
    }
};

namespace internal {

/// Runs work(thread, from, to) over 0 … count in turns of `turn`; the parts do not depend on the
/// number of threads.
template <class Work>
void share_out(std::size_t count, std::size_t turn, const Work& work) {
    threads::share((count + turn - 1) / turn, [&](std::size_t thread, std::size_t k) {
        work(thread, turn * k, std::min(turn * (k + 1), count));
    });
}

/// The map over the scene's area, and each point's best chance (below 0: never in sight).
plan::ReachMap plan_map(const PlanScene::Inside& scene, const plan::Site& site, double step_m,
                        std::vector<float>& best);

/// Points that some place counts.
std::size_t provable_points(const plan::ReachMap& map);

/// The obstacle that stands on a foot or in the way of the rod on it; −1: none. A foot without a
/// height is laid on top of what is lower than the rod.
int obstacle_on(const PlanScene::Inside& scene, const Eigen::Vector2d& at_m,
                std::optional<double> height_m, double rod_m);

/// State, reason and sentence of every point; `best` from plan_map.
void report_points(const PlanScene::Inside& scene, const plan::ReachMap& map,
                   const std::vector<float>& best, PlanAnswer& answer);

/// What would help, for a map on which `provable` points are counted somewhere.
std::vector<PlanAdvice> plan_advice(const PlanScene::Inside& scene, const plan::ReachMap& map,
                                    std::size_t provable);

}  // namespace internal
}  // namespace layproof::acts
