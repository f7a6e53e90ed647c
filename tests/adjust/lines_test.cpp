// Published small examples: lines, an affine transformation, two variance components.

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "adjust/functions.hpp"

namespace layproof::adjust::testing {
namespace {

TEST(line, thermometer_example_gives_intercept_slope_and_their_correlation) {
    const Reference example("gum-h3-thermometer");
    const auto t = numbers(example, "readings.t_degC");
    const auto b = numbers(example, "readings.b_K");
    Problem problem;
    const ParameterId intercept = add_parameter(problem, {0.0});
    const ParameterId slope = add_parameter(problem, {0.0});
    for (std::size_t i = 0; i < t.size(); ++i)
        observe<Linear>(problem, {intercept, slope}, 1.0,
                        std::vector<double>{1.0, t[i] - example.number("readings.t0_degC")}, b[i]);
    const auto start = problem.values();
    const SolveSummary summary = solve(problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    const Analysis analysis(problem, summary);
    expect_agrees_with_ceres(problem, start, summary.weighted_square_sum, analysis);
    example.check("intercept", problem.value(intercept)[0]);
    example.check("slope", problem.value(slope)[0]);
    example.check("u_intercept", s0(summary) * sd(analysis, intercept));
    example.check("u_slope", s0(summary) * sd(analysis, slope));
    example.check("correlation", analysis.covariance(intercept, slope)(0, 0) /
                                     (sd(analysis, intercept) * sd(analysis, slope)));
    example.check("vv", summary.weighted_square_sum);
    example.check("b_30", problem.value(intercept)[0] + 10.0 * problem.value(slope)[0]);
    const double variance_30 = analysis.covariance(intercept)(0, 0) +
                               20.0 * analysis.covariance(intercept, slope)(0, 0) +
                               100.0 * analysis.covariance(slope)(0, 0);
    example.check("u_b_30", s0(summary) * std::sqrt(variance_30));
}

// Errors in both coordinates: each x is an unknown that is observed too.
TEST(line, errors_in_both_coordinates_give_the_strict_solution) {
    const Reference example("line-errors-in-both");
    const auto x = numbers(example, "points.x");
    const auto y = numbers(example, "points.y");
    class OnLine final : public ObservationFunction {
    public:
        explicit OnLine(double observed) : observed_(observed) {}
        void evaluate(std::span<const double* const> blocks, double* residual,
                      double* const* jacobians) const override {
            residual[0] = blocks[0][0] * blocks[1][0] + blocks[0][1] - observed_;
            if (jacobians == nullptr) return;
            if (jacobians[0] != nullptr) {
                jacobians[0][0] = blocks[1][0];
                jacobians[0][1] = 1.0;
            }
            if (jacobians[1] != nullptr) jacobians[1][0] = blocks[0][0];
        }

    private:
        double observed_;
    };
    Problem problem;
    const ParameterId line = add_parameter(problem, {3.0, -1.0});
    for (std::size_t i = 0; i < x.size(); ++i) {
        const ParameterId true_x = add_parameter(problem, {x[i]});
        problem.observe_directly(true_x, std::span(&x[i], 1), variance(1.0));
        observe<OnLine>(problem, {line, true_x}, 1.0, y[i]);
    }
    const auto start = problem.values();
    const SolveSummary summary = solve(problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.redundancy, 2);
    const Analysis analysis(problem, summary);
    // Ceres ends where the sum stops falling, some √ε away from the solution.
    expect_agrees_with_ceres(problem, start, summary.weighted_square_sum, analysis,
                             {.unknowns = 2e-8});
    example.check("a", problem.value(line)[0]);
    example.check("b", problem.value(line)[1]);
    example.check("vPv", summary.weighted_square_sum);
    example.check("sd_a", s0(summary) * sd(analysis, line, 0));
    example.check("sd_b", s0(summary) * sd(analysis, line, 1));
}

TEST(line, weighted_affine_transformation_gives_printed_parameters) {
    const Reference example("transform-affine-weighted");
    Problem problem;
    std::vector<ParameterId> p;
    for (int i = 0; i < 6; ++i) p.push_back(add_parameter(problem, {0.0}));
    for (const Row& row : rows(example, "control.rows")) {
        const std::vector<double> c{row.number(1), row.number(2), 1.0};
        observe<Linear>(problem, {p[0], p[1], p[2]}, row.number(5), c, row.number(3));
        observe<Linear>(problem, {p[3], p[4], p[5]}, row.number(6), c, row.number(4));
    }
    const auto start = problem.values();
    const SolveSummary summary = solve(problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    const Analysis analysis(problem, summary);
    expect_agrees_with_ceres(problem, start, summary.weighted_square_sum, analysis);
    example.check("s0", s0(summary));
    const std::string names = "abcdef";
    for (std::size_t i = 0; i < 6; ++i) {
        example.check(std::string(1, names[i]), problem.value(p[i])[0]);
        example.check(std::string("sd_") + names[i], s0(summary) * sd(analysis, p[i]));
    }
}

// The factor of a group is vᵀWv of the group over its redundancy. The example's own rounds use the
// traces of products between groups too; both have the same end.
TEST(line, redundancies_of_two_groups_lead_to_the_example_s_variance_components) {
    const Reference example("variance-components");
    const auto y = numbers(example, "observations.y");
    const auto group = numbers(example, "observations.group");
    std::vector<double> size = numbers(example, "observations.prior_variance");
    for (int round = 1; round <= 60; ++round) {
        Problem problem;
        const ParameterId mean = add_parameter(problem, {0.0});
        for (std::size_t i = 0; i < y.size(); ++i)
            observe<Linear>(problem, {mean}, std::sqrt(size[group[i] == 1.0 ? 0 : 1]),
                            std::vector<double>{1.0}, y[i]);
        const SolveSummary summary = solve(problem);
        ASSERT_EQ(summary.status, SolveStatus::converged);
        const Analysis analysis(problem, summary);
        double square[2] = {0.0, 0.0};
        double redundancy[2] = {0.0, 0.0};
        for (std::size_t i = 0; i < y.size(); ++i) {
            const std::size_t g = group[i] == 1.0 ? 0 : 1;
            const double v = analysis.residual()(static_cast<Eigen::Index>(i));
            square[g] += v * v / size[g];
            redundancy[g] += analysis.redundancy()(static_cast<Eigen::Index>(i));
        }
        for (std::size_t g = 0; g < 2; ++g) {
            const double factor = square[g] / redundancy[g];
            size[g] *= factor;
        }
        if (round == 60) example.check("final.mean", problem.value(mean)[0]);
    }
    example.check("final.variance_1", size[0]);
    example.check("final.variance_2", size[1]);
}

}  // namespace
}  // namespace layproof::adjust::testing
