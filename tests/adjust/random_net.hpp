#pragma once
// Invented plane nets of any size for the sparse path.

#include <array>
#include <cmath>
#include <cstddef>
#include <map>
#include <set>
#include <vector>

#include "adjust/functions.hpp"
#include "adjust/sparse_bridge.hpp"
#include "base/random.hpp"

namespace layproof::adjust::testing {

/// Points in the plane with distances, directions and angles, all from truth plus noise.
struct RandomNet {
    Problem problem;
    std::vector<ParameterId> points;
    std::vector<std::array<double, 2>> truth;
    std::vector<double> start;

    std::vector<int> spoilt;  ///< observations with a gross error

    RandomNet(int count, int observations, Random& random, const std::set<int>& wrong = {}) {
        for (int i = 0; i < count; ++i) {
            truth.push_back({100.0 * random.uniform(), 100.0 * random.uniform()});
            points.push_back(add_parameter(problem, {truth.back()[0] + 0.05 * random.normal(),
                                                     truth.back()[1] + 0.05 * random.normal()}));
        }
        for (int n = 0; n < observations; ++n) {
            // A ring keeps it together; the rest is chance.
            const int a = n % count;
            int b =
                n < count ? (n + 1) % count : static_cast<int>(random.uniform() * count) % count;
            if (a == b) b = (a + 1) % count;
            const double de = truth[index(b)][0] - truth[index(a)][0];
            const double dn = truth[index(b)][1] - truth[index(a)][1];
            const double error = wrong.count(n) != 0 ? 0.08 : 2e-3 * random.normal();
            const int observation = observe<PlaneDistance>(
                problem, {points[index(a)], points[index(b)]}, 2e-3, std::hypot(de, dn) + error);
            if (wrong.count(n) != 0) spoilt.push_back(observation);
            if (n % 2 == 0) {
                if (turns_.count(a) == 0) turns_[a] = add_parameter(problem, {0.3});
                observe<PlaneDirection>(problem, {points[index(a)], points[index(b)], turns_[a]},
                                        1e-4, std::atan2(de, dn) - 0.3 + 1e-4 * random.normal());
            }
        }
    }

    void hold(int point) {
        const auto& parameter = problem.parameters()[index(points[index(point)].index)];
        for (std::size_t i = 0; i < 2; ++i)
            problem.values()[index(parameter.offset) + i] = truth[index(point)][i];
        problem.hold(points[index(point)]);
    }

    void weigh(int point, double sd) {
        const Eigen::Matrix2d q =
            (Eigen::Matrix2d() << sd * sd, 0.3 * sd * sd, 0.3 * sd * sd, sd * sd).finished();
        problem.observe_directly(points[index(point)], truth[index(point)], q);
    }

    SolveSummary run() {
        start = problem.values();
        return solve(problem);
    }

    static std::size_t index(int i) { return static_cast<std::size_t>(i); }

private:
    std::map<int, ParameterId> turns_;
};

}  // namespace layproof::adjust::testing
