// Published level nets: linear problems with one number per block.

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <map>
#include <string>

#include "adjust/functions.hpp"
#include "adjust/rejection.hpp"
#include "adjust/sparse_bridge.hpp"
#include "adjust/tests.hpp"

namespace layproof::adjust::testing {
namespace {

constexpr double kMillimetre = 1e-3;

struct LevelNet {
    Problem problem;
    std::map<std::string, ParameterId> heights;
    std::vector<std::string> pairs;  // "12" for a difference from 1 to 2
    std::vector<double> start;

    ParameterId height(const std::string& name, double value = 0.0) {
        const auto found = heights.find(name);
        if (found != heights.end()) return found->second;
        return heights[name] = add_parameter(problem, {value});
    }
    double value(const std::string& name) { return problem.value(heights.at(name))[0]; }

    void add(const Row& row, double sd) {
        const ParameterId from = height(row.text(0));
        const ParameterId to = height(row.text(1));
        observe<Linear>(problem, {from, to}, sd, std::vector<double>{-1.0, 1.0}, row.number(2));
        pairs.push_back(row.text(0) + row.text(1));
    }

    /// Solves, expects agreement with the second solver.
    SolveSummary run() {
        start = problem.values();
        SolveSummary summary = solve(problem);
        EXPECT_EQ(summary.status, SolveStatus::converged);
        expect_agrees_with_ceres(problem, start, summary.weighted_square_sum,
                                 Analysis(problem, summary));
        expect_sparse_agrees(problem, start, summary, Analysis(problem, summary));
        return summary;
    }
};

TEST(level_net, data_snooping_example_gives_printed_residuals_tests_and_reliability) {
    const Reference example("level-net-data-snooping");
    LevelNet net;
    net.problem.hold(net.height("4", example.number("datum.height_m")));
    const double sigma_m = example.number("observations.sigma_mm_per_km") * kMillimetre;
    for (const Row& row : rows(example, "observations.rows")) net.add(row, sigma_m * row.number(3));
    const SolveSummary summary = net.run();
    const Analysis analysis(net.problem, summary);

    example.check("vPv", summary.weighted_square_sum);
    example.check("s0", s0(summary));
    EXPECT_EQ(summary.redundancy, 3);
    for (const char* name : {"1", "2", "3"}) {
        example.check(std::string("H") + name, net.value(name));
        example.check(std::string("sd_H") + name,
                      s0(summary) * sd(analysis, net.heights.at(name)) / kMillimetre);
    }
    for (int i = 0; i < 6; ++i) {
        const std::string pair = net.pairs[static_cast<std::size_t>(i)];
        example.check("v_" + pair, analysis.residual()(i) / kMillimetre);
        example.check("t_" + pair, std::abs(analysis.tau(i)));
        example.check("U_" + pair, std::abs(analysis.standardised()(i)));
        example.check("r_" + pair, analysis.redundancy()(i));
        example.check("redundancy." + pair, analysis.redundancy()(i));
        example.check("w." + pair, analysis.standardised()(i));
        // The example's δ0 is z(1 − α/2) + z(power), without the far tail (below 1e-9 here).
        example.check("mdb." + pair, analysis.detectable()(i) / kMillimetre);
        example.check("external_max." + pair,
                      analysis.external_effect(i).cwiseAbs().maxCoeff() / kMillimetre);
    }
    example.check("global_test_quantile_95", chi_square_quantile(0.95, 3));
}

TEST(level_net, weighted_example_gives_printed_heights_and_residuals) {
    const Reference example("level-net-weighted");
    LevelNet net;
    net.problem.hold(net.height("1", example.number("datum.height_m")));
    for (const Row& row : rows(example, "observations.rows")) net.add(row, row.number(3));
    const SolveSummary summary = net.run();
    const Analysis analysis(net.problem, summary);
    example.check("s0", s0(summary));
    example.check("vPv", summary.weighted_square_sum);
    example.check("dof", summary.redundancy);
    for (const char* name : {"2", "3", "4"}) {
        example.check(std::string("H") + name, net.value(name));
        example.check(std::string("sd_H") + name,
                      s0(summary) * sd(analysis, net.heights.at(name)) / kMillimetre);
    }
    for (int i = 0; i < 6; ++i) {
        example.check("v_" + net.pairs[static_cast<std::size_t>(i)],
                      analysis.residual()(i) / kMillimetre);
    }
}

TEST(level_net, correlated_datum_gives_printed_heights) {
    const Reference example("level-net-correlated-datum");
    const auto datum = rows(example, "datum.rows");
    // A datum with a covariance across points is one parameter block; functions pick a number.
    class Difference final : public ObservationFunction {
    public:
        Difference(std::size_t from, double observed) : from_(from), observed_(observed) {}
        void evaluate(std::span<const double* const> blocks, double* residual,
                      double* const* jacobians) const override {
            residual[0] = blocks[1][0] - blocks[0][from_] - observed_;
            if (jacobians == nullptr) return;
            if (jacobians[0] != nullptr) {
                jacobians[0][0] = from_ == 0 ? -1.0 : 0.0;
                jacobians[0][1] = from_ == 1 ? -1.0 : 0.0;
            }
            if (jacobians[1] != nullptr) jacobians[1][0] = 1.0;
        }

    private:
        std::size_t from_;
        double observed_;
    };
    LevelNet net;
    Problem& problem = net.problem;
    const double heights[] = {datum[0].number(1), datum[1].number(1)};
    const ParameterId block = problem.add_parameter(heights);
    Eigen::Matrix2d covariance;
    const auto& cells = *example.table().at_path("input.datum.covariance_m2").as_array();
    for (std::size_t i = 0; i < 2; ++i) {
        const std::vector<double> row =
            numbers(example, "datum.covariance_m2[" + std::to_string(i) + "]");
        ASSERT_EQ(row.size(), 2U);
        for (std::size_t j = 0; j < 2; ++j)
            covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = row[j];
    }
    ASSERT_EQ(cells.size(), 2U);
    ASSERT_EQ(problem.observe_directly(block, heights, covariance), 0);
    for (const Row& row : rows(example, "observations.rows")) {
        const double sd_m = std::sqrt(row.number(3) / 1000.0);
        net.pairs.push_back(row.text(0) + row.text(1));
        if (row.text(0) == "2" || row.text(0) == "3") {
            observe<Difference>(problem, {block, net.height(row.text(1))}, sd_m,
                                row.text(0) == "2" ? 0U : 1U, row.number(2));
        } else {
            observe<Linear>(problem, {net.height(row.text(0)), net.height(row.text(1))}, sd_m,
                            std::vector<double>{-1.0, 1.0}, row.number(2));
        }
    }
    const SolveSummary summary = net.run();
    const Analysis analysis(problem, summary);
    example.check("dof", summary.redundancy);
    example.check("s0", s0(summary));
    for (Eigen::Index i = 0; i < 2; ++i) {
        const std::string name = i == 0 ? "2" : "3";
        example.check("H" + name, problem.value(block)[static_cast<std::size_t>(i)]);
        example.check("sd_H" + name, s0(summary) * sd(analysis, block, i) / kMillimetre);
    }
    for (const char* name : {"6", "7", "8"}) {
        example.check(std::string("H") + name, net.value(name));
        example.check(std::string("sd_H") + name,
                      s0(summary) * sd(analysis, net.heights.at(name)) / kMillimetre);
    }
    for (int i = 0; i < 5; ++i) {
        example.check("v_" + net.pairs[static_cast<std::size_t>(i)],
                      analysis.residual()(i + 2) / kMillimetre);
    }
}

TEST(level_net, two_blunders_give_published_heights_and_tests) {
    const Reference example("level-net-two-blunders");
    const auto build = [&](LevelNet& net, double error_1_mm, double error_7_mm) {
        net.problem.hold(net.height("9", example.number("datum.height_mm")));
        int i = 0;
        for (const Row& row : rows(example, "observations.rows")) {
            ++i;
            const double error = i == 1 ? error_1_mm : i == 7 ? error_7_mm : 0.0;
            observe<Linear>(net.problem, {net.height(row.text(0)), net.height(row.text(1))},
                            1.0 / std::sqrt(row.number(3)), std::vector<double>{-1.0, 1.0},
                            row.number(2) - error);
        }
    };
    LevelNet with;
    build(with, 0.0, 0.0);
    const SolveSummary summary = with.run();
    const Analysis analysis(with.problem, summary);
    example.check("least_squares.vPv", summary.weighted_square_sum);
    for (const char* name : {"6", "8", "10", "11"})
        example.check(std::string("least_squares.H") + name, with.value(name));
    for (int i = 0; i < 9; ++i) {
        const std::string number = std::to_string(i + 1);
        example.check("least_squares.w_obs" + number, analysis.standardised()(i));
        example.check("least_squares.redundancy_obs" + number, analysis.redundancy()(i));
    }
    EXPECT_FALSE(global_test(summary.weighted_square_sum, summary.redundancy).passes);

    // Stepwise rejection names both and nothing else, the larger first.
    SparseCopy copy(with.problem);
    SparseSolver solver(copy.problem);
    const RejectionSummary left =
        reject_stepwise(copy.problem, solver, {},
                        [](const RejectionCandidate&) { return RejectionDecision::leave_out; });
    EXPECT_EQ(left.left_out,
              (std::vector<ObservationId>{copy.observations[6], copy.observations[0]}));
    EXPECT_TRUE(global_test(left.solution.weighted_square_sum, left.solution.redundancy).passes);

    LevelNet clean;
    build(clean, 100.0, -100.0);
    clean.run();
    for (const char* name : {"6", "8", "10", "11"})
        example.check(std::string("clean.H") + name, clean.value(name));
}

}  // namespace
}  // namespace layproof::adjust::testing
