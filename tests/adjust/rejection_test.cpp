#include "adjust/rejection.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "adjust/random_net.hpp"
#include "adjust/robust.hpp"
#include "adjust/tests.hpp"

namespace layproof::adjust::testing {
namespace {

RejectionDecision always_leave(const RejectionCandidate&) {
    return RejectionDecision::leave_out;
}

// Values computed by numerical integration and root finding, independently of this code.
TEST(critical_value, equal_power_gives_the_values_of_the_b_method) {
    const double expected[] = {10.828, 11.730, 12.633};
    for (int q = 1; q <= 3; ++q)
        EXPECT_NEAR(equal_power_critical_value(0.001, 0.80, q), expected[q - 1], 1e-3);
}

struct PlantedErrors {
    RandomNet net;
    SparseCopy copy;
    std::vector<ObservationId> wrong;

    explicit PlantedErrors(std::uint64_t seed) : net(make(seed)), copy(net.problem) {
        for (const int o : net.spoilt)
            wrong.push_back(copy.observations[static_cast<std::size_t>(o)]);
    }

    static RandomNet make(std::uint64_t seed) {
        Random random(seed);
        RandomNet out(30, 180, random, {7, 33, 100});
        out.hold(0);
        out.hold(1);
        return out;
    }
};

TEST(rejection, planted_errors_leave_one_after_the_other_with_all_statistics_new) {
    PlantedErrors planted(17);
    SparseSolver solver(planted.copy.problem);
    int asked = 0;
    double last = 1e300;
    const auto result =
        reject_stepwise(planted.copy.problem, solver, {}, [&](const RejectionCandidate& candidate) {
            ++asked;
            EXPECT_LE(candidate.summary->weighted_square_sum, last);
            last = candidate.summary->weighted_square_sum;
            EXPECT_EQ(candidate.dimension, 1);
            EXPECT_LT(candidate.probability, 0.001);
            const auto w = candidate.analysis->standardised(
                candidate.block.batch)[static_cast<std::size_t>(candidate.block.index)];
            EXPECT_NEAR(w * w, candidate.statistic, 1e-6 * candidate.statistic);
            return RejectionDecision::leave_out;
        });
    ASSERT_EQ(result.left_out.size(), 3U);
    EXPECT_EQ(asked, 3);
    for (const ObservationId id : planted.wrong)
        EXPECT_NE(std::find(result.left_out.begin(), result.left_out.end(), id),
                  result.left_out.end());
    EXPECT_TRUE(
        global_test(result.solution.weighted_square_sum, result.solution.redundancy, 0.999).passes);
    EXPECT_EQ(result.solution.redundancy,
              planted.copy.problem.observation_count() - planted.copy.problem.unknown_count());

    // The one left out last is tested against the solution without it as it was with it: for a
    // linear problem the numbers are equal.
    const ObservationId id = result.left_out.back();
    EXPECT_GT(result.analysis->block_test(id).statistic, 10.0);
    EXPECT_EQ(result.analysis->redundancy(id.batch)[static_cast<std::size_t>(id.index)], 0.0);
}

TEST(rejection, left_out_block_keeps_the_statistic_it_had) {
    PlantedErrors planted(17);
    SparseSolver solver(planted.copy.problem);
    SparseProblem& problem = planted.copy.problem;
    ASSERT_EQ(solver.solve().status, SolveStatus::converged);
    const ObservationId id = planted.wrong[0];
    const auto row = static_cast<std::size_t>(id.index);
    const auto with = solver.analyse();
    problem.set_weight(id, 0.0);
    ASSERT_EQ(solver.solve().status, SolveStatus::converged);
    const auto without = solver.analyse();
    // Equal up to the curvature of the functions over the correction.
    EXPECT_NEAR(without.block_test(id).statistic / with.block_test(id).statistic, 1.0, 0.02);
    EXPECT_NEAR(without.standardised(id.batch)[row] / with.standardised(id.batch)[row], 1.0, 0.01);
    EXPECT_NEAR(without.estimated_bias(id.batch, static_cast<int>(row)) /
                    with.estimated_bias(id.batch, static_cast<int>(row)),
                1.0, 0.01);
}

TEST(rejection, caller_may_keep_a_block_or_stop) {
    PlantedErrors planted(17);
    SparseSolver solver(planted.copy.problem);
    const auto stopped =
        reject_stepwise(planted.copy.problem, solver, {},
                        [](const RejectionCandidate&) { return RejectionDecision::stop; });
    EXPECT_TRUE(stopped.left_out.empty());
    ASSERT_TRUE(stopped.analysis.has_value());
    int asked = 0;
    const auto kept =
        reject_stepwise(planted.copy.problem, solver, {}, [&](const RejectionCandidate&) {
            return asked++ == 0 ? RejectionDecision::keep : RejectionDecision::leave_out;
        });
    ASSERT_EQ(kept.kept.size(), 1U);
    EXPECT_GT(asked, 1);
}

TEST(rejection, clean_problem_loses_nothing) {
    Random random(28);
    RandomNet net(20, 120, random);
    net.hold(0);
    net.hold(1);
    SparseCopy copy(net.problem);
    SparseSolver solver(copy.problem);
    const auto result = reject_stepwise(copy.problem, solver, {}, always_leave);
    EXPECT_TRUE(result.left_out.empty());
}

TEST(robust, gross_errors_get_the_floor_and_do_not_pull_the_solution) {
    PlantedErrors planted(17);
    SparseProblem& problem = planted.copy.problem;
    SparseSolver solver(problem);
    const RobustSummary robust = solve_robustly(problem, solver);
    ASSERT_EQ(robust.status, SolveStatus::converged);
    EXPECT_TRUE(robust.is_settled);
    for (const ObservationId id : planted.wrong)
        EXPECT_LT(
            robust.weights[static_cast<std::size_t>(id.batch)][static_cast<std::size_t>(id.index)],
            1e-3);
    for (const auto& batch : problem.batches()) {
        for (const double weight : batch.weights) EXPECT_EQ(weight, 1.0);
    }
    const std::vector<double> values = problem.values();
    for (const ObservationId id : planted.wrong) problem.set_weight(id, 0.0);
    ASSERT_EQ(solver.solve().status, SolveStatus::converged);
    // An error of 40 standard deviations would pull by many of the unknowns' own; what remains is
    // the price of weights below one for good observations.
    const SparseAnalysis analysis = solver.analyse();
    for (int p = 0; p < static_cast<int>(problem.parameters().size()); ++p) {
        const auto& parameter = problem.parameters()[static_cast<std::size_t>(p)];
        const SmallMatrix q = analysis.covariance({p});
        for (int k = 0; k < parameter.size; ++k) {
            const auto i = static_cast<std::size_t>(parameter.offset + k);
            EXPECT_NEAR(values[i], problem.values()[i], 1.5 * std::sqrt(q(k, k))) << i;
        }
    }
}

TEST(robust, clean_problem_is_hardly_touched) {
    Random random(31);
    RandomNet net(20, 120, random);
    net.weigh(0, 0.002);
    net.weigh(1, 0.002);
    SparseCopy copy(net.problem);
    SparseSolver solver(copy.problem);
    const RobustSummary robust = solve_robustly(copy.problem, solver);
    EXPECT_EQ(robust.status, SolveStatus::converged);
    double least = 1.0;
    for (const auto& batch : robust.weights) {
        for (const double weight : batch) least = std::min(least, weight);
    }
    EXPECT_GT(least, 0.01);
}

}  // namespace
}  // namespace layproof::adjust::testing
