// The chain against one big least-squares solution of the same day (adjust), and against the batch
// form of the evidence.

#include <gtest/gtest.h>

#include <Eigen/Cholesky>
#include <cmath>
#include <memory>
#include <vector>

#include "adjust/solve.hpp"
#include "watch/day_simulator.hpp"
#include "watch/state_internal.hpp"

namespace layproof::watch {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Σ A_k x_k − l.
class Linear final : public adjust::ObservationFunction {
public:
    Linear(std::vector<MatrixXd> by, VectorXd value)
        : by_(std::move(by)), value_(std::move(value)) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        Eigen::Map<VectorXd> r(residual, value_.size());
        r = -value_;
        for (std::size_t k = 0; k < by_.size(); ++k) {
            r += by_[k] * Eigen::Map<const VectorXd>(blocks[k], by_[k].cols());
            if (jacobians != nullptr && jacobians[k] != nullptr) {
                using RowMajor =
                    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
                Eigen::Map<RowMajor>(jacobians[k], by_[k].rows(), by_[k].cols()) = by_[k];
            }
        }
    }

private:
    std::vector<MatrixXd> by_;
    VectorXd value_;
};

adjust::ParameterId unknown(adjust::Problem& problem, int size) {
    const std::vector<double> zero(static_cast<std::size_t>(size), 0.0);
    return problem.add_parameter(zero);
}

/// A simulated day with one belief, a few re-sights, and nothing but pose and marks in it.
Day plain_day(std::uint64_t seed) {
    testing::DayPlan plan;
    plan.hours = 3.0;
    plan.points_per_hour = 5;
    plan.bump = {{0.45, Eigen::Vector4d(0.006, -0.004, 1e-4, 0.002)}};
    testing::SimulatedDay simulated(seed, plan);
    Day day = simulated.day;
    for (auto& belief : day.start.beliefs) {
        // Only the pose and the marks: the other states without variance.
        belief.mean.segment<6>(4).setZero();
        belief.covariance.middleRows<6>(4).setZero();
        belief.covariance.middleCols<6>(4).setZero();
    }
    day.start.beliefs.resize(1);
    day.start.beliefs[0].weight = 1.0;
    double now = simulated.end_s();
    for (const int p : {3, 8, 12, 3}) {  // one of them twice
        now += 60.0;
        day.resights.push_back(resight_of(
            simulated.nominal, day.points[static_cast<std::size_t>(p)].target, p,
            simulated.instrument(), 1.5, now, simulated.sight_point(static_cast<std::size_t>(p))));
    }
    day.end_time_s = now;
    return day;
}

WatchOptions plain_options() {
    WatchOptions options;
    options.sizes = testing::main_table();
    options.drift = drift_rate(Ground::soil);
    return options;
}

