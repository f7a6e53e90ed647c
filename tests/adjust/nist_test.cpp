// NIST StRD nonlinear regression: certified parameters, standard deviations and sums of squares.

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "adjust/functions.hpp"

namespace layproof::adjust::testing {
namespace {

using Models = std::unique_ptr<const ObservationFunction>;

Models model_of(const std::string& name, double x, double y) {
    using std::exp;
    using std::pow;
    if (name == "bennett5")
        return curve<3>([x](const auto* b) { return b[0] * pow(b[1] + x, -1.0 / b[2]); }, y);
    if (name == "boxbod" || name == "misra1a")
        return curve<2>([x](const auto* b) { return b[0] * (1.0 - exp(-b[1] * x)); }, y);
    if (name == "danwood") return curve<2>([x](const auto* b) { return b[0] * pow(x, b[1]); }, y);
    if (name == "eckerle4")
        return curve<3>(
            [x](const auto* b) {
                const auto u = (x - b[2]) / b[1];
                return b[0] / b[1] * exp(-0.5 * u * u);
            },
            y);
    if (name == "mgh09")
        return curve<4>(
            [x](const auto* b) { return b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]); },
            y);
    if (name == "mgh10")
        return curve<3>([x](const auto* b) { return b[0] * exp(b[1] / (x + b[2])); }, y);
    if (name == "mgh17")
        return curve<5>(
            [x](const auto* b) { return b[0] + b[1] * exp(-x * b[3]) + b[2] * exp(-x * b[4]); }, y);
    if (name == "rat43")
        return curve<4>(
            [x](const auto* b) { return b[0] / pow(1.0 + exp(b[1] - b[2] * x), 1.0 / b[3]); }, y);
    if (name == "thurber")
        return curve<7>(
            [x](const auto* b) {
                return (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) /
                       (1.0 + x * (b[4] + x * (b[5] + x * b[6])));
            },
            y);
    return nullptr;
}

class Nist : public ::testing::TestWithParam<const char*> {
protected:
    Nist() : name_(GetParam()), example_("nist-strd-" + name_) {}

    SolveSummary solve_from(const std::string& start) {
        const std::vector<double> first = numbers(example_, "model." + start);
        const std::vector<double> x = numbers(example_, "data.x");
        const std::vector<double> y = numbers(example_, "data.y");
        EXPECT_EQ(x.size(), y.size());
        unknowns_ = problem_.add_parameter(first);
        for (std::size_t i = 0; i < x.size(); ++i) {
            EXPECT_GE(problem_.add_observation(model_of(name_, x[i], y[i]),
                                               std::span(&unknowns_, 1), variance(1.0)),
                      0);
        }
        // The sets have unknowns between 1e-9 and 1e4 and nearly dependent columns: no absolute
        // step, and rank judged near rounding.
        SolveOptions options;
        options.max_iterations = 1000;
        options.step_tolerance = 0.0;
        options.rank_tolerance = 1e-15;
        return solve(problem_, options);
    }

    void expect_certified(const SolveSummary& summary) {
        ASSERT_EQ(summary.status, SolveStatus::converged) << "iterations " << summary.iterations;
        EXPECT_EQ(summary.redundancy, example_.number("model.dof"));
        RecordProperty("iterations", summary.iterations);
        example_.check("rss", summary.weighted_square_sum);
        example_.check("residual_sd", s0(summary));
        const Analysis analysis(problem_, summary);
        const auto b = problem_.value(unknowns_);
        for (std::size_t i = 0; i < b.size(); ++i) {
            const std::string parameter = "b" + std::to_string(i + 1);
            example_.check(parameter, b[i]);
            example_.check("sd_" + parameter,
                           s0(summary) * sd(analysis, unknowns_, static_cast<Eigen::Index>(i)));
        }
        // The scaled normal matrices have condition numbers up to 1e13.
        EXPECT_NEAR(analysis.redundancy().sum(), summary.redundancy, 1e-3);
    }

    Problem problem_;
    ParameterId unknowns_;
    std::string name_;
    Reference example_;
};

TEST_P(Nist, start_2_gives_certified_values) {
    expect_certified(solve_from("start_2"));
}

// Two far starts are not mastered, and the solver says so: from boxbod's the first steps reach the
// plateau b2 → ∞, where b2 has no influence any more; in mgh10's bent valley damped steps stay
// short.
TEST_P(Nist, start_1_gives_certified_values_or_says_that_it_does_not) {
    const SolveSummary summary = solve_from("start_1");
    if (name_ == "boxbod") {
        EXPECT_NE(summary.status, SolveStatus::converged);
    } else if (name_ == "mgh10") {
        EXPECT_EQ(summary.status, SolveStatus::not_converged);
    } else {
        expect_certified(summary);
    }
}

INSTANTIATE_TEST_SUITE_P(Sets, Nist,
                         ::testing::Values("misra1a", "danwood", "mgh17", "mgh09", "mgh10",
                                           "thurber", "boxbod", "eckerle4", "rat43", "bennett5"),
                         [](const auto& set) { return std::string(set.param); });

}  // namespace
}  // namespace layproof::adjust::testing
