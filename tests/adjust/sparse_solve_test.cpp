// The sparse path against the dense one on random problems, and what it says of loose parts.

#include "adjust/sparse_solve.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <vector>

#include "adjust/functions.hpp"
#include "adjust/sparse_bridge.hpp"
#include "base/random.hpp"

namespace layproof::adjust::testing {
namespace {

/// Points in the plane with distances, directions and angles, all from truth plus noise.
struct RandomNet {
    Problem problem;
    std::vector<ParameterId> points;
    std::vector<std::array<double, 2>> truth;
    std::vector<double> start;

    RandomNet(int count, int observations, Random& random) {
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
            observe<PlaneDistance>(problem, {points[index(a)], points[index(b)]}, 2e-3,
                                   std::hypot(de, dn) + 2e-3 * random.normal());
            if (n % 2 == 0) {
                if (turns_.count(a) == 0) turns_[a] = add_parameter(problem, {0.3});
                observe<PlaneDirection>(problem, {points[index(a)], points[index(b)], turns_[a]},
                                        1e-4, std::atan2(de, dn) - 0.3 + 1e-4 * random.normal());
            }
        }
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

class sparse_net : public ::testing::TestWithParam<int> {};

TEST_P(sparse_net, random_problem_gives_what_the_dense_path_gives) {
    Random random(static_cast<std::uint64_t>(GetParam()));
    const int count = 3 + GetParam() * 2;
    RandomNet net(count, 4 * count, random);
    switch (GetParam() % 3) {
        case 0:
            net.problem.hold(net.points[0]);
            net.problem.hold(net.points[1]);
            break;
        case 1:
            net.weigh(0, 0.003);
            net.weigh(2, 0.004);
            break;
        default:
            net.problem.set_inner_datum(net.points);
    }
    const SolveSummary summary = net.run();
    ASSERT_EQ(summary.status, SolveStatus::converged);
    const Analysis analysis(net.problem, summary);
    expect_sparse_agrees(net.problem, net.start, summary, analysis);
    expect_sparse_agrees(net.problem, net.start, summary, analysis,
                         EliminationOrder::nested_dissection);
}

INSTANTIATE_TEST_SUITE_P(sizes, sparse_net, ::testing::Range(1, 13));

}  // namespace
}  // namespace layproof::adjust::testing