/// All events as unknowns; compares every pose and every re-sighted point of the scenario.
void compare(const Day& day, const WatchOptions& options, const internal::Timeline& timeline,
             const internal::Scenario& scenario, bool with_layings) {
    const int marks = static_cast<int>(day.start.marks.size());
    adjust::Problem problem;
    const int first_size = 4 + 3 * marks;
    ASSERT_LE(first_size, adjust::Problem::kMaxParameterSize);
    const auto first = unknown(problem, first_size);
    // The start, whitened so that its rows are independent.
    const auto& belief = day.start.beliefs.front();
    std::vector<int> pick{0, 1, 2, 3};
    for (int i = 0; i < 3 * marks; ++i) pick.push_back(station::kStateSize + i);
    MatrixXd p(first_size, first_size);
    VectorXd mean(first_size);
    for (int i = 0; i < first_size; ++i) {
        mean[i] = belief.mean[pick[static_cast<std::size_t>(i)]];
        for (int j = 0; j < first_size; ++j)
            p(i, j) = belief.covariance(pick[static_cast<std::size_t>(i)],
                                        pick[static_cast<std::size_t>(j)]);
    }
    const MatrixXd root = p.llt().matrixL();
    const MatrixXd white =
        root.triangularView<Eigen::Lower>().solve(MatrixXd::Identity(first_size, first_size));
    for (int at = 0; at < first_size; at += 8) {
        const int n = std::min(8, first_size - at);
        ASSERT_GE(problem.add_observation(
                      std::make_unique<Linear>(std::vector<MatrixXd>{white.middleRows(at, n)},
                                               white.middleRows(at, n) * mean),
                      std::vector{first}, MatrixXd::Identity(n, n)),
                  0);
    }
    const Eigen::Vector4d rate = variance_per_second(options.drift);
    std::vector<adjust::ParameterId> pose(timeline.events.size());
    std::vector<adjust::ParameterId> point(day.points.size());
    const auto to_pose = [&](bool is_first) {
        MatrixXd out = MatrixXd::Zero(4, is_first ? first_size : 4);
        out.leftCols<4>().setIdentity();
        return out;
    };
    std::size_t before = 0;
    pose[0] = first;
    for (std::size_t e = 1; e < timeline.events.size(); ++e) {
        const auto& entry = timeline.events[e];
        if (entry.moment < 0 && !(with_layings && entry.kind == EventKind::laying)) continue;
        Eigen::Vector4d q = rate * (entry.time_s - timeline.events[before].time_s);
        if (entry.moment > 0) q += scenario.bump[static_cast<std::size_t>(entry.moment - 1)];
        if (q.isZero(0.0)) {  // two events at one time
            pose[e] = pose[before];
            continue;
        }
        ASSERT_GT(q.minCoeff(), 0.0);
        pose[e] = unknown(problem, 4);
        ASSERT_GE(problem.add_observation(
                      std::make_unique<Linear>(
                          std::vector<MatrixXd>{MatrixXd::Identity(4, 4), -to_pose(before == 0)},
                          VectorXd::Zero(4)),
                      std::vector{pose[e], pose[before]}, MatrixXd(q.asDiagonal())),
                  0);
        before = e;
    }
    for (std::size_t i = 0; i < day.checks.size(); ++i) {
        const Check& c = day.checks[i];
        const auto e = static_cast<std::size_t>(timeline.event_of_check[i]);
        MatrixXd by_first = MatrixXd::Zero(c.rows, first_size);
        by_first.middleCols<3>(4 + 3 * c.mark_index) = c.by_mark.topRows(c.rows);
        ASSERT_GE(problem.add_observation(
                      std::make_unique<Linear>(
                          std::vector<MatrixXd>{by_first, c.by_state.topRows(c.rows).leftCols<4>()},
                          c.misfit_m.head(c.rows)),
                      std::vector{first, pose[e]}, c.own.topLeftCorner(c.rows, c.rows)),
                  0);
    }
    for (std::size_t i = 0; i < day.points.size(); ++i) {
        if (!timeline.resighted[i]) continue;
        point[i] = unknown(problem, 3);
        const auto e = static_cast<std::size_t>(timeline.event_of_point[i]);
        ASSERT_GE(
            problem.add_observation(std::make_unique<Linear>(
                                        std::vector<MatrixXd>{MatrixXd::Identity(3, 3),
                                                              day.points[i].by_state.leftCols<4>()},
                                        day.points[i].deviation_m),
                                    std::vector{point[i], pose[e]}, day.points[i].own),
            0);
    }
    for (std::size_t i = 0; i < day.resights.size(); ++i) {
        const Resight& r = day.resights[i];
        const auto e = static_cast<std::size_t>(timeline.event_of_resight[i]);
        ASSERT_GE(problem.add_observation(
                      std::make_unique<Linear>(
                          std::vector<MatrixXd>{MatrixXd::Identity(3, 3), r.by_state.leftCols<4>()},
                          r.deviation_m),
                      std::vector{point[static_cast<std::size_t>(r.point)], pose[e]}, r.own),
                  0);
    }
    const auto summary = adjust::solve(problem);
    ASSERT_EQ(summary.status, adjust::SolveStatus::converged);

    int compared = 0;
    for (std::size_t e = 0; e < timeline.events.size(); ++e) {
        if (pose[e].index < 0) continue;
        const auto& entry = timeline.events[e];
        Eigen::Vector4d here;
        if (entry.moment >= 0) {
            here = scenario.chain.smoothed[static_cast<std::size_t>(entry.moment)].mean.head<4>();
        } else {
            const auto bridge =
                internal::bridge_of(scenario, static_cast<std::size_t>(entry.stretch));
            const auto parts = internal::parts_at(scenario, timeline, rate, bridge, entry);
            ASSERT_EQ(parts.size(), 1U);
            here = parts.front().mean.head<4>();
        }
        const auto value = problem.value(pose[e]);
        for (int k = 0; k < 4; ++k) EXPECT_NEAR(here[k], value[static_cast<std::size_t>(k)], 1e-9);
        ++compared;
    }
    EXPECT_GT(compared, 8);
    for (std::size_t i = 0; i < day.points.size(); ++i) {
        if (point[i].index < 0) continue;
        const auto value = problem.value(point[i]);
        const int at = scenario.place_of_point[i];
        for (int k = 0; k < 3; ++k)
            EXPECT_NEAR(scenario.chain.smoothed.back().mean[at + k],
                        value[static_cast<std::size_t>(k)], 1e-9);
    }
}

