#include "adjust/solve.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "adjust/functions.hpp"
#include "adjust/star.hpp"

namespace layproof::adjust::testing {
namespace {

// Two ways of rounding: coordinates of 100 m and 3 iterations.
constexpr double kSame = 1e-11;

TEST(solve, star_agrees_with_second_solver) {
    for (const double offset : {0.0, 1e4}) {
        Star star = make_star({.offset = offset});
        const auto start = star.problem.values();
        const SolveSummary summary = solve(star.problem);
        ASSERT_EQ(summary.status, SolveStatus::converged);
        EXPECT_LE(summary.iterations, 4);
        EXPECT_EQ(summary.redundancy, 44);
        // At 1e4 the sum is rounded at 1e-8, and Ceres ends where it stops falling: 1e-5 standard
        // deviations.
        expect_agrees_with_ceres(star.problem, start, summary.weighted_square_sum,
                                 Analysis(star.problem, summary),
                                 {.unknowns = offset == 0.0 ? 1e-9 : 1e-8});
    }
}

TEST(solve, perfect_observations_give_the_truth) {
    Star star = make_star({.noisy = false});
    const SolveSummary summary = solve(star.problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_LT(summary.weighted_square_sum, 1e-12);
    const double truth[] = {0.0, 0.0, 0.0, 0.3};
    for (std::size_t i = 0; i < 4; ++i)
        EXPECT_NEAR(star.problem.value(star.centre)[i], truth[i], kSame);
}

TEST(solve, coordinates_of_a_million_give_the_same_solution) {
    Star near = make_star();
    Star far = make_star({.offset = 1e6});
    const SolveSummary a = solve(near.problem);
    const SolveSummary b = solve(far.problem);
    ASSERT_EQ(a.status, SolveStatus::converged);
    ASSERT_EQ(b.status, SolveStatus::converged);
    EXPECT_LE(b.iterations, a.iterations + 1);
    // The observations are made from coordinates rounded at 1e-10 m: 1e-5 of the smallest standard
    // deviation (1e-5 rad at 20 m) is 2e-9 m.
    EXPECT_NEAR(a.weighted_square_sum, b.weighted_square_sum, 1e-4);
    for (std::size_t i = 0; i < 2; ++i)
        EXPECT_NEAR(near.problem.value(near.centre)[i] + 1e6, far.problem.value(far.centre)[i],
                    2e-9);
}

TEST(solve, perfect_observations_at_a_million_still_end) {
    Star star = make_star({.offset = 1e6, .noisy = false});
    const SolveSummary summary = solve(star.problem);
    EXPECT_EQ(summary.status, SolveStatus::converged);
    EXPECT_LE(summary.iterations, 8);
    EXPECT_LT(summary.weighted_square_sum, 1e-6);
}

TEST(solve, order_of_blocks_and_observations_does_not_matter) {
    Star forward = make_star();
    Star backward = make_star({.reverse = true});
    const SolveSummary a = solve(forward.problem);
    const SolveSummary b = solve(backward.problem);
    ASSERT_EQ(a.status, SolveStatus::converged);
    ASSERT_EQ(b.status, SolveStatus::converged);
    EXPECT_NEAR(a.weighted_square_sum, b.weighted_square_sum, 1e-9);
    const Analysis first(forward.problem, a);
    const Analysis second(backward.problem, b);
    for (std::size_t i = 0; i < 4; ++i)
        EXPECT_NEAR(forward.problem.value(forward.centre)[i],
                    backward.problem.value(backward.centre)[i], kSame);
    for (std::size_t k = 0; k < forward.points.size(); ++k) {
        const Eigen::MatrixXd p = first.covariance(forward.centre, forward.points[k]);
        const Eigen::MatrixXd q = second.covariance(backward.centre, backward.points[k]);
        EXPECT_LT((p - q).norm(), 1e-9 * p.norm());
        const auto row = [](const Star& star, std::size_t block) {
            return star.problem.observations()[static_cast<std::size_t>(star.polar[block])]
                .first_row;
        };
        for (int i = 0; i < 3; ++i)
            EXPECT_NEAR(first.standardised()(row(forward, 2 * k) + i),
                        second.standardised()(row(backward, 2 * k) + i), 1e-7);
    }
}

TEST(solve, every_observation_doubled_halves_the_variance) {
    const auto build = [](int repeats) {
        return make_star({.repeats = repeats, .point_sd = 0.0, .noisy = false});
    };
    Star once = build(1);
    Star twice = build(2);
    const SolveSummary a = solve(once.problem);
    const SolveSummary b = solve(twice.problem);
    const Eigen::MatrixXd p = Analysis(once.problem, a).covariance(once.centre);
    const Eigen::MatrixXd q = Analysis(twice.problem, b).covariance(twice.centre);
    EXPECT_LT((p - 2.0 * q).norm(), 1e-9 * p.norm());
}

TEST(solve, points_with_tiny_deviation_are_the_limit_of_held_points) {
    Star held = make_star({.point_sd = 0.0});
    const SolveSummary a = solve(held.problem);
    ASSERT_EQ(a.status, SolveStatus::converged);
    const Analysis exact(held.problem, a);
    for (const double sd_m : {1e-5, 1e-6, 1e-7}) {
        Star star = make_star({.point_sd = sd_m});
        const SolveSummary b = solve(star.problem);
        ASSERT_EQ(b.status, SolveStatus::converged);
        EXPECT_EQ(b.redundancy, a.redundancy);
        const Analysis limit(star.problem, b);
        const Eigen::MatrixXd p = exact.covariance(held.centre);
        const Eigen::MatrixXd q = limit.covariance(star.centre);
        // The points' share of the variance; the nearest is seen with 2e-4 m across.
        const double share = 20.0 * (sd_m / 1e-4) * (sd_m / 1e-4);
        EXPECT_LT((p - q).norm(), std::max(share, 1e-8) * p.norm()) << sd_m;
        EXPECT_NEAR(limit.redundancy().sum(), b.redundancy, 1e-6);
    }
}

TEST(solve, missing_datum_is_named_and_leaves_the_values) {
    Star star = make_star({.observe_points = false});
    const auto before = star.problem.values();
    const SolveSummary summary = solve(star.problem);
    EXPECT_EQ(summary.status, SolveStatus::rank_deficient);
    EXPECT_EQ(star.problem.values(), before);
    ASSERT_EQ(summary.weakest.size(), 28);
    EXPECT_NEAR(summary.weakest.norm(), 1.0, 1e-12);
    // The open directions are shifts and a turn: all heights move alike, so do orientation and
    // turn.
    for (int k = 0; k < 8; ++k)
        EXPECT_NEAR(summary.weakest(4 + 3 * k + 2), summary.weakest(2), 1e-6);
}

TEST(solve, unknown_without_observation_is_the_open_direction) {
    Star star = make_star();
    add_parameter(star.problem, {1.0, 2.0});
    const SolveSummary summary = solve(star.problem);
    EXPECT_EQ(summary.status, SolveStatus::rank_deficient);
    EXPECT_NEAR(summary.weakest.tail(2).norm(), 1.0, 1e-9);
}

TEST(solve, inner_datum_removes_shifts_and_turn_with_smallest_corrections) {
    Star star = make_star({.observe_points = false});
    const auto before = star.problem.values();
    star.problem.set_inner_datum(star.points);
    const SolveSummary summary = solve(star.problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.defect, 4);
    EXPECT_EQ(summary.redundancy, 48 - 28 + 4);
    // Smallest corrections: orthogonal to three shifts and to a turn about the vertical.
    double shift[3] = {0.0, 0.0, 0.0};
    double turn = 0.0;
    for (const ParameterId id : star.points) {
        const auto offset = static_cast<std::size_t>(
            star.problem.parameters()[static_cast<std::size_t>(id.index)].offset);
        const double* now = &star.problem.values()[offset];
        for (std::size_t i = 0; i < 3; ++i) shift[i] += now[i] - before[offset + i];
        turn += now[1] * (now[0] - before[offset]) - now[0] * (now[1] - before[offset + 1]);
    }
    for (const double component : shift) EXPECT_NEAR(component, 0.0, 1e-10);
    EXPECT_NEAR(turn, 0.0, 1e-8);
    const Analysis analysis(star.problem, summary);
    EXPECT_NEAR(analysis.redundancy().sum(), 24.0, 1e-8);
}

TEST(solve, inner_datum_that_cannot_fix_the_defect_is_rank_deficient) {
    Star star = make_star({.observe_points = false});
    star.problem.set_inner_datum({star.points[0]});  // a turn about this point stays open
    EXPECT_EQ(solve(star.problem).status, SolveStatus::rank_deficient);
}

TEST(solve, values_that_are_not_finite_are_not_finite) {
    for (const double bad : {kNan, kInfinity, -kInfinity}) {
        Star star = make_star();
        star.problem.values()[1] = bad;
        const auto before = star.problem.values();
        const SolveSummary summary = solve(star.problem);
        EXPECT_EQ(summary.status, SolveStatus::not_finite);
        EXPECT_EQ(summary.weighted_square_sum, 0.0);
        EXPECT_EQ(std::isnan(star.problem.values()[1]), std::isnan(before[1]));
        EXPECT_EQ(star.problem.values()[0], before[0]);

        Star observed = make_star();
        const double value[] = {0.0, bad, 0.0};
        observed.problem.observe_directly(observed.points[0], value, Eigen::Matrix3d::Identity());
        EXPECT_EQ(solve(observed.problem).status, SolveStatus::not_finite);
    }
}

TEST(solve, centre_on_top_of_a_point_is_not_finite) {
    Star star = make_star();
    for (std::size_t i = 0; i < 3; ++i)
        star.problem.values()[i] = star.problem.value(star.points[0])[i];
    EXPECT_EQ(solve(star.problem).status, SolveStatus::not_finite);
}

TEST(solve, nothing_to_do_is_converged) {
    Problem empty;
    EXPECT_EQ(solve(empty).status, SolveStatus::converged);

    Problem held;
    const ParameterId x = add_parameter(held, {2.0});
    held.hold(x);
    observe<Linear>(held, {x}, 0.5, std::vector<double>{1.0}, 1.0);
    const SolveSummary summary = solve(held);
    EXPECT_EQ(summary.status, SolveStatus::converged);
    EXPECT_EQ(summary.redundancy, 1);
    EXPECT_DOUBLE_EQ(summary.weighted_square_sum, 4.0);
    const Analysis analysis(held, summary);
    EXPECT_DOUBLE_EQ(analysis.redundancy()(0), 1.0);
    EXPECT_DOUBLE_EQ(analysis.standardised()(0), 2.0);
    EXPECT_EQ(analysis.unknown_index(x), -1);
}

TEST(solve, unknowns_without_any_observation_are_rank_deficient) {
    Problem problem;
    add_parameter(problem, {2.0, 3.0});
    const SolveSummary summary = solve(problem);
    EXPECT_EQ(summary.status, SolveStatus::rank_deficient);
    EXPECT_EQ(summary.weakest.size(), 2);

    problem.set_inner_datum({{0}});
    const SolveSummary free = solve(problem);
    EXPECT_EQ(free.status, SolveStatus::converged);
    EXPECT_EQ(free.defect, 2);
    EXPECT_EQ(free.redundancy, 0);
}

TEST(solve, too_few_iterations_say_so_and_keep_the_best_values) {
    Star star = make_star();
    SolveOptions options;
    options.max_iterations = 1;
    Star untouched = make_star();
    const SolveSummary summary = solve(star.problem, options);
    EXPECT_EQ(summary.status, SolveStatus::not_converged);
    EXPECT_NE(star.problem.values(), untouched.problem.values());
    const SolveSummary rest = solve(star.problem);
    EXPECT_EQ(rest.status, SolveStatus::converged);
    EXPECT_LE(rest.weighted_square_sum, summary.weighted_square_sum + 1e-9);
    options.max_iterations = 0;
    EXPECT_EQ(solve(untouched.problem, options).status, SolveStatus::not_converged);
}

TEST(solve, far_start_needs_step_control_and_gets_there) {
    Star star = make_star();
    const SolveSummary near = solve(star.problem);
    Star far = make_star();
    far.problem.values()[0] += 25.0;
    far.problem.values()[1] -= 30.0;
    far.problem.values()[2] += 8.0;
    far.problem.values()[3] += 0.8;
    const SolveSummary summary = solve(far.problem);
    ASSERT_EQ(summary.status, SolveStatus::converged);
    EXPECT_NEAR(summary.weighted_square_sum, near.weighted_square_sum, 1e-8);
}

TEST(solve, unlike_units_of_unknowns_do_not_matter) {
    // y = a + b·x with b in a unit 1e9 times smaller.
    for (const double unit : {1.0, 1e-9, 1e9}) {
        Problem problem;
        const ParameterId a = add_parameter(problem, {0.0});
        const ParameterId b = add_parameter(problem, {0.0});
        for (const double x : {0.0, 1.0, 2.0, 3.0})
            observe<Linear>(problem, {a, b}, 1e-3, std::vector<double>{1.0, x * unit},
                            2.0 + 3.0 * x);
        const SolveSummary summary = solve(problem);
        ASSERT_EQ(summary.status, SolveStatus::converged);
        EXPECT_NEAR(problem.value(b)[0] * unit, 3.0, 1e-12);
    }
}

}  // namespace
}  // namespace layproof::adjust::testing
