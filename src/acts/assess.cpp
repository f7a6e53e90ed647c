#include <fmt/format.h>

#include <cmath>

#include "acts/assess_internal.hpp"
#include "acts/words_internal.hpp"

namespace layproof::acts::internal {
namespace {

/// A gain in mean probability that is not worth a walk.
constexpr double kSmallGain = 0.001;

/// The rivals share the probability as their sums of squares tell (equal prior, equal volume).
std::vector<station::Belief> beliefs_of(const station::Solved& solved) {
    std::vector<station::Belief> out{station::belief_of(solved.best.pose)};
    const station::Pose& best = solved.best.pose;
    double sum = 1.0;
    for (std::size_t i = 0; i < solved.others.size(); ++i) {
        const station::Pose& other = solved.others[i];
        station::Belief belief = out.front();
        const Eigen::Vector3d by = other.position_m - best.position_m;
        belief.mean[station::state_east] = by.x();
        belief.mean[station::state_north] = by.y();
        belief.mean[station::state_height] = by.z();
        belief.mean[station::state_orientation] =
            measure::wrap_pi(other.orientation_rad - best.orientation_rad);
        const double more = solved.others_statistic[i] - solved.best.global_test.statistic;
        belief.weight = std::exp(-0.5 * std::max(more, 0.0));
        sum += belief.weight;
        out.push_back(belief);
    }
    for (station::Belief& belief : out) belief.weight /= sum;
    return out;
}

}  // namespace

Assessment assess(const station::Prepared& /*setup*/, const station::Solved& solved) {
    Assessment out;
    out.causes.push_back({"nothing-wrong", {}, 1.0, {}, ""});
    out.beliefs = beliefs_of(solved);
    return out;
}

std::optional<NextSightReport> next_sight_of(const station::Aids& aids, int points) {
    const station::Aid* best = nullptr;
    for (const station::Aid& aid : aids.best) {
        if (aid.kind != station::AidKind::sight_mark) continue;
        if (best == nullptr || aid.average > best->average) best = &aid;
    }
    if (best == nullptr || best->average - aids.now.average < kSmallGain) return std::nullopt;
    return NextSightReport{best->mark,
                           fmt::format("with it {} of {} could be proven instead of {}",
                                       best->proven, count(points, "point"), aids.now.proven),
                           best->average - aids.now.average};
}

}  // namespace layproof::acts::internal
