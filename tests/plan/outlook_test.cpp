#include "plan/outlook.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <numeric>

#include "station/misfit_model.hpp"
#include "support/invented_floor.hpp"
#include "support/plan_simulation.hpp"
#include "support/scene.hpp"

namespace layproof::plan {
namespace {

using Eigen::Vector3d;
using test_support::simulate_verdicts;

struct PlannedSetup {
    std::vector<ControlMark> marks;
    std::vector<int> use;
    Crew crew;
    std::vector<station::LayTarget> points;
    Vector3d axes{30.0, 45.0, 1.6};

    std::vector<int> asked() const {
        std::vector<int> out(points.size());
        std::iota(out.begin(), out.end(), 0);
        return out;
    }
};

/// `count` of the twelve marks of an invented floor, and points around the station.
PlannedSetup planned(int count, double rod_m, std::uint64_t seed = 1, std::size_t points = 40) {
    PlannedSetup out;
    const auto floor = test_support::invented_floor({.walls = 0}, seed);
    out.marks = control_marks(floor.marks);
    for (int i = 0; i < count; ++i) out.use.push_back(i * 12 / count);
    out.crew.causes = testing::main_table();
    out.crew.mark_rod_m = out.crew.lay_rod_m = rod_m;
    out.crew.instrument.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
    for (const auto& p : floor.points) {
        const double d = std::hypot(p.east_m - out.axes.x(), p.north_m - out.axes.y());
        if (d > 2.0 && d < 50.0 && out.points.size() < points) out.points.push_back(p);
    }
    return out;
}

double mean(const std::vector<double>& values) {
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

TEST(outlook, pose_covariance_is_that_of_the_station) {
    for (const int faces : {1, 2}) {
        PlannedSetup s = planned(5, 0.4);
        s.crew.faces = faces;
        SetupOutlook outlook;
        outlook.stand(s.axes, s.marks, s.use, s.crew);
        ASSERT_TRUE(outlook.is_solvable());
        Random random(3);
        const auto input = test_support::simulate_setup(random, s.axes, s.marks, s.use, s.crew);
        const auto prepared = station::prepare(input);
        ASSERT_TRUE(prepared);
        const auto solved = station::solve_station(*prepared);
        ASSERT_TRUE(solved);
        const Eigen::Matrix4d& theirs = solved->best.pose.covariance;
        constexpr int kFrom[4] = {0, 1, 3, 2};
        // The sights' readings differ from the planned ones by some millimetres in 40 m.
        for (int i = 0; i < 4; ++i)
            for (int j = 0; j < 4; ++j)
                EXPECT_NEAR(
                    outlook.pose_covariance()(i, j), theirs(kFrom[i], kFrom[j]),
                    1e-3 * std::sqrt(theirs(kFrom[i], kFrom[i]) * theirs(kFrom[j], kFrom[j])));
    }
}

TEST(outlook, fewer_than_two_marks_proves_nothing) {
    PlannedSetup s = planned(1, 0.1);
    SetupOutlook outlook;
    outlook.stand(s.axes, s.marks, s.use, s.crew);
    EXPECT_FALSE(outlook.is_solvable());
    std::vector<double> chance;
    outlook.forecast(Draws(4, 12, 1), plan_points(s.points), s.asked(), WithinTable{}, chance);
    EXPECT_EQ(chance, std::vector<double>(s.points.size(), 0.0));
    outlook.share({}, plan_points(s.points), s.asked(), WithinTable{}, chance);
    EXPECT_EQ(chance, std::vector<double>(s.points.size(), 0.0));
}

TEST(outlook, two_marks_leave_everything_in_doubt) {
    PlannedSetup s = planned(2, 0.1);
    SetupOutlook outlook;
    outlook.stand(s.axes, s.marks, s.use, s.crew);
    EXPECT_TRUE(outlook.is_solvable());
    std::vector<double> chance;
    outlook.share({}, plan_points(s.points), s.asked(), WithinTable{}, chance);
    EXPECT_EQ(mean(chance), 0.0);
}

TEST(outlook, marks_without_heights_carry_the_plan_only) {
    PlannedSetup s = planned(5, 0.1);
    for (ControlMark& mark : s.marks) mark.has_height = false;
    SetupOutlook outlook;
    outlook.stand(s.axes, s.marks, s.use, s.crew);
    ASSERT_TRUE(outlook.is_solvable());
    EXPECT_FALSE(outlook.has_height());
    EXPECT_EQ(outlook.pose_covariance().row(3).norm(), 0.0);
}

TEST(outlook, not_finite_is_not_solvable) {
    PlannedSetup s = planned(4, 0.1);
    SetupOutlook outlook;
    outlook.stand({NAN, 0.0, 0.0}, s.marks, s.use, s.crew);
    EXPECT_FALSE(outlook.is_solvable());
    s.crew.instrument.angle_sd_rad = NAN;
    outlook.stand(s.axes, s.marks, s.use, s.crew);
    EXPECT_FALSE(outlook.is_solvable());
}

TEST(outlook, better_rod_and_more_marks_never_prove_less) {
    const WithinTable table;
    double before = -1.0;
    for (const int count : {3, 6, 12}) {
        PlannedSetup s = planned(count, 0.4);
        SetupOutlook outlook;
        outlook.stand(s.axes, s.marks, s.use, s.crew);
        std::vector<double> chance;
        outlook.share({.most = 600}, plan_points(s.points), s.asked(), table, chance);
        EXPECT_GE(mean(chance), before - 0.02) << count;
        before = mean(chance);
    }
    EXPECT_GT(before, 0.5);
}

// The quick figure of the map takes shifts as spread, which makes it low by some points.
TEST(outlook, map_figure_is_near_the_close_one) {
    const WithinTable table;
    const Draws draws(200, 12, 9);
    for (const int count : {3, 4, 6, 9})
        for (const double rod : {0.1, 0.6}) {
            PlannedSetup s = planned(count, rod);
            SetupOutlook outlook;
            outlook.stand(s.axes, s.marks, s.use, s.crew);
            std::vector<double> quick;
            std::vector<double> close;
            outlook.forecast(draws, plan_points(s.points), s.asked(), table, quick);
            outlook.share({}, plan_points(s.points), s.asked(), table, close);
            EXPECT_NEAR(mean(quick), mean(close), 0.06) << count << " marks, rod " << rod;
        }
}

TEST(outlook, share_is_drawn_until_it_stands) {
    const WithinTable table;
    PlannedSetup s = planned(4, 0.6);
    SetupOutlook outlook;
    outlook.stand(s.axes, s.marks, s.use, s.crew);
    std::vector<double> rough;
    outlook.share({.fewest = 200, .most = 40000, .standard_error = 0.006}, plan_points(s.points),
                  s.asked(), table, rough);
    const int few = outlook.share_draws();
    EXPECT_LE(outlook.share_error(), 0.006);
    std::vector<double> fine;
    outlook.share({.fewest = 200, .most = 40000, .standard_error = 0.002, .seed = 99},
                  plan_points(s.points), s.asked(), table, fine);
    EXPECT_LE(outlook.share_error(), 0.002);
    EXPECT_GT(outlook.share_draws(), few);
    EXPECT_NEAR(mean(rough), mean(fine), 4.0 * std::hypot(0.006, 0.002));
}

/// The stated share against the act's own verdicts over simulated sights: within one percentage
/// point beyond what the numbers of runs allow (3 standard errors of both).
void expect_agreement(const PlannedSetup& s, int runs) {
    SetupOutlook outlook;
    outlook.stand(s.axes, s.marks, s.use, s.crew);
    std::vector<double> chance;
    outlook.share({.most = 20000, .standard_error = 0.001, .seed = 21}, plan_points(s.points),
                  s.asked(), WithinTable{}, chance);
    const auto simulated = simulate_verdicts(s.axes, s.marks, s.use, s.crew, s.points, runs, 77);
    std::printf("%zu marks, rod %.1f m, faces %d: simulated %.2f ± %.2f, told %.2f ± %.2f (%d)\n",
                s.use.size(), s.crew.lay_rod_m, s.crew.faces, 100.0 * simulated.share,
                100.0 * simulated.share_sd, 100.0 * mean(chance), 100.0 * outlook.share_error(),
                outlook.share_draws());
    EXPECT_EQ(simulated.not_solved, 0);
    EXPECT_NEAR(mean(chance), simulated.share,
                0.01 + 3.0 * std::hypot(simulated.share_sd, outlook.share_error()))
        << s.use.size() << " marks, rod " << s.crew.lay_rod_m << " m, faces " << s.crew.faces;
    EXPECT_NEAR(outlook.nothing_wrong(), simulated.nothing_wrong, 0.03);
}

TEST(outlook, stated_share_agrees_with_simulated_stations) {
    expect_agreement(planned(4, 0.3), 150);
    expect_agreement(planned(6, 0.6), 150);
}

/// The very same sights to the act's diagnosis and to the plan's formulas.
TEST(outlook, each_draw_gives_the_word_that_the_station_gives) {
    for (const int count : {3, 5})
        for (const double rod : {0.1, 0.6}) {
            PlannedSetup s = planned(count, rod, 2, 30);
            SetupOutlook outlook;
            outlook.stand(s.axes, s.marks, s.use, s.crew);
            Random random(31);
            std::vector<double> told;
            double worst = 0.0;
            int near = 0;
            int different = 0;
            for (int run = 0; run < 60; ++run) {
                const auto input =
                    test_support::simulate_setup(random, s.axes, s.marks, s.use, s.crew);
                const auto prepared = station::prepare(input);
                const auto solved = station::solve_station(*prepared);
                ASSERT_TRUE(solved);
                const auto diagnosis = cause::diagnose(*prepared, solved->best, s.crew.causes);
                const auto theirs =
                    station::forecast(solved->best.pose, s.points, s.crew.instrument,
                                      s.crew.lay_rod_m, diagnosis.beliefs, s.crew.confidence);
                const auto model = station::misfit_model(*prepared, solved->best.pose);
                std::vector<Vector3d> misfits(s.use.size(), Vector3d::Zero());
                for (std::size_t r = 0; r < model.rows.size(); ++r)
                    for (std::size_t i = 0; i < s.use.size(); ++i) {
                        const auto mark = static_cast<std::size_t>(model.rows[r].mark);
                        const auto use = static_cast<std::size_t>(s.use[i]);
                        if (prepared->marks[mark].name == s.marks[use].name)
                            misfits[i] += model.rows[r].by_target *
                                          model.misfit[static_cast<Eigen::Index>(r)];
                    }
                outlook.probabilities(misfits, plan_points(s.points), s.asked(), WithinTable{},
                                      told);
                // p itself is as exact as the comparison with the confidence asks for.
                for (std::size_t i = 0; i < told.size(); ++i) {
                    const double apart = theirs.points[i].probability - s.crew.confidence;
                    near += std::abs(apart) < 0.01;
                    if ((told[i] >= s.crew.confidence) == (apart >= 0.0)) continue;
                    ++different;
                    worst = std::max(worst, std::abs(apart));
                }
            }
            EXPECT_LT(worst, 3e-4) << count << " marks, rod " << rod;
            EXPECT_LE(different, near / 50) << count << " marks, rod " << rod;
            EXPECT_GT(near, 10);
        }
}

TEST(outlook_slow, stated_share_agrees_with_simulated_stations_within_one_point) {
    for (const int count : {3, 4, 5, 8, 12})
        for (const double rod : {0.1, 0.6}) expect_agreement(planned(count, rod, 2, 30), 3000);
    PlannedSetup two_faces = planned(4, 0.5, 3, 30);
    two_faces.crew.faces = 2;
    expect_agreement(two_faces, 3000);
    PlannedSetup off_side = planned(4, 0.3, 2, 30);
    off_side.axes = {52.0, 12.0, 1.6};
    expect_agreement(off_side, 3000);
}

// How often a moved mark is named, against the act's own diagnosis of simulated sights.
TEST(outlook_slow, naming_agrees_with_the_diagnosis) {
    for (const int count : {4, 7}) {
        PlannedSetup s = planned(count, 0.3);
        SetupOutlook outlook;
        outlook.stand(s.axes, s.marks, s.use, s.crew);
        const auto naming = outlook.naming(Draws(1500, 12, 4), Draws(1500, 12, 5));
        ASSERT_EQ(naming.size(), static_cast<std::size_t>(count));
        const int mark = naming[1].mark;
        Random random(6);
        const auto& sizes = s.crew.causes.of(cause::Cause::mark_moved).sizes;
        int named = 0;
        constexpr int kRuns = 900;
        for (int run = 0; run < kRuns; ++run) {
            const double size = sizes[static_cast<std::size_t>(run) % sizes.size()].length_m;
            const double east = size * random.normal();
            const auto input = test_support::simulate_setup(random, s.axes, s.marks, s.use, s.crew,
                                                            mark, {east, size * random.normal()});
            const auto prepared = station::prepare(input);
            const auto solved = station::solve_station(*prepared);
            ASSERT_TRUE(solved);
            const auto diagnosis = cause::diagnose(*prepared, solved->best, s.crew.causes);
            const cause::Entry& first = diagnosis.entries.front();
            bool is_on_it = false;
            for (const auto& member : first.members)
                is_on_it = is_on_it || (!member.subjects.empty() &&
                                        member.subjects.front() ==
                                            s.marks[static_cast<std::size_t>(mark)].name);
            named += is_on_it;
        }
        const double seen = static_cast<double>(named) / kRuns;
        const double sd = std::sqrt(seen * (1.0 - seen) / kRuns);
        // Entries group explanations by their evidence, the outlook by their mark.
        EXPECT_NEAR(naming[1].chance, seen, 0.03 + 4.0 * sd) << count;
        EXPECT_GT(naming[1].chance, 0.3);
    }
}

}  // namespace
}  // namespace layproof::plan
