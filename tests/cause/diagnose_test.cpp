#include "cause/diagnose.hpp"

#include <gtest/gtest.h>

#include "cause/planted.hpp"
#include "support/scene.hpp"

namespace layproof::cause::testing {
namespace {

constexpr double kArcsec = measure::kRadPerArcsec;
using layproof::testing::draw_scene;
using layproof::testing::main_causes;
using layproof::testing::Scene;

CauseTable random_table(Random& random) {
    CauseTable table;
    for (const Cause cause : all_causes()) {
        CausePrior& prior = table.of(cause);
        prior.frequency = random.below(4) == 0 ? 0.0 : random.uniform();
        if (size_kind(cause) == SizeKind::none) continue;
        const int sizes = 1 + random.below(3);
        for (int i = 0; i < sizes; ++i)
            prior.sizes.push_back({std::exp(random.uniform(-10.0, 2.0)),
                                   std::exp(random.uniform(-14.0, 0.0)),
                                   std::exp(random.uniform(-14.0, 0.0))});
    }
    table.of(Cause::nothing_wrong).frequency += 0.1;
    table.pairs = random.uniform(0.0, 0.3);
    return table;
}

TEST(Diagnose, random_scenes_and_tables_give_sound_answers) {
    Random random(41);
    for (int run = 0; run < 150; ++run) {
        const Scene scene = draw_scene(static_cast<std::uint64_t>(9000 + run),
                                       layproof::testing::main_table(), main_causes());
        SCOPED_TRACE(run);
        expect_sound(
            answer(scene.input, run % 2 == 0 ? random_table(random) : shipped_table()).diagnosis);
    }
}

TEST(Diagnose, partial_sights_and_other_setups_give_sound_answers) {
    Random random(42);
    for (int run = 0; run < 120; ++run) {
        SCOPED_TRACE(run);
        layproof::testing::SiteOptions options;
        options.marks = 3 + random.below(4);
        options.rounds = 1 + random.below(2);
        options.two_faces = random.below(2) == 1;
        options.kind = run % 3 == 0 ? station::SetupKind::occupied : station::SetupKind::free;
        using layproof::testing::SightPlan;
        SightPlan directions;
        directions.has_distance = false;
        SightPlan plan;
        plan.has_zenith = false;
        plan.horizontal_distance = true;
        SightPlan only_direction = directions;
        only_direction.has_zenith = false;
        if (run % 4 == 1) options.parts = {SightPlan{}, directions};
        if (run % 4 == 2) options.parts = {plan};
        if (run % 4 == 3) options.parts = {SightPlan{}, plan, only_direction};
        auto site = layproof::testing::simulate_site(random, options);
        if (run % 2 == 1) site.input.marks[0].east_m = *site.input.marks[0].east_m + 0.04;
        const auto setup = station::prepare(site.input);
        ASSERT_TRUE(setup.ok());
        const auto solved = station::solve_station(*setup);
        if (!solved.ok()) continue;  // too little was sighted
        expect_sound(diagnose(*setup, solved->best, shipped_table()));
    }
}

TEST(Diagnose, plan_only_sights_find_a_moved_mark_and_no_heights) {
    Site site = around();
    auto input = book(site, {{Cause::mark_moved, 1, -1, {0.05, -0.03, 0}}});
    for (auto& sight : input.sights) {
        sight.horizontal_distance_m = *sight.slope_distance_m * std::sin(*sight.zenith_rad);
        sight.slope_distance_m.reset();
        sight.zenith_rad.reset();
    }
    const Answer a = answer(input);
    expect_sound(a.diagnosis);
    const Explanation* e = named(a.diagnosis, Cause::mark_moved, {"H2"});
    ASSERT_NE(e, nullptr) << words(a.diagnosis);
    EXPECT_NEAR(*e->estimate.east_m, 0.05, 0.004);
    for (const Entry& entry : a.diagnosis.entries)
        for (const Explanation& member : entry.members) {
            EXPECT_NE(member.cause, Cause::mark_height_changed);
            EXPECT_NE(member.cause, Cause::rod_height_wrong);
        }
}

TEST(Diagnose, directions_alone_find_a_moved_mark) {
    Site site = around();
    auto input = book(site, {{Cause::mark_moved, 1, -1, {0.05, 0.06, 0}}});
    for (auto& sight : input.sights) sight.slope_distance_m.reset();
    const Answer a = answer(input);
    expect_sound(a.diagnosis);
    EXPECT_NE(named(a.diagnosis, Cause::mark_moved, {"H2"}), nullptr) << words(a.diagnosis);
}

TEST(Diagnose, two_marks_keep_the_table_for_what_they_cannot_see) {
    Site site = around();
    site.marks = {{5, 40, 0.3}, {35, -20, 0.3}};  // heights that differ would tell
    site.rounds = 1;
    const CauseTable table = shipped_table();
    const Answer a = answer(book(site, {}));
    expect_sound(a.diagnosis);
    EXPECT_EQ(a.top().members.front().cause, Cause::nothing_wrong);
    // Exchanged names fit two marks as well as the right ones: the odds are those of the table.
    double swapped = 0.0;
    double nothing = 0.0;
    for (const Entry& entry : a.diagnosis.entries)
        for (const Explanation& e : entry.members) {
            if (entry.is_pair) continue;
            if (e.cause == Cause::names_swapped) swapped += e.probability;
            if (e.cause == Cause::nothing_wrong) nothing += e.probability;
        }
    EXPECT_NEAR(swapped / nothing,
                table.of(Cause::names_swapped).frequency / table.of(Cause::nothing_wrong).frequency,
                0.002);
}

TEST(Diagnose, one_redundant_number_splits_nothing_and_says_so) {
    // Two marks in plan: four readings, three unknowns. Every test is the same number.
    Site site = around();
    site.marks = {{0, 40, 0}, {35, -20, 0}};
    site.rounds = 1;
    auto input = book(site, {{Cause::prism_constant_wrong, -1, -1, {-0.03, 0, 0}}});
    for (auto& sight : input.sights) {
        sight.horizontal_distance_m = *sight.slope_distance_m * std::sin(*sight.zenith_rad);
        sight.slope_distance_m.reset();
        sight.zenith_rad.reset();
    }
    const Answer a = answer(input);
    expect_sound(a.diagnosis);
    EXPECT_EQ(a.solution.global_test.dof, 1);
    EXPECT_NE(a.top().members.front().cause, Cause::nothing_wrong) << words(a.diagnosis);
    EXPECT_LT(a.top().members.front().probability, 0.6) << words(a.diagnosis);
    EXPECT_LT(a.top().probability, 0.95) << words(a.diagnosis);
}

TEST(Diagnose, no_redundancy_leaves_the_table_as_it_was) {
    // One mark occupied, one sighted, plan only by a direction: nothing checks anything.
    Site site = around();
    site.marks.resize(1);
    site.rounds = 1;
    site.occupied = true;
    auto input = book(site, {});
    for (auto& sight : input.sights) {
        sight.slope_distance_m.reset();
        sight.zenith_rad.reset();
    }
    const Answer a = answer(input);
    expect_sound(a.diagnosis);
    EXPECT_EQ(a.top().members.front().cause, Cause::nothing_wrong) << words(a.diagnosis);
}

TEST(Diagnose, equally_likely_causes_are_split_by_the_data_alone) {
    CauseTable table = shipped_table();
    for (const Cause cause : all_causes()) table.of(cause).frequency = 1.0 / kCauseCount;
    table.pairs = 0.0;
    const Answer a = answer(book(around(), {{Cause::mark_moved, 1, -1, {0.05, -0.03, 0}}}), table);
    expect_sound(a.diagnosis);
    EXPECT_NE(named(a.diagnosis, Cause::mark_moved, {"H2"}), nullptr) << words(a.diagnosis);
    EXPECT_EQ(a.top().members.size(), 1U) << words(a.diagnosis);
}

TEST(Diagnose, table_with_nothing_else_answers_nothing_wrong) {
    CauseTable table;
    table.of(Cause::nothing_wrong).frequency = 1.0;
    const auto input = book(around(), {{Cause::mark_moved, 1, -1, {0.05, -0.03, 0}}});
    const Answer a = answer(input, table);
    expect_sound(a.diagnosis);
    ASSERT_EQ(a.diagnosis.entries.size(), 1U);
    EXPECT_EQ(a.top().members.front().cause, Cause::nothing_wrong);
    EXPECT_EQ(a.top().probability, 1.0);
    // An empty table says nothing; the answer is sound all the same.
    expect_sound(answer(input, CauseTable{}).diagnosis);
}

TEST(Diagnose, answer_does_not_depend_on_where_the_site_is_or_which_way_it_is_turned) {
    for (const Plant& plant : {Plant{Cause::mark_moved, 1, -1, {0.02, -0.01, 0}},
                               Plant{Cause::prism_constant_wrong, -1, -1, {0.012, 0, 0}},
                               Plant{Cause::rod_height_wrong, -1, 2, {0.02, 0, 0}}}) {
        Site here = around();
        const Answer a = answer(book(here, {plant}));
        Site there = here;
        there.moved_to = {412345.0, -98765.0, 812.0};
        there.orientation_rad = 4.1;
        const Answer b = answer(book(there, {plant}));
        ASSERT_EQ(a.diagnosis.entries.size(), b.diagnosis.entries.size());
        for (std::size_t i = 0; i < a.diagnosis.entries.size(); ++i)
            EXPECT_NEAR(a.diagnosis.entries[i].probability, b.diagnosis.entries[i].probability,
                        2e-6);
        // The whole site turned: marks, station and the amount in plan.
        Site turned = here;
        Plant turned_plant = plant;
        const double angle = 1.1;
        const auto turn = [&](Eigen::Vector3d& v) {
            const Eigen::Vector3d w = v;
            v.x() = std::cos(angle) * w.x() + std::sin(angle) * w.y();
            v.y() = -std::sin(angle) * w.x() + std::cos(angle) * w.y();
        };
        for (auto& mark : turned.marks) turn(mark);
        turn(turned.at);
        if (plant.cause == Cause::mark_moved) turn(turned_plant.amount);
        turned.orientation_rad += angle;
        const Answer c = answer(book(turned, {turned_plant}));
        ASSERT_EQ(a.diagnosis.entries.size(), c.diagnosis.entries.size());
        for (std::size_t i = 0; i < a.diagnosis.entries.size(); ++i)
            EXPECT_NEAR(a.diagnosis.entries[i].probability, c.diagnosis.entries[i].probability,
                        2e-6);
    }
}

TEST(Diagnose, order_of_the_marks_file_does_not_matter) {
    auto input = book(around(), {{Cause::mark_moved, 1, -1, {0.02, -0.01, 0}}});
    const Answer a = answer(input);
    std::reverse(input.marks.begin(), input.marks.end());
    const Answer b = answer(input);
    ASSERT_EQ(a.diagnosis.entries.size(), b.diagnosis.entries.size());
    for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_NEAR(a.diagnosis.entries[i].probability, b.diagnosis.entries[i].probability, 1e-7);
        EXPECT_EQ(a.diagnosis.entries[i].members.front().cause,
                  b.diagnosis.entries[i].members.front().cause);
        EXPECT_EQ(a.diagnosis.entries[i].members.front().subjects,
                  b.diagnosis.entries[i].members.front().subjects);
    }
}

TEST(Diagnose, beliefs_hold_the_true_state_of_a_wrong_prism_constant) {
    const Answer a =
        answer(book(around(), {{Cause::prism_constant_wrong, -1, -1, {-0.030, 0, 0}}}));
    station::State mean = station::State::Zero();
    for (const auto& b : a.diagnosis.beliefs) mean += b.weight * b.mean;
    EXPECT_NEAR(mean[station::state_prism], -0.030, 0.002);
    const Eigen::Vector2d pose = a.solution.pose.position_m.head<2>() + mean.head<2>();
    EXPECT_LT((pose - around().at.head<2>()).norm(), 0.001);
}

TEST(Diagnose, best_state_after_a_disturbance_is_the_pose_now) {
    const Plant plant{Cause::tripod_disturbed, -1, 7, {0.015, -0.02, 300 * kArcsec}};
    const Answer a = answer(book(around(), {plant}));
    const Eigen::Vector2d now = around().at.head<2>() + plant.amount.head<2>();
    const Eigen::Vector2d said =
        a.solution.pose.position_m.head<2>() + a.diagnosis.best_state.head<2>();
    EXPECT_LT((said - now).norm(), 0.003);
    EXPECT_NEAR(measure::wrap_pi(a.solution.pose.orientation_rad +
                                 a.diagnosis.best_state[station::state_orientation] -
                                 around().orientation_rad - plant.amount[2]),
                0.0, 8 * kArcsec);
}

TEST(Diagnose, pairs_add_up_with_what_was_not_tried) {
    const CauseTable table = shipped_table();
    const Answer a = answer(book(around(), {}));
    EXPECT_GE(a.diagnosis.pairs_left_out, 0.0);
    EXPECT_LE(a.diagnosis.pairs_left_out, table.pairs);
    DiagnoseOptions without;
    without.try_pairs = false;
    for (const Entry& entry : answer(book(around(), {}), table, without).diagnosis.entries)
        EXPECT_FALSE(entry.is_pair);
}

}  // namespace
}  // namespace layproof::cause::testing
