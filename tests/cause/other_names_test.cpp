// Exchanged names: the bound never drops a contender, and further marks of the job are thought of.

#include "cause/other_names_internal.hpp"

#include <gtest/gtest.h>

#include "cause/planted.hpp"
#include "station/start_values.hpp"
#include "support/scene.hpp"

namespace layproof::cause::testing {
namespace {

using layproof::testing::Scene;

/// ln likelihood of other names against the model, solved by the station's own solver.
std::optional<double> by_hand(const station::Prepared& setup, const std::vector<int>& names,
                              const station::MisfitModel& base) {
    station::Prepared renamed = setup;
    for (std::size_t i = 0; i < names.size(); ++i) renamed.sights[i].mark = names[i];
    const auto solved = station::solve_station(renamed);
    if (!solved.ok()) return std::nullopt;
    station::Pose pose = solved->best.pose;
    station::MisfitModel model;
    for (int step = 0; step < 4; ++step) {
        model = station::misfit_model(renamed, pose);
        if (!model.usable) return std::nullopt;
        pose.position_m += Eigen::Vector3d(model.pose_shift[0], model.pose_shift[1],
                                           model.pose_shift[station::kModelHeight]);
        pose.orientation_rad += model.pose_shift[station::kModelOrientation];
    }
    return -0.5 * (model.statistic - base.statistic) + model.log_volume - base.log_volume;
}

TEST(OtherNames, bound_drops_nothing_that_could_win) {
    int contenders = 0;
    for (int run = 0; run < 40; ++run) {
        const Scene scene = layproof::testing::draw_scene(
            static_cast<std::uint64_t>(500 + run), layproof::testing::main_table(),
            run % 3 == 0 ? std::vector<Cause>{Cause::names_swapped}
                         : layproof::testing::main_causes());
        const auto setup = station::prepare(scene.input);
        const auto solved = station::solve_station(*setup);
        ASSERT_TRUE(solved.ok());
        station::Pose pose = solved->best.pose;
        const auto model = station::misfit_model(*setup, pose);
        const auto found = internal::other_names(*setup, model);
        std::vector<int> booked;
        for (const auto& sight : setup->sights) booked.push_back(sight.mark);
        const int marks = static_cast<int>(setup->marks.size());
        EXPECT_EQ(found.swaps, marks * (marks - 1) / 2);
        EXPECT_EQ(found.wrong_names, static_cast<int>(booked.size()) * (marks - 1));
        double best = 0.0;
        for (const auto& c : found.contenders) best = std::max(best, c.log_likelihood);
        const auto check = [&](Cause cause, int a, int b, int sight,
                               const std::vector<int>& names) {
            const auto wanted = by_hand(*setup, names, model);
            if (!wanted || *wanted < best - 20.0) return;
            ++contenders;
            for (const auto& c : found.contenders) {
                if (c.cause != cause || c.mark_a != a || c.mark_b != b || c.sight != sight)
                    continue;
                EXPECT_NEAR(c.log_likelihood, *wanted, 0.01);
                return;
            }
            ADD_FAILURE() << "run " << run << ": " << to_word(cause) << " " << a << " " << b
                          << " dropped at " << *wanted;
        };
        for (int a = 0; a < marks; ++a) {
            for (int b = a + 1; b < marks; ++b) {
                std::vector<int> names = booked;
                for (int& n : names) n = n == a ? b : n == b ? a : n;
                check(Cause::names_swapped, a, b, -1, names);
            }
        }
        for (std::size_t i = 0; i < booked.size(); ++i) {
            for (int m = 0; m < marks; ++m) {
                if (m == booked[i]) continue;
                std::vector<int> names = booked;
                names[i] = m;
                check(Cause::wrong_name, booked[i], m, static_cast<int>(i), names);
            }
        }
    }
    EXPECT_GE(contenders, 13);  // the planted swaps at least
}

TEST(OtherNames, wrong_name_finds_a_mark_of_the_job_not_sighted_otherwise) {
    Site site = around();
    site.rounds = 1;
    auto input = book(site, {});
    // The sight to H5 was really to K, which nobody else sights; the job knows K.
    const Eigen::Vector3d k(-45.0, -60.0, 1.0);
    Site other = site;
    other.marks[4] = k;
    input.sights[4] = book(other, {}).sights[4];
    const auto setup = station::prepare(input);
    const auto solved = station::solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    station::UsedMark mark;
    mark.name = "K";
    mark.given_m = k;
    mark.sd_m.setConstant(0.0015);
    mark.has_plan = mark.has_height = true;
    mark.input_index = 20;
    const Diagnosis with = diagnose(*setup, solved->best, shipped_table(), {mark});
    expect_sound(with);
    const Explanation* e = named(with, Cause::wrong_name, {"H5", "K"});
    ASSERT_NE(e, nullptr) << words(with);
    EXPECT_EQ(e->sight, 4);
    const Eigen::Vector2d pose = solved->best.pose.position_m.head<2>() + e->pose_change.head<2>();
    EXPECT_LT((pose - site.at.head<2>()).norm(), 0.001);
    const Diagnosis without = diagnose(*setup, solved->best, shipped_table());
    expect_sound(without);
    EXPECT_EQ(named(without, Cause::wrong_name, {"H5", "K"}), nullptr);
}

TEST(OtherNames, exchanged_names_on_both_rounds_give_the_true_pose) {
    const Answer a = answer(book(around(), {{Cause::names_swapped, 0, -1, {0, 0, 0}, 2}}));
    const Explanation* e = named(a.diagnosis, Cause::names_swapped, {"H1", "H3"});
    ASSERT_NE(e, nullptr) << words(a.diagnosis);
    const Eigen::Vector2d pose = a.solution.pose.position_m.head<2>() + e->pose_change.head<2>();
    EXPECT_LT((pose - around().at.head<2>()).norm(), 1e-6);
}

}  // namespace
}  // namespace layproof::cause::testing
