// Does the watch keep its word? Invented days with drift, bumps, moved marks and nothing at all,
// read by a forward model of its own (day_simulator.hpp). Seeds fixed. Figures:
// docs/studies/watch.md.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <future>
#include <ostream>
#include <vector>

#include "watch/day_simulator.hpp"
#include "watch/resight.hpp"

namespace layproof::watch {
namespace {

using testing::DayPlan;
using testing::SimulatedDay;

int days_of(int all) {
    // For a quick look while working on it.
    const char* few = std::getenv("LAYPROOF_STUDY_DAYS");
    return few != nullptr ? std::atoi(few) : all;
}

enum class Kind { drift, bump, moved_mark, large_bump };
struct Tally {
    int days = 0;
    int points = 0, proven = 0, proven_within = 0, failing = 0, failing_out = 0;
    int out_by_bump = 0, out_by_bump_caught = 0;
    int named = 0, named_first = 0;
    int alarms = 0;                ///< days on which a check was not good
    std::vector<double> over_log;  ///< sights taken less log2(n)
    std::vector<double> stretch, taken;
    int cleared = 0, doubts = 0;
    int plain_sighted = 0, plain_needless = 0, ours_sighted = 0, ours_needless = 0;
    int still_in_doubt = 0;

    void add(const Tally& o) {
        days += o.days;
        points += o.points;
        proven += o.proven;
        proven_within += o.proven_within;
        failing += o.failing;
        failing_out += o.failing_out;
        out_by_bump += o.out_by_bump;
        out_by_bump_caught += o.out_by_bump_caught;
        named += o.named;
        named_first += o.named_first;
        alarms += o.alarms;
        cleared += o.cleared;
        doubts += o.doubts;
        plain_sighted += o.plain_sighted;
        plain_needless += o.plain_needless;
        ours_sighted += o.ours_sighted;
        ours_needless += o.ours_needless;
        still_in_doubt += o.still_in_doubt;
        over_log.insert(over_log.end(), o.over_log.begin(), o.over_log.end());
        stretch.insert(stretch.end(), o.stretch.begin(), o.stretch.end());
        taken.insert(taken.end(), o.taken.begin(), o.taken.end());
    }
};

double share(int part, int whole) {
    return whole > 0 ? static_cast<double>(part) / whole : 1.0;
}

double median(std::vector<double> v) {
    if (v.empty()) return 0.0;
    const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), middle, v.end());
    return *middle;
}

bool is_within(const SimulatedDay& sim, std::size_t p, double tolerance_m) {
    return testing::is_within(sim.true_m[p], sim.designs_m[p], tolerance_m);
}

/// Points laid since the last round of checks that was good, up to the first that was not.
struct PlainRule {
    std::vector<std::size_t> suspects;
    double fails_s = -1.0;
};
PlainRule plain_rule(const SimulatedDay& sim, const DayReport& report) {
    PlainRule out;
    double good_s = 0.0;
    for (const double round_s : sim.check_times_s) {
        bool good = true;
        for (const auto& e : report.events)
            if (e.kind == EventKind::check && e.time_s > good_s && e.time_s <= round_s)
                good = good && e.is_good;
        if (good) {
            good_s = round_s;
            continue;
        }
        out.fails_s = round_s;
        for (std::size_t p = 0; p < sim.day.points.size(); ++p)
            if (sim.day.points[p].time_s > good_s && sim.day.points[p].time_s <= round_s)
                out.suspects.push_back(p);
        return out;
    }
    return out;
}

/// Open while any point may or may not have been laid after the bump and its verdict hangs on it.
bool is_open(const DayReport& report) {
    return std::any_of(report.points.begin(), report.points.end(), [](const PointReport& p) {
        return p.in_doubt_by_move && p.word == station::Word::in_doubt &&
               p.probability_moved > 0.05 && p.probability_moved < 0.95;
    });
}

void clear_doubt(SimulatedDay& sim, double at_s, double tolerance_m, Tally& tally) {
    Day day = sim.day_until(at_s);
    auto report = watch(day, sim.options);
    ASSERT_TRUE(report.ok());
    if (!is_open(*report)) return;
    ++tally.doubts;
    const auto n =
        std::count_if(report->points.begin(), report->points.end(), [](const PointReport& p) {
            return p.in_doubt_by_move && p.probability_moved > 0.01 && p.probability_moved < 0.99;
        });
    const int most = 12;
    int taken = 0;
    double now = at_s;
    while (is_open(*report) && taken < most) {
        const auto next = rank_resights(day, sim.options, *report);
        const auto pick =
            std::find_if(next.begin(), next.end(), [](const NextResight& r) { return !r.is_mark; });
        if (pick == next.end()) break;
        now += 60.0;
        day.end_time_s = now;
        const auto p = static_cast<std::size_t>(pick->index);
        day.resights.push_back(resight_of(sim.nominal, day.points[p].target, pick->index,
                                          sim.instrument(), 1.5, now, sim.sight_point(p)));
        ++taken;
        ++tally.ours_sighted;
        if (is_within(sim, p, tolerance_m)) ++tally.ours_needless;
        report = watch(day, sim.options);
        ASSERT_TRUE(report.ok());
    }
    if (!is_open(*report)) ++tally.cleared;
    tally.stretch.push_back(static_cast<double>(n));
    tally.taken.push_back(taken);
    tally.over_log.push_back(taken - std::log2(std::max<double>(static_cast<double>(n), 1.0)));
    // What is still in doubt in its own right is sighted too.
    for (std::size_t p = 0; p < report->points.size(); ++p) {
        if (report->points[p].word != station::Word::in_doubt || report->points[p].resights > 0 ||
            !report->points[p].in_doubt_by_move)
            continue;
        ++tally.still_in_doubt;
        ++tally.ours_sighted;
        if (is_within(sim, p, tolerance_m)) ++tally.ours_needless;
    }
}