TEST(day_chain, quiet_day_agrees_with_one_adjustment_of_all_events) {
    for (const std::uint64_t seed : {11U, 12U, 13U}) {
        const Day day = plain_day(seed);
        const WatchOptions options = plain_options();
        const auto timeline = internal::make_timeline(day, options.odds);
        const auto evidence = internal::weigh(day, options, timeline);
        const auto scenario =
            internal::make_scenario(day, options, timeline, evidence, {0, -1, -1, -1, -1, 1, 0, 1});
        compare(day, options, timeline, scenario, true);
    }
}

TEST(day_chain, day_with_a_bump_agrees_with_one_adjustment) {
    const Day day = plain_day(21);
    const WatchOptions options = plain_options();
    const auto timeline = internal::make_timeline(day, options.odds);
    const auto evidence = internal::weigh(day, options, timeline);
    int tried = 0;
    for (std::size_t p = 0; p < evidence.patterns.size(); ++p) {
        if (evidence.patterns[p].change != Change::bump || evidence.patterns[p].first_shown < 0)
            continue;
        internal::Member member;
        member.pattern = static_cast<int>(p);
        member.size = 0;
        const auto scenario = internal::make_scenario(day, options, timeline, evidence, member);
        compare(day, options, timeline, scenario, false);
        ++tried;
    }
    EXPECT_GE(tried, 5);
}

TEST(day_chain, likelihood_of_the_chain_agrees_with_the_closed_form_for_every_explanation) {
    const Day day = plain_day(31);
    WatchOptions options = plain_options();
    const auto timeline = internal::make_timeline(day, options.odds);
    const auto evidence = internal::weigh(day, options, timeline);
    const auto nothing =
        internal::make_scenario(day, options, timeline, evidence, {0, -1, -1, -1, -1, 1, 0, 1});
    int pairs = 0;
    int singles = 0;
    for (const auto& member : evidence.members) {
        const bool is_pair = member.second >= 0;
        if ((is_pair ? pairs : singles) > 60) continue;
        (is_pair ? pairs : singles) += 1;
        const auto scenario = internal::make_scenario(day, options, timeline, evidence, member);
        EXPECT_NEAR(scenario.chain.log_likelihood - nothing.chain.log_likelihood,
                    member.log_evidence, 1e-6 * (1.0 + std::abs(member.log_evidence)))
            << "patterns " << member.pattern << " " << member.second;
    }
    EXPECT_GT(pairs, 5);
    EXPECT_GT(singles, 2);
}

}  // namespace
}  // namespace layproof::watch
