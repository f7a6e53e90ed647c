// Every cause of the catalogue, planted large in readings without noise, is named with the right
// subject and amount; in one round a group may hold it, because one sight to a mark cannot tell the
// rod from the mark.

#include "cause/planted.hpp"

namespace layproof::cause::testing {
namespace {

constexpr double kSecond_rad = measure::kRadPerArcsec;

struct Geometry {
    const char* what;
    Site site;
};

std::vector<Geometry> geometries() {
    std::vector<Geometry> out;
    for (auto [what, site] : {Geometry{"around", around()}, Geometry{"one-sided", one_sided()}}) {
        out.push_back({what, site});
        site.occupied = true;
        out.push_back({what, site});
        site.occupied = false;
        site.moved_to = {600000.0, 250000.0, 300.0};  // as large as coordinates in feet
        out.push_back({what, site});
    }
    return out;
}

/// Expects the plant on top and alone, with its amount.
void expect_named(const Site& site, const Plant& plant, std::vector<std::string> subjects,
                  double tolerance_m, const char* what) {
    SCOPED_TRACE(std::string(to_word(plant.cause)) + ", " + what);
    const Answer a = answer(book(site, {plant}));
    expect_sound(a.diagnosis);
    const Explanation* e = named(a.diagnosis, plant.cause, subjects);
    ASSERT_NE(e, nullptr) << words(a.diagnosis);
    EXPECT_EQ(a.top().members.size(), 1U) << words(a.diagnosis);
    EXPECT_GT(a.top().probability, 0.8) << words(a.diagnosis);
    const Estimate& estimate = e->estimate;
    const auto near = [&](const std::optional<double>& value, double wanted, double tolerance) {
        ASSERT_TRUE(value.has_value());
        EXPECT_NEAR(*value, wanted, tolerance);
    };
    switch (plant.cause) {
        case Cause::mark_moved:
        case Cause::rod_not_plumb:
            near(estimate.east_m, plant.amount[0], tolerance_m);
            near(estimate.north_m, plant.amount[1], tolerance_m);
            break;
        case Cause::tripod_disturbed:
            near(estimate.east_m, plant.amount[0], tolerance_m);
            near(estimate.north_m, plant.amount[1], tolerance_m);
            near(estimate.angle_rad, plant.amount[2], 10.0 * kSecond_rad);
            break;
        case Cause::mark_height_changed:
            near(estimate.height_m, plant.amount[0], tolerance_m);
            break;
        case Cause::distance_scale_wrong:
            near(estimate.ratio, plant.amount[0], 25e-6);
            break;
        case Cause::out_of_level:
            near(estimate.angle_rad, plant.amount.head<2>().norm(), 15.0 * kSecond_rad);
            break;
        case Cause::vertical_index_wrong:
        case Cause::gross_direction:
        case Cause::gross_zenith:
            near(estimate.angle_rad, plant.amount[0], 0.02 * std::abs(plant.amount[0]));
            break;
        case Cause::names_swapped:
        case Cause::wrong_name:
            break;
        default:
            near(estimate.length_m, plant.amount[0], tolerance_m);
    }
}

TEST(Planted, causes_at_marks_are_named_with_their_amount) {
    for (const auto& [what, site] : geometries()) {
        expect_named(site, {Cause::mark_moved, 1, -1, {0.05, -0.03, 0}}, {"H2"}, 0.004, what);
        expect_named(site, {Cause::mark_moved, 2, -1, {-0.02, -0.04, 0}}, {"H3"}, 0.004, what);
        expect_named(site, {Cause::mark_height_changed, 2, -1, {0.045, 0, 0}}, {"H3"}, 0.003, what);
        expect_named(site, {Cause::mark_height_changed, 0, -1, {-0.06, 0, 0}}, {"H1"}, 0.003, what);
    }
}

TEST(Planted, causes_at_one_sight_are_named_with_their_amount) {
    for (const auto& [what, site] : geometries()) {
        expect_named(site, {Cause::rod_not_plumb, -1, 1, {0.03, 0.02, 0}}, {"H2"}, 0.004, what);
        expect_named(site, {Cause::rod_height_wrong, -1, 2, {0.3, 0, 0}}, {"H3"}, 0.003, what);
        expect_named(site, {Cause::rod_height_wrong, -1, 0, {-0.1, 0, 0}}, {"H1"}, 0.003, what);
    }
}

TEST(Planted, causes_of_the_whole_setup_are_named_with_their_amount) {
    for (const auto& [what, site] : geometries()) {
        expect_named(site, {Cause::prism_constant_wrong, -1, -1, {-0.030, 0, 0}}, {}, 0.003, what);
        expect_named(site,
                     {Cause::out_of_level, -1, -1, {180 * kSecond_rad, -120 * kSecond_rad, 0}}, {},
                     0.0, what);
        expect_named(site, {Cause::vertical_index_wrong, -1, -1, {200 * kSecond_rad, 0, 0}}, {},
                     0.0, what);
    }
    expect_named(around(), {Cause::distance_scale_wrong, -1, -1, {500e-6, 0, 0}}, {}, 0.0,
                 "around");
}

TEST(Planted, disturbed_tripod_is_named_with_the_first_sight_after_it) {
    for (const auto& [what, site] : geometries()) {
        const int marks = static_cast<int>(site.marks.size());
        expect_named(site,
                     {Cause::tripod_disturbed, -1, marks + 1, {0.015, -0.02, 300 * kSecond_rad}},
                     {"H2"}, 0.006, what);
        expect_named(site, {Cause::tripod_disturbed, -1, marks, {-0.02, 0.01, -200 * kSecond_rad}},
                     {"H1"}, 0.006, what);
    }
}

TEST(Planted, gross_readings_are_named_with_their_amount) {
    for (const auto& [what, site] : geometries()) {
        for (const double sign : {1.0, -1.0}) {
            expect_named(site, {Cause::gross_direction, -1, 1, {sign * 7200 * kSecond_rad, 0, 0}},
                         {"H2"}, 0.0, what);
            expect_named(site, {Cause::gross_zenith, -1, 1, {sign * 14400 * kSecond_rad, 0, 0}},
                         {"H2"}, 0.0, what);
            expect_named(site, {Cause::gross_distance, -1, 0, {sign * 1.5, 0, 0}}, {"H1"}, 0.004,
                         what);
        }
    }
}

TEST(Planted, rod_height_wrong_on_all_is_seen_where_the_height_comes_from_elsewhere) {
    Site site = around();
    site.occupied = true;
    expect_named(site, {Cause::rod_height_wrong_on_all, -1, -1, {0.3, 0, 0}}, {}, 0.004,
                 "occupied");
    site.occupied = false;
    const Answer a = answer(book(site, {{Cause::rod_height_wrong_on_all, -1, -1, {0.3, 0, 0}}}));
    EXPECT_EQ(a.top().members.front().cause, Cause::nothing_wrong) << words(a.diagnosis);
}

TEST(Planted, large_rod_height_errors_stay_exact_on_short_sights) {
    for (const double error_m : {0.3, -0.3, 1.0}) {
        for (const int rounds : {1, 2}) {
            Site site = small();
            site.marks.push_back({4, 3, 0.0});  // 5 m away
            site.rounds = rounds;
            const Answer a =
                answer(book(site, {{Cause::rod_height_wrong, -1, 3, {error_m, 0, 0}}}));
            const Explanation* e = named(a.diagnosis, Cause::rod_height_wrong, {"H4"});
            ASSERT_NE(e, nullptr) << words(a.diagnosis);
            EXPECT_NEAR(*e->estimate.length_m, error_m, 0.001) << words(a.diagnosis);
            // The pose it gives is the true one.
            const Eigen::Vector3d pose =
                a.solution.pose.position_m + Eigen::Vector3d(e->pose_change[station::state_east],
                                                             e->pose_change[station::state_north],
                                                             e->pose_change[station::state_height]);
            EXPECT_LT((pose - site.at).norm(), 0.0005);
        }
    }
}

TEST(Planted, in_one_round_a_group_holds_the_cause) {
    for (Site site : {around(), one_sided()}) {
        site.rounds = 1;
        const auto holds = [&](const Plant& plant, const std::vector<std::string>& subjects) {
            const Answer a = answer(book(site, {plant}));
            expect_sound(a.diagnosis);
            EXPECT_NE(named(a.diagnosis, plant.cause, subjects), nullptr)
                << to_word(plant.cause) << "\n"
                << words(a.diagnosis);
        };
        holds({Cause::mark_moved, 1, -1, {0.04, -0.03, 0}}, {"H2"});
        holds({Cause::rod_not_plumb, -1, 1, {0.012, -0.009, 0}}, {"H2"});
        holds({Cause::mark_height_changed, 2, -1, {0.045, 0, 0}}, {"H3"});
        holds({Cause::rod_height_wrong, -1, 2, {0.3, 0, 0}}, {"H3"});
        holds({Cause::prism_constant_wrong, -1, -1, {-0.030, 0, 0}}, {});
        holds({Cause::names_swapped, 0, -1, {0, 0, 0}, 1}, {"H1", "H2"});
    }
}

TEST(Planted, one_sight_to_a_mark_cannot_tell_a_leaning_rod_from_a_moved_mark) {
    Site site = around();
    site.rounds = 1;
    const Answer a = answer(book(site, {{Cause::mark_moved, 1, -1, {0.012, -0.008, 0}}}));
    ASSERT_EQ(a.top().members.size(), 2U) << words(a.diagnosis);
    EXPECT_NE(named(a.diagnosis, Cause::mark_moved, {"H2"}), nullptr);
    EXPECT_NE(named(a.diagnosis, Cause::rod_not_plumb, {"H2"}), nullptr);
}

TEST(Planted, exchanged_names_are_found) {
    for (const auto& [what, site] : geometries()) {
        expect_named(site, {Cause::names_swapped, 0, -1, {0, 0, 0}, 2}, {"H1", "H3"}, 0.0, what);
        expect_named(site, {Cause::names_swapped, 1, -1, {0, 0, 0}, 3}, {"H2", "H4"}, 0.0, what);
        expect_named(site, {Cause::wrong_name, -1, 1, {0, 0, 0}, 2}, {"H2", "H3"}, 0.0, what);
    }
}

TEST(Planted, nothing_wrong_is_said_where_nothing_is) {
    for (auto [what, site] : geometries()) {
        for (const int rounds : {1, 2}) {
            site.rounds = rounds;
            const Answer a = answer(book(site, {}));
            expect_sound(a.diagnosis);
            EXPECT_EQ(a.top().members.front().cause, Cause::nothing_wrong) << words(a.diagnosis);
            EXPECT_GT(a.top().probability, 0.6) << what;
        }
    }
}

TEST(Planted, pairs_of_large_causes_are_found) {
    const auto expect_pair = [](const Plant& one, const std::vector<std::string>& of_one,
                                const Plant& two, const std::vector<std::string>& of_two) {
        const Answer a = answer(book(around(), {one, two}));
        expect_sound(a.diagnosis);
        ASSERT_TRUE(a.top().is_pair) << words(a.diagnosis);
        const Explanation* first = named(a.diagnosis, one.cause, of_one);
        const Explanation* second = named(a.diagnosis, two.cause, of_two);
        ASSERT_NE(first, nullptr) << words(a.diagnosis);
        ASSERT_NE(second, nullptr) << words(a.diagnosis);
        const auto largest = [](const Estimate& e) {
            return e.east_m ? *e.east_m : e.height_m ? *e.height_m : e.length_m.value_or(0.0);
        };
        EXPECT_NEAR(largest(first->estimate), one.amount[0], 0.004);
        EXPECT_NEAR(largest(second->estimate), two.amount[0], 0.004);
        // The true pose comes out of it.
        const Eigen::Vector2d pose =
            a.solution.pose.position_m.head<2>() + a.diagnosis.best_state.head<2>();
        EXPECT_LT((pose - around().at.head<2>()).norm(), 0.002);
    };
    const Plant moved{Cause::mark_moved, 1, -1, {0.05, -0.03, 0}};
    expect_pair(moved, {"H2"}, {Cause::mark_moved, 4, -1, {-0.06, 0.02, 0}}, {"H5"});
    expect_pair(moved, {"H2"}, {Cause::prism_constant_wrong, -1, -1, {-0.03, 0, 0}}, {});
    expect_pair(moved, {"H2"}, {Cause::rod_height_wrong, -1, 3, {0.3, 0, 0}}, {"H4"});
    expect_pair({Cause::mark_height_changed, 0, -1, {0.05, 0, 0}}, {"H1"},
                {Cause::rod_height_wrong, -1, 2, {-0.2, 0, 0}}, {"H3"});
}

}  // namespace
}  // namespace layproof::cause::testing