/// What a judge would believe who was told that exactly one bump has happened, at any time alike,
/// and nothing else: the model the bumps are drawn from. No judge of the same sights knows more.
void tell_of_bump(WatchOptions& options) {
    options.most_changes = 1;
    options.odds.bump_per_hour = 1e6;
}

void one_day(std::uint64_t seed, Kind kind, int marks_per_check, bool is_told, Tally& tally) {
    Random random(seed * 7919U + 17U);
    DayPlan plan;
    plan.marks_per_check = marks_per_check;
    plan.marks = 4;
    plan.ground = static_cast<Ground>(random.below(4));
    plan.reach_m = random.uniform(25.0, 60.0);
    const double when = random.uniform(0.05, 0.97);
    if (kind == Kind::moved_mark) {
        constexpr double kSizes_m[] = {0.006, 0.020, 0.060};
        const double size = kSizes_m[random.below(3)];
        plan.moved_mark = {
            {when, Eigen::Vector3d(size * random.normal(), size * random.normal(), 0.0)}};
        plan.moved_mark_index = random.below(plan.marks);
    }
    if (kind == Kind::bump) plan.bump = {{when, testing::draw_bump(random)}};
    if (kind == Kind::large_bump) {
        Eigen::Vector4d direction = testing::draw_bump(random);
        const SimulatedDay quiet(seed, plan);
        const auto report = watch(quiet.day, quiet.options);
        ASSERT_TRUE(report.ok());
        const double factor = detectable_bump(*report, when * plan.hours * 3600.0, direction);
        ASSERT_TRUE(std::isfinite(factor));
        plan.bump = {{when, 3.0 * factor * direction}};
    }
    SimulatedDay sim(seed, plan);
    if (is_told) tell_of_bump(sim.options);
    const auto report = watch(sim.day, sim.options);
    ASSERT_TRUE(report.ok());
    ++tally.days;
    for (std::size_t p = 0; p < sim.day.points.size(); ++p) {
        ++tally.points;
        const bool within = is_within(sim, p, plan.tolerance_m);
        const auto word = report->points[p].word;
        if (word == station::Word::proven) {
            ++tally.proven;
            tally.proven_within += within ? 1 : 0;
        }
        if (word == station::Word::fails) {
            ++tally.failing;
            tally.failing_out += within ? 0 : 1;
        }
    }
    const PlainRule rule = plain_rule(sim, *report);
    if (rule.fails_s >= 0.0) ++tally.alarms;
    for (const std::size_t p : rule.suspects) {
        ++tally.plain_sighted;
        if (is_within(sim, p, plan.tolerance_m)) ++tally.plain_needless;
    }
    if (kind == Kind::moved_mark || kind == Kind::drift) {
        if (rule.fails_s >= 0.0) clear_doubt(sim, rule.fails_s, plan.tolerance_m, tally);
        return;
    }
    const auto next = std::find_if(sim.check_times_s.begin(), sim.check_times_s.end(),
                                   [&](double t) { return t > sim.bump_s; });
    if (next == sim.check_times_s.end()) return;
    const Day then = sim.day_until(*next);
    const auto early = watch(then, sim.options);
    ASSERT_TRUE(early.ok());
    for (std::size_t p = 0; p < then.points.size(); ++p) {
        if (then.points[p].time_s < sim.bump_s) continue;
        const bool out = !is_within(sim, p, plan.tolerance_m);
        const bool would = testing::is_within(sim.without_m[p], sim.designs_m[p], plan.tolerance_m);
        if (!out || !would) continue;
        ++tally.out_by_bump;
        if (early->points[p].word != station::Word::proven) ++tally.out_by_bump_caught;
    }
    if (kind == Kind::large_bump) {
        ++tally.named;
        if (!report->moves.empty()) {
            const MoveTime& move = report->moves.front();
            const auto& events = report->events;
            if (events[static_cast<std::size_t>(move.from_event)].time_s <= sim.bump_s &&
                sim.bump_s <= events[static_cast<std::size_t>(move.to_event)].time_s &&
                move.probability > 0.5)
                ++tally.named_first;
        }
    }
    if (!is_told) clear_doubt(sim, *next, plan.tolerance_m, tally);
}

