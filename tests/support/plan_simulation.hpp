#pragma once
// What the act "station" would say about points, over many simulated set-ups at one planned place:
// sights with random errors from a forward model of their own (site_simulator.hpp), then prepare,
// solve, diagnose and forecast as the act does.

#include <cmath>
#include <span>
#include <vector>

#include "cause/diagnose.hpp"
#include "plan/crew.hpp"
#include "station/lay_prediction.hpp"
#include "station/prepared.hpp"
#include "station/solution.hpp"
#include "support/site_simulator.hpp"

namespace layproof::test_support {

struct SimulatedVerdicts {
    std::vector<double> proven;  ///< share of the runs in which each point is
    double share = 0.0;          ///< mean over runs and points
    double share_sd = 0.0;       ///< standard error of that mean
    double nothing_wrong = 0.0;  ///< mean probability
    int runs = 0;
    int not_solved = 0;
};

/// `moved`: the one of `marks` that is moved first, by moved_m in each plan axis; −1: none.
inline station::StationInput simulate_setup(Random& random, const Eigen::Vector3d& axes,
                                            const std::vector<plan::ControlMark>& all,
                                            std::span<const int> marks, const plan::Crew& crew,
                                            int moved = -1,
                                            const Eigen::Vector2d& by = Eigen::Vector2d::Zero()) {
    station::StationInput input;
    input.setup.station = "S";
    input.instrument = crew.instrument;
    for (const plan::ControlMark& mark : all) {
        frame::Mark given;
        given.name = mark.name;
        given.east_m = mark.at_m.x();
        given.north_m = mark.at_m.y();
        if (mark.has_height) given.height_m = mark.at_m.z();
        given.sd_east_m = mark.sd_m.x();
        given.sd_north_m = mark.sd_m.y();
        given.sd_height_m = mark.sd_m.z();
        input.marks.push_back(given);
    }
    testing::TruePose pose;
    pose.axes_m = axes;
    pose.orientation_rad = random.uniform(0.0, 6.283185307179586);
    for (const int m : marks) {
        const plan::ControlMark& mark = all[static_cast<std::size_t>(m)];
        testing::SightPlan sight;
        sight.target = mark.name;
        sight.tip = mark.at_m;
        for (int k = 0; k < 3; ++k) sight.tip[k] += mark.sd_m[k] * random.normal();
        if (m == moved) sight.tip.head<2>() += by;
        sight.rod_m = crew.mark_rod_m;
        sight.two_faces = crew.faces == 2;
        testing::sight_to(&random, pose, crew.instrument, sight, 1.0, input.sights);
    }
    return input;
}

inline SimulatedVerdicts simulate_verdicts(const Eigen::Vector3d& axes,
                                           const std::vector<plan::ControlMark>& all,
                                           std::span<const int> marks, const plan::Crew& crew,
                                           const std::vector<station::LayTarget>& points, int runs,
                                           std::uint64_t seed) {
    SimulatedVerdicts out;
    out.proven.assign(points.size(), 0.0);
    Random random(seed);
    double square = 0.0;
    for (int run = 0; run < runs; ++run) {
        const auto input = simulate_setup(random, axes, all, marks, crew);
        const auto prepared = station::prepare(input);
        const auto solved = prepared ? station::solve_station(*prepared)
                                     : Result<station::Solved>(prepared.refusal());
        ++out.runs;
        if (!solved) {
            ++out.not_solved;
            continue;
        }
        const auto diagnosis = cause::diagnose(*prepared, solved->best, crew.causes);
        const auto forecast = station::forecast(solved->best.pose, points, crew.instrument,
                                                crew.lay_rod_m, diagnosis.beliefs, crew.confidence);
        for (const cause::Entry& entry : diagnosis.entries)
            if (!entry.is_pair && entry.members.front().cause == cause::Cause::nothing_wrong)
                out.nothing_wrong += entry.probability / runs;
        for (std::size_t i = 0; i < points.size(); ++i)
            if (forecast.points[i].word == station::Word::proven) out.proven[i] += 1.0 / runs;
        const double share =
            points.empty() ? 0.0 : forecast.proven / static_cast<double>(points.size());
        out.share += share / runs;
        square += share * share / runs;
    }
    out.share_sd = std::sqrt(std::max(square - out.share * out.share, 0.0) / runs);
    return out;
}

}  // namespace layproof::test_support
