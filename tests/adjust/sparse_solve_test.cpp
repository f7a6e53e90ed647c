// The sparse path against the dense one on random problems, and what it says of loose parts.

#include "adjust/sparse_solve.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "adjust/functions.hpp"
#include "adjust/random_net.hpp"

namespace layproof::adjust::testing {
namespace {

class sparse_net : public ::testing::TestWithParam<int> {};

TEST_P(sparse_net, random_problem_gives_what_the_dense_path_gives) {
    Random random(static_cast<std::uint64_t>(GetParam()));
    const int count = 3 + GetParam() * 2;
    RandomNet net(count, 4 * count, random);
    switch (GetParam() % 3) {
        case 0:
            net.hold(0);
            net.hold(1);
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