Tally run(Kind kind, int marks_per_check, int days, bool is_told = false) {
    const auto work = [&](int first) {
        Tally out;
        for (int d = first; d < days; d += 2)
            one_day(static_cast<std::uint64_t>(static_cast<int>(kind)) * 100000U +
                        static_cast<std::uint64_t>(marks_per_check) * 10000U +
                        static_cast<std::uint64_t>(d),
                    kind, marks_per_check, is_told, out);
        return out;
    };
    auto other = std::async(std::launch::async, work, 1);
    Tally out = work(0);
    out.add(other.get());
    return out;
}

void print(const char* name, const Tally& t) {
    std::printf(
        "%-24s days %d, points %d: proven %d (within %.4f), failing %d (out %.4f); "
        "check not good on %d days\n",
        name, t.days, t.points, t.proven, share(t.proven_within, t.proven), t.failing,
        share(t.failing_out, t.failing), t.alarms);
    if (t.out_by_bump > 0)
        std::printf(
            "%-24s out because of the bump %d, in doubt or failing after the next check "
            "%.4f\n",
            "", t.out_by_bump, share(t.out_by_bump_caught, t.out_by_bump));
    if (t.named > 0)
        std::printf("%-24s stretch named first %d of %d = %.4f\n", "", t.named_first, t.named,
                    share(t.named_first, t.named));
    if (!t.taken.empty())
        std::printf(
            "%-24s doubts %d, cleared %d, median points %.0f, median sights %.0f, median "
            "sights - log2(n) %.2f\n",
            "", t.doubts, t.cleared, median(t.stretch), median(t.taken), median(t.over_log));
    std::printf(
        "%-24s re-sighted plain %d (needless %d), ours %d (needless %d; %d of them in "
        "doubt in their own right)\n",
        "", t.plain_sighted, t.plain_needless, t.ours_sighted, t.ours_needless, t.still_in_doubt);
}

struct Study {
    const char* name;
    Kind kind;
    int marks_per_check;
    int days;
    double caught = 0.99;  ///< share of the points out because of the bump
};

void PrintTo(const Study& study, std::ostream* out) {
    *out << study.name;
}

class day_study : public ::testing::TestWithParam<Study> {};

TEST_P(day_study, slow_simulated_days_keep_what_the_words_promise) {
    const Study study = GetParam();
    const Tally t = run(study.kind, study.marks_per_check, days_of(study.days));
    print(study.name, t);
    EXPECT_EQ(t.days, days_of(study.days));
    EXPECT_GE(share(t.proven_within, t.proven), 0.95);
    if (study.kind == Kind::bump || study.kind == Kind::large_bump) {
        EXPECT_GE(share(t.out_by_bump_caught, t.out_by_bump), study.caught);
        EXPECT_LE(median(t.over_log), 2.0);
        EXPECT_LT(t.ours_needless, t.plain_needless);
    }
    if (study.kind == Kind::large_bump) {
        EXPECT_GE(share(t.named_first, t.named), 0.95);
    }
    if (study.kind == Kind::moved_mark) {
        EXPECT_LT(t.ours_needless, t.plain_needless);
    }
}

// With one or two marks per check some bumps hardly show at the marks sighted and are missed; what
// that costs is written down, not hidden (docs/studies/watch.md).
INSTANTIATE_TEST_SUITE_P(
    slow, day_study,
    ::testing::Values(Study{"drift only", Kind::drift, 2, 600}, Study{"bump", Kind::bump, 3, 600},
                      Study{"bump, two marks per check", Kind::bump, 2, 600, 0.975},
                      Study{"moved mark", Kind::moved_mark, 2, 600},
                      Study{"bump of 3 x detectable", Kind::large_bump, 2, 600},
                      Study{"the same, one mark per check", Kind::large_bump, 1, 200, 0.975}));

// The miss with two marks is the price of odds that call a bump rare, not of the sights: a judge
// who is told of the bump misses far less.
TEST(day_study_told, slow_bump_known_to_be_there_is_caught_with_two_marks) {
    const int days = days_of(300);
    const Tally told = run(Kind::bump, 2, days, true);
    const Tally t = run(Kind::bump, 2, days);
    print("two marks, told of it", told);
    EXPECT_GE(share(told.proven_within, told.proven), 0.95);
    EXPECT_EQ(told.out_by_bump, t.out_by_bump);
    EXPECT_GE(told.out_by_bump_caught, t.out_by_bump_caught);
    EXPECT_GE(share(told.out_by_bump_caught, told.out_by_bump), 0.99);
}

}  // namespace
}  // namespace layproof::watch
