#include "watch/watch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <limits>

#include "watch/day_simulator.hpp"
#include "watch/next_check.hpp"
#include "watch/resight.hpp"

namespace layproof::watch {
namespace {

using testing::DayPlan;
using testing::SimulatedDay;

double total(const DayReport& report) {
    double out = report.others;
    for (const auto& group : report.hypotheses) out += group.probability;
    return out;
}

void expect_finite(const DayReport& report) {
    EXPECT_NEAR(total(report), 1.0, 1e-9);
    for (const auto& event : report.events) {
        EXPECT_TRUE(event.pose.allFinite());
        EXPECT_TRUE(event.sd.allFinite());
        EXPECT_GE(event.sd.minCoeff(), 0.0);
        EXPECT_TRUE(std::isfinite(event.statistic));
    }
    for (const auto& point : report.points) {
        EXPECT_TRUE(point.deviation_m.allFinite());
        EXPECT_TRUE(point.covariance.allFinite());
        EXPECT_TRUE(point.displacement_m.allFinite());
        EXPECT_GE(point.probability, 0.0);
        EXPECT_LE(point.probability, 1.0);
        EXPECT_LE(point.probability_moved, 1.0);
    }
    for (const auto& move : report.moves) EXPECT_TRUE(move.shift.allFinite());
    EXPECT_EQ(report.proven + report.in_doubt + report.failing,
              static_cast<int>(report.points.size()));
}

TEST(watch, quiet_day_most_points_are_proven_and_nothing_wrong_leads) {
    const SimulatedDay sim(5, {});
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    EXPECT_TRUE(report->hypotheses.front().members.front().changes.empty());
    EXPECT_GT(report->proven, 40);
    EXPECT_EQ(report->events.front().kind, EventKind::setup_finished);
    EXPECT_EQ(report->events.back().kind, EventKind::end_of_day);
    EXPECT_EQ(report->events.size(), sim.day.checks.size() + sim.day.points.size() + 2);
}

TEST(watch, bump_is_named_with_its_time_and_size_and_spares_the_points_before) {
    DayPlan plan;
    const Eigen::Vector4d bump(0.012, -0.009, 2e-4, 0.003);
    plan.bump = {{0.5, bump}};
    const SimulatedDay sim(2, plan);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    const auto& lead = report->hypotheses.front().members.front();
    ASSERT_FALSE(lead.changes.empty());
    EXPECT_EQ(lead.changes.front().change, Change::bump);
    ASSERT_FALSE(report->moves.empty());
    const MoveTime& move = report->moves.front();
    EXPECT_LT(report->events[static_cast<std::size_t>(move.from_event)].time_s, sim.bump_s);
    EXPECT_GT(report->events[static_cast<std::size_t>(move.to_event)].time_s, sim.bump_s);
    EXPECT_GT(move.probability, 0.9);
    for (int k = 0; k < 4; ++k)
        EXPECT_NEAR(move.shift[k], bump[k], 5.0 * move.shift_sd[k] + 1e-4) << k;
    EXPECT_EQ(move.layings_between.size(), 10U);
    const double from = report->events[static_cast<std::size_t>(move.from_event)].time_s;
    const double to = report->events[static_cast<std::size_t>(move.to_event)].time_s;
    for (std::size_t p = 0; p < sim.day.points.size(); ++p) {
        const PointReport& point = report->points[p];
        const double t = sim.day.points[p].time_s;
        if (t < from) {
            EXPECT_LT(point.probability_moved, 0.05);
        }
        if (t > to) {
            EXPECT_GT(point.probability_moved, 0.95);
            EXPECT_NE(point.word, station::Word::proven);
            // Where the bump took the point: what it is off less what it would be off.
            const Eigen::Vector3d took = sim.true_m[p] - sim.without_m[p];
            EXPECT_LT((point.displacement_m - took).norm(), 0.006);
        }
        if (t > from && t < to) {
            EXPECT_GT(point.probability_moved, 0.0);
            EXPECT_LT(point.probability_moved, 1.0);
        }
    }
}

TEST(watch, moved_mark_is_named_and_the_points_stay_proven) {
    DayPlan plan;
    plan.moved_mark = {{0.3, Eigen::Vector3d(0.02, 0.015, 0.0)}};
    plan.marks_per_check = 3;
    const SimulatedDay sim(3, plan);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    const auto& lead = report->hypotheses.front().members.front();
    ASSERT_FALSE(lead.changes.empty());
    EXPECT_EQ(lead.changes.front().change, Change::mark_moved);
    EXPECT_EQ(lead.changes.front().subject, "M1");
    EXPECT_NEAR(lead.changes.front().amount[0], 0.02, 0.006);
    EXPECT_NEAR(lead.changes.front().amount[1], 0.015, 0.006);
    EXPECT_LT(report->probability_bump_seen, 0.05);
    // The same day with the mark left alone.
    plan.moved_mark.reset();
    const SimulatedDay quiet(3, plan);
    const auto without = watch(quiet.day, quiet.options);
    ASSERT_TRUE(without.ok());
    EXPECT_GE(report->proven, without->proven - 5);
}

TEST(watch, one_failed_sight_is_a_group_that_the_data_cannot_split) {
    DayPlan plan;
    plan.hours = 1.0;
    plan.marks_per_check = 1;
    SimulatedDay sim(4, plan);
    ASSERT_EQ(sim.day.checks.size(), 1U);
    sim.day.checks[0].misfit_m.head<2>() += Eigen::Vector2d(0.012, 0.006);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    EXPECT_GE(report->hypotheses.front().members.size(), 2U);
    EXPECT_FALSE(report
                     ->events[static_cast<std::size_t>(
                         report->hypotheses.front().members.front().changes.front().to_event)]
                     .is_good);
    // A second mark, sighted next, tells the bump from the rest: it is asked for.
    EXPECT_GT(report->probability_bump_seen, 0.05);
    EXPECT_LT(report->probability_bump_seen, 0.95);
}

TEST(watch, no_checks_points_are_judged_from_the_setup_and_the_odds) {
    DayPlan plan;
    plan.check_every_s = 1e9;
    const SimulatedDay sim(5, plan);
    ASSERT_TRUE(sim.day.checks.empty());
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    EXPECT_EQ(report->probability_bump_seen, 0.0);
    // The later a point, the likelier a bump before it.
    double last = 0.0;
    for (const auto& event : report->events) {
        EXPECT_GE(event.probability_moved, last - 1e-12);
        last = event.probability_moved;
    }
    EXPECT_NEAR(last, 0.15 / 1.15, 0.02);
}

TEST(watch, nothing_but_a_setup_gives_an_answer) {
    Day day;
    day.start = start_of(station::Pose{});
    const auto report = watch(day, {});
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    EXPECT_EQ(report->events.size(), 2U);
    EXPECT_TRUE(rank_resights(day, {}, *report).empty());
    EXPECT_EQ(next_check(day, {}, *report).due_s, 3600.0);
}

TEST(watch, everything_at_one_time_gives_an_answer) {
    SimulatedDay sim(6, {});
    for (auto& c : sim.day.checks) c.time_s = 100.0;
    for (auto& p : sim.day.points) p.time_s = 100.0;
    sim.day.setup_time_s = sim.day.end_time_s.emplace(100.0);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    EXPECT_EQ(report->probability_bump, 0.0);
}

TEST(watch, order_of_the_lists_does_not_matter) {
    const SimulatedDay sim(7, {});
    Day turned = sim.day;
    std::reverse(turned.checks.begin(), turned.checks.end());
    std::reverse(turned.points.begin(), turned.points.end());
    const auto a = watch(sim.day, sim.options);
    const auto b = watch(turned, sim.options);
    ASSERT_TRUE(a.ok());
    ASSERT_TRUE(b.ok());
    const std::size_t n = sim.day.points.size();
    for (std::size_t i = 0; i < n; ++i)
        EXPECT_NEAR(a->points[i].probability, b->points[n - 1 - i].probability, 1e-9);
}

TEST(watch, resighted_point_is_known_better_and_stops_being_in_doubt_by_the_move) {
    DayPlan plan;
    plan.bump = {{0.95, Eigen::Vector4d(0.015, 0.01, 1e-4, 0.0)}};
    SimulatedDay sim(8, plan);
    const auto before = watch(sim.day, sim.options);
    ASSERT_TRUE(before.ok());
    const auto p = sim.day.points.size() - 4;
    sim.day.resights.push_back(resight_of(sim.nominal, sim.day.points[p].target,
                                          static_cast<int>(p), sim.instrument(), 1.5,
                                          *sim.day.end_time_s, sim.sight_point(p)));
    const auto after = watch(sim.day, sim.options);
    ASSERT_TRUE(after.ok());
    expect_finite(*after);
    EXPECT_EQ(after->points[p].resights, 1);
    EXPECT_GT(before->points[p].covariance(0, 0), after->points[p].covariance(0, 0));
    const Eigen::Vector3d truth = sim.true_m[p] - sim.designs_m[p];
    EXPECT_LT((after->points[p].deviation_m - truth).norm(), 0.006);
}

TEST(watch, mark_held_by_its_sheet_and_station_without_height_give_no_nan) {
    SimulatedDay sim(9, {});
    Day day = sim.day;
    day.has_height = false;
    for (auto& b : day.start.beliefs) {
        b.mean[3] = 0.0;
        b.covariance.row(3).setZero();
        b.covariance.col(3).setZero();
        b.covariance.middleRows<3>(10).setZero();
        b.covariance.middleCols<3>(10).setZero();
    }
    for (auto& c : day.checks) c.rows = 2;
    for (auto& p : day.points) p.has_height = false;
    const auto report = watch(day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
    EXPECT_GT(report->proven, 30);
}

TEST(watch, exchanged_names_at_the_setup_leave_no_point_proven) {
    SimulatedDay sim(10, {});
    sim.day.start.elsewhere = 0.1;
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    EXPECT_EQ(report->proven, 0);
}

TEST(watch, many_beliefs_are_joined_and_change_little) {
    SimulatedDay sim(11, {});
    const auto few = watch(sim.day, sim.options);
    sim.options.most_starts = 100;
    const auto all = watch(sim.day, sim.options);
    ASSERT_TRUE(few.ok());
    ASSERT_TRUE(all.ok());
    for (std::size_t i = 0; i < few->points.size(); ++i)
        EXPECT_NEAR(few->points[i].probability, all->points[i].probability, 0.03);
}

TEST(watch, bad_input_is_refused_with_its_reason) {
    const SimulatedDay sim(12, {});
    const auto code = [&](auto change) {
        Day day = sim.day;
        WatchOptions options = sim.options;
        change(day, options);
        const auto result = watch(day, options);
        return result.ok() ? ErrorCode{} : result.refusal().code;
    };
    constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
    EXPECT_EQ(code([&](Day& d, auto&) { d.checks[0].time_s = kNan; }), ErrorCode::not_finite);
    EXPECT_EQ(code([&](Day& d, auto&) { d.points[3].deviation_m[1] = kNan; }),
              ErrorCode::not_finite);
    EXPECT_EQ(code([&](Day& d, auto&) { d.start.beliefs[0].mean[2] = kNan; }),
              ErrorCode::not_finite);
    EXPECT_EQ(code([](Day& d, auto&) { d.checks[0].mark_index = 99; }), ErrorCode::target_unknown);
    EXPECT_EQ(code([](Day& d, auto&) { d.checks[0].rows = 0; }), ErrorCode::target_unknown);
    EXPECT_EQ(code([](Day& d, auto&) { d.resights.push_back({.point = 999}); }),
              ErrorCode::target_unknown);
    EXPECT_EQ(code([](Day& d, auto&) { d.checks[0].own.setZero(); }), ErrorCode::out_of_range);
    EXPECT_EQ(code([](Day& d, auto&) { d.points[0].time_s = -5.0; }), ErrorCode::out_of_range);
    EXPECT_EQ(code([](Day& d, auto&) { d.end_time_s = 10.0; }), ErrorCode::out_of_range);
    EXPECT_EQ(code([](auto&, WatchOptions& o) { o.confidence = 1.5; }), ErrorCode::out_of_range);
    EXPECT_EQ(code([](auto&, WatchOptions& o) { o.odds.bump_per_hour = -1.0; }),
              ErrorCode::out_of_range);
    EXPECT_EQ(code([](Day& d, auto&) { d.start.beliefs.clear(); }), ErrorCode::setup_incomplete);
    EXPECT_EQ(code([](Day& d, auto&) { d.start.marks.pop_back(); }), ErrorCode::setup_incomplete);
}

TEST(watch, detectable_bump_shrinks_with_more_marks_and_is_infinite_after_the_last_sight) {
    DayPlan one;
    one.marks_per_check = 1;
    DayPlan three;
    three.marks_per_check = 3;
    const SimulatedDay a(13, one);
    const SimulatedDay b(13, three);
    const auto ra = watch(a.day, a.options);
    const auto rb = watch(b.day, b.options);
    ASSERT_TRUE(ra.ok());
    ASSERT_TRUE(rb.ok());
    const PoseVector east(0.001, 0.0, 0.0, 0.0);
    const double fa = detectable_bump(*ra, 5000.0, east);
    const double fb = detectable_bump(*rb, 5000.0, east);
    EXPECT_GT(fa, fb);
    EXPECT_GT(fb, 2.0);   // more than 2 mm
    EXPECT_LT(fb, 20.0);  // less than 20 mm
    EXPECT_TRUE(std::isinf(detectable_bump(*ra, 1e9, east)));
}

TEST(watch, check_of_a_mark_new_to_the_day_is_taken_in) {
    SimulatedDay sim(14, {});
    Check check =
        planned_check(sim.nominal, "Z9", sim.nominal.position_m + Eigen::Vector3d(20.0, 10.0, -1.0),
                      true, sim.instrument(), 1.5);
    check.time_s = 4000.0;
    const std::size_t marks = sim.day.start.marks.size();
    add_check(sim.day, check, Eigen::Vector3d::Constant(0.0015));
    EXPECT_EQ(sim.day.start.marks.size(), marks + 1);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
}

TEST(watch, check_sights_need_a_time_and_those_set_aside_are_left_out) {
    Random random(77);
    auto site = testing::simulate_site(random, {});
    const auto control = station::prepare(site.input);
    ASSERT_TRUE(control.ok());
    const auto solved = station::solve_station(*control);
    ASSERT_TRUE(solved.ok());
    for (int i = 0; i < 2; ++i) {
        measure::Sight again = site.input.sights[static_cast<std::size_t>(i)];
        again.purpose = measure::Purpose::check;
        again.time_s = 600.0 + i;
        site.input.sights.push_back(again);
    }
    const auto taken = [&] {
        const auto setup = station::prepare(site.input);
        return checks_of(site.input, *setup, solved->best.pose);
    };
    auto checks = taken();
    ASSERT_TRUE(checks.ok());
    ASSERT_EQ(checks->size(), 2U);
    EXPECT_EQ((*checks)[0].mark, "M1");
    EXPECT_EQ((*checks)[0].rows, 3);
    EXPECT_EQ((*checks)[0].time_s, 600.0);
    // The readings of a control sight booked again misfit as that sight did.
    const auto model = station::misfit_model(*control, solved->best.pose);
    EXPECT_NEAR(((*checks)[0].misfit_m - model.misfit.segment<3>(model.sights[0].first_row)).norm(),
                0.0, 1e-9);
    site.input.set_aside.push_back(static_cast<int>(site.input.sights.size()) - 1);
    checks = taken();
    ASSERT_TRUE(checks.ok());
    EXPECT_EQ(checks->size(), 1U);
    site.input.sights[site.input.sights.size() - 2].time_s.reset();
    checks = taken();
    ASSERT_FALSE(checks.ok());
    EXPECT_EQ(checks.refusal().code, ErrorCode::value_missing);
}

TEST(resight, long_stretch_is_asked_about_near_its_middle) {
    DayPlan plan;
    plan.hours = 2.0;
    plan.points_per_hour = 16;
    plan.bump = {{0.75, Eigen::Vector4d(0.02, 0.015, 2e-4, 0.004)}};
    const SimulatedDay sim(15, plan);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    const auto& between = report->moves.front().layings_between;
    ASSERT_EQ(between.size(), 16U);
    const auto next = rank_resights(sim.day, sim.options, *report);
    ASSERT_FALSE(next.empty());
    ASSERT_FALSE(next.front().is_mark);
    const auto at = std::find(between.begin(), between.end(), next.front().index);
    ASSERT_NE(at, between.end());
    const auto place = at - between.begin();
    EXPECT_GE(place, 4);
    EXPECT_LE(place, 11);
    EXPECT_GT(next.front().gain_bits, 1.0);
    EXPECT_LE(next.front().gain_bits, next.front().left_bits);
    for (std::size_t i = 1; i < next.size(); ++i)
        EXPECT_LE(next[i].gain_bits, next[i - 1].gain_bits);
}

TEST(resight, quiet_day_asks_for_nothing) {
    const SimulatedDay sim(16, {});
    const Day morning = sim.day_until(sim.check_times_s[1]);
    const auto report = watch(morning, sim.options);
    ASSERT_TRUE(report.ok());
    ASSERT_FALSE(report->points.empty());
    for (const auto& p : report->points) ASSERT_FALSE(p.in_doubt_by_move);
    EXPECT_TRUE(rank_resights(morning, sim.options, *report).empty());
}

TEST(resight, failed_sight_of_one_mark_asks_for_another_mark_or_point) {
    DayPlan plan;
    plan.hours = 1.0;
    plan.marks_per_check = 1;
    SimulatedDay sim(17, plan);
    sim.day.checks[0].misfit_m.head<2>() += Eigen::Vector2d(0.014, 0.008);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    ResightOptions how;
    for (std::size_t m = 0; m < sim.day.start.marks.size(); ++m) {
        Check c = planned_check(
            sim.nominal, sim.day.start.marks[m],
            sim.nominal.position_m + Eigen::Vector3d(20.0 * std::cos(static_cast<double>(m)),
                                                     20.0 * std::sin(static_cast<double>(m)), -1.0),
            true, sim.instrument(), 1.5);
        c.mark_index = static_cast<int>(m);
        how.marks.push_back(c);
    }
    const auto next = rank_resights(sim.day, sim.options, *report, how);
    ASSERT_FALSE(next.empty());
    EXPECT_GT(next.front().gain_bits, 0.2 * next.front().left_bits);
    const bool any_mark =
        std::any_of(next.begin(), next.end(), [](const NextResight& n) { return n.is_mark; });
    EXPECT_TRUE(any_mark);
}

TEST(next_check, slab_waits_the_hour_and_deck_with_a_tight_tolerance_does_not) {
    DayPlan plan;
    plan.hours = 2.0;
    plan.tolerance_m = 0.0095;
    SimulatedDay slab(18, plan);
    const auto calm = watch(slab.day, slab.options);
    ASSERT_TRUE(calm.ok());
    const NextCheck hour = next_check(slab.day, slab.options, *calm);
    const double last = slab.check_times_s.back();
    EXPECT_FALSE(hour.by_drift);
    EXPECT_NEAR(hour.due_s, last + 3600.0, 1e-6);
    EXPECT_GE(hour.probability, 0.95);

    WatchOptions deck = slab.options;
    deck.drift = {0.004, 0.004, 30.0 * measure::kRadPerArcsec};
    const auto shaky = watch(slab.day, deck);
    ASSERT_TRUE(shaky.ok());
    std::vector<LaidPoint> upcoming{slab.day.points[0]};
    upcoming[0].target.tolerance_plan_m = 0.012;
    upcoming[0].target.tolerance_height_m = 0.012;
    const NextCheck soon = next_check(slab.day, deck, *shaky, upcoming);
    EXPECT_TRUE(soon.by_drift);
    EXPECT_LT(soon.due_s, last + 3600.0);
    EXPECT_GT(soon.due_s, last);
    EXPECT_NEAR(soon.probability, 0.95, 0.01);
    EXPECT_EQ(soon.point, 0);
}

TEST(next_check, point_that_no_check_could_prove_does_not_hurry) {
    DayPlan plan;
    plan.hours = 2.0;
    SimulatedDay sim(19, plan);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    std::vector<LaidPoint> upcoming{sim.day.points[0]};
    upcoming[0].target.tolerance_plan_m = 0.0005;
    const NextCheck next = next_check(sim.day, sim.options, *report, upcoming);
    EXPECT_FALSE(next.by_drift);
    EXPECT_EQ(next.point, -1);
}

TEST(watch, day_of_twenty_checks_and_three_hundred_points_is_finite) {
    DayPlan plan;
    plan.hours = 10.0;
    plan.points_per_hour = 30;
    plan.bump = {{0.55, Eigen::Vector4d(0.012, -0.008, 1.5e-4, 0.002)}};
    const SimulatedDay sim(20, plan);
    ASSERT_EQ(sim.day.checks.size(), 20U);
    ASSERT_EQ(sim.day.points.size(), 300U);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    expect_finite(*report);
}

}  // namespace
}  // namespace layproof::watch
