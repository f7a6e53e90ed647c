#include "adjust/variance_components.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "adjust/functions.hpp"
#include "base/random.hpp"

namespace layproof::adjust::testing {
namespace {

struct DirectReading {
    static constexpr int kRows = 1;
    static constexpr std::array<int, 1> kSizes{1};
    double observed = 0.0;
    void evaluate(const double* const* x, double* residual, double* jacobian) const {
        residual[0] = x[0][0] - observed;
        if (jacobian != nullptr) jacobian[0] = 1.0;
    }
};

// The factors printed for each round come from the full system of equations between the groups; the
// simplified one takes other steps to the same end.
TEST(variance_components, published_example_ends_at_the_same_variances) {
    const Reference example("variance-components");
    SparseProblem problem;
    const ParameterId mean = problem.add_parameter(std::array{0.0});
    const auto y = numbers(example, "observations.y");
    const auto group = numbers(example, "observations.group");
    const auto prior_variance = numbers(example, "observations.prior_variance");
    std::vector<DirectReading> blocks;
    std::vector<double> variances;
    std::vector<int> group_of;
    for (std::size_t i = 0; i < y.size(); ++i) {
        blocks.push_back({y[i]});
        group_of.push_back(static_cast<int>(group[i]) - 1);
        variances.push_back(prior_variance[static_cast<std::size_t>(group_of.back())]);
    }
    const std::vector<ParameterId> ids(y.size(), mean);
    problem.add_batch(Blockwise<DirectReading>::shape(),
                      std::make_unique<Blockwise<DirectReading>>(std::move(blocks)), ids,
                      variances);
    SparseSolver solver(problem);
    VarianceOptions options;
    options.tolerance = 1e-12;
    options.max_rounds = 200;
    const auto found = estimate_variance_components(problem, solver, {group_of}, {}, options);
    ASSERT_EQ(found.status, SolveStatus::converged);
    EXPECT_TRUE(found.is_settled);
    example.check("final.variance_1", found.groups[0].factor * prior_variance[0]);
    example.check("final.variance_2", found.groups[1].factor * prior_variance[1]);
    example.check("final.mean", problem.value(mean)[0]);
    EXPECT_NEAR(found.groups[0].redundancy + found.groups[1].redundancy, 4.0, 1e-9);
}

// Two groups of direct observations of many unknowns: planted factors come back within their own
// uncertainty, and a prior holds back a group that has little to say.
TEST(variance_components, planted_factors_are_found_and_a_prior_steadies_a_small_group) {
    Random random(11);
    SparseProblem problem;
    std::vector<DirectReading> blocks;
    std::vector<ParameterId> ids;
    std::vector<int> group_of;
    for (int i = 0; i < 400; ++i) {
        const ParameterId id = problem.add_parameter(std::array{0.0});
        const double truth = random.normal();
        for (int k = 0; k < 5; ++k) {
            const bool second = k >= 3;
            blocks.push_back({truth + random.normal() * (second ? 3.0 : 0.5)});
            ids.push_back(id);
            group_of.push_back(second ? 1 : 0);
        }
    }
    const ParameterId lone = problem.add_parameter(std::array{0.0});
    for (int k = 0; k < 2; ++k) {
        blocks.push_back({20.0 * k});
        ids.push_back(lone);
        group_of.push_back(2);
    }
    const std::vector<double> sds(blocks.size(), 1.0);
    problem.add_batch_with_sds(Blockwise<DirectReading>::shape(),
                               std::make_unique<Blockwise<DirectReading>>(std::move(blocks)), ids,
                               sds);
    SparseSolver solver(problem);
    const auto found = estimate_variance_components(problem, solver, {group_of},
                                                    {{}, {}, VariancePrior{9.0, 1.0}});
    ASSERT_EQ(found.status, SolveStatus::converged);
    EXPECT_TRUE(found.is_settled);
    EXPECT_NEAR(found.groups[0].factor, 0.25, 4.0 * 0.25 * found.groups[0].relative_sd);
    EXPECT_NEAR(found.groups[1].factor, 9.0, 4.0 * 9.0 * found.groups[1].relative_sd);
    // One redundant observation that shows 200, nine that showed 1: 209/10.
    EXPECT_NEAR(found.groups[2].factor, 20.9, 1e-2);
}

TEST(variance_components, lists_that_do_not_fit_are_refused) {
    SparseProblem problem;
    const ParameterId mean = problem.add_parameter(std::array{0.0});
    problem.observe_directly(mean, std::array{1.0}, variance(1.0));
    SparseSolver solver(problem);
    EXPECT_TRUE(estimate_variance_components(problem, solver, {}, {}).groups.empty());
    EXPECT_TRUE(estimate_variance_components(problem, solver, {{0, 0}}, {}).groups.empty());
    EXPECT_TRUE(estimate_variance_components(problem, solver, {{-2}}, {}).groups.empty());
    // No redundancy, no prior: nothing is learnt and nothing changes.
    const auto found = estimate_variance_components(problem, solver, {{0}}, {});
    ASSERT_EQ(found.groups.size(), 1U);
    EXPECT_EQ(found.groups[0].factor, 1.0);
    EXPECT_FALSE(found.groups[0].relative_sd < 1e6);
}

}  // namespace
}  // namespace layproof::adjust::testing
