#include "station/start_values.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "base/random.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using testing::exact_direction;
using testing::PlanSetup;
using testing::turned;

// Start values of exact readings are the answer, but for rounding; the closed forms square their
// input, so more is lost where a triangle is flat.
constexpr double kStart_m = 1e-6;

struct Plan {
    Eigen::Vector2d station;
    double orientation_rad = 0.0;
    std::vector<Eigen::Vector2d> marks;
};

Plan draw_plan(Random& random, int marks) {
    Plan out;
    out.station << random.uniform(-20.0, 20.0), random.uniform(-20.0, 20.0);
    out.orientation_rad = random.uniform(0.0, measure::kTwoPi);
    const double first = random.uniform(0.0, measure::kTwoPi);
    for (int i = 0; i < marks; ++i) {
        const double azimuth = first + measure::kTwoPi * (i + random.uniform(-0.3, 0.3)) / marks;
        const double reach = random.uniform(25.0, 80.0);
        out.marks.emplace_back(reach * std::sin(azimuth), reach * std::cos(azimuth));
    }
    return out;
}

Prepared book(const Plan& plan, const std::vector<std::pair<bool, bool>>& direction_and_distance,
              const Eigen::Vector2d& shift = Eigen::Vector2d::Zero()) {
    PlanSetup setup;
    for (std::size_t i = 0; i < plan.marks.size(); ++i) {
        const Eigen::Vector2d place = plan.marks[i] + shift;
        setup.mark("M" + std::to_string(i), place.x(), place.y(), 0.001);
        const auto [direction, distance] =
            direction_and_distance[std::min(i, direction_and_distance.size() - 1)];
        setup.sight(
            static_cast<int>(i),
            direction ? std::optional<double>(
                            exact_direction(plan.station, plan.marks[i], plan.orientation_rad))
                      : std::nullopt,
            2e-5,
            distance ? std::optional<double>((plan.marks[i] - plan.station).norm()) : std::nullopt,
            0.002);
    }
    return setup.centred();
}

int matches(const std::vector<StartValue>& values, const Prepared& setup, const Plan& plan,
            const Eigen::Vector2d& shift = Eigen::Vector2d::Zero(), double tolerance = kStart_m) {
    int out = 0;
    for (const StartValue& value : values) {
        const Eigen::Vector2d place =
            Eigen::Vector2d(value.east_m, value.north_m) + setup.origin_m.head<2>() - shift;
        if ((place - plan.station).norm() < tolerance &&
            std::abs(turned(value.orientation_rad, plan.orientation_rad)) < tolerance)
            ++out;
    }
    return out;
}

TEST(start_values, polar_vectors_to_two_or_more_marks_give_one_answer) {
    Random random(21);
    for (int draw = 0; draw < 200; ++draw) {
        const Plan plan = draw_plan(random, 2 + random.below(5));
        const Prepared setup = book(plan, {{true, true}});
        const auto values = start_values(setup);
        EXPECT_EQ(values.size(), 1U);
        EXPECT_EQ(matches(values, setup, plan), 1) << "draw " << draw;
    }
}

TEST(start_values, directions_to_three_or_more_marks_give_the_place) {
    Random random(22);
    for (int draw = 0; draw < 300; ++draw) {
        const Plan plan = draw_plan(random, 3 + random.below(5));
        const Prepared setup = book(plan, {{true, false}});
        EXPECT_EQ(matches(start_values(setup), setup, plan), 1) << "draw " << draw;
    }
}

TEST(start_values, directions_from_outside_the_marks_give_the_place) {
    Random random(23);
    for (int draw = 0; draw < 300; ++draw) {
        Plan plan = draw_plan(random, 3);
        const double azimuth = random.uniform(0.0, measure::kTwoPi);
        plan.station = 400.0 * Eigen::Vector2d(std::sin(azimuth), std::cos(azimuth));
        const Prepared setup = book(plan, {{true, false}});
        EXPECT_EQ(matches(start_values(setup), setup, plan, Eigen::Vector2d::Zero(), 1e-4), 1)
            << "draw " << draw;
    }
}

TEST(start_values, two_distances_and_one_direction_give_both_places) {
    Random random(24);
    for (int draw = 0; draw < 200; ++draw) {
        const Plan plan = draw_plan(random, 2);
        const Prepared setup = book(plan, {{true, true}, {false, true}});
        const auto values = start_values(setup);
        ASSERT_EQ(values.size(), 2U) << "draw " << draw;
        EXPECT_EQ(matches(values, setup, plan, Eigen::Vector2d::Zero(), 1e-5), 1);
        // The other place is the mirror image in the line through the marks; both fit the readings.
        for (const StartValue& value : values) {
            const Eigen::Vector2d place =
                Eigen::Vector2d(value.east_m, value.north_m) + setup.origin_m.head<2>();
            for (std::size_t i = 0; i < 2; ++i)
                EXPECT_NEAR((plan.marks[i] - place).norm(), (plan.marks[i] - plan.station).norm(),
                            1e-5);
            EXPECT_NEAR(turned(exact_direction(place, plan.marks[0], value.orientation_rad),
                               exact_direction(plan.station, plan.marks[0], plan.orientation_rad)),
                        0.0, 1e-6);
        }
    }
}

TEST(start_values, distance_with_two_directions_gives_every_place_that_fits) {
    Random random(25);
    int two_places = 0;
    for (int draw = 0; draw < 300; ++draw) {
        const Plan plan = draw_plan(random, 2);
        const Prepared setup = book(plan, {{true, true}, {true, false}});
        const auto values = start_values(setup);
        EXPECT_EQ(matches(values, setup, plan, Eigen::Vector2d::Zero(), 1e-5), 1)
            << "draw " << draw;
        two_places += values.size() == 2 ? 1 : 0;
        for (const StartValue& value : values) {
            const Eigen::Vector2d place =
                Eigen::Vector2d(value.east_m, value.north_m) + setup.origin_m.head<2>();
            EXPECT_NEAR((plan.marks[0] - place).norm(), (plan.marks[0] - plan.station).norm(),
                        1e-5);
            for (std::size_t i = 0; i < 2; ++i)
                EXPECT_NEAR(
                    turned(exact_direction(place, plan.marks[i], value.orientation_rad),
                           exact_direction(plan.station, plan.marks[i], plan.orientation_rad)),
                    0.0, 1e-6);
        }
    }
    EXPECT_GT(two_places, 0);
}

TEST(start_values, occupied_mark_gives_its_place_and_the_orientation) {
    Random random(26);
    for (int draw = 0; draw < 100; ++draw) {
        Plan plan = draw_plan(random, 1 + random.below(3));
        PlanSetup setup;
        for (std::size_t i = 0; i < plan.marks.size(); ++i) {
            setup.mark("M" + std::to_string(i), plan.marks[i].x(), plan.marks[i].y());
            setup.sight(static_cast<int>(i),
                        exact_direction(plan.station, plan.marks[i], plan.orientation_rad), 2e-5);
        }
        setup.mark("U", plan.station.x(), plan.station.y());
        Prepared prepared = setup.centred();
        prepared.occupied_mark = static_cast<int>(plan.marks.size());
        const auto values = start_values(prepared);
        EXPECT_EQ(values.size(), 1U);
        EXPECT_EQ(matches(values, prepared, plan), 1);
    }
}

TEST(start_values, mirrored_turned_and_far_sites_give_the_same_place) {
    Random random(27);
    const std::vector<std::vector<std::pair<bool, bool>>> kinds{
        {{true, true}}, {{true, false}}, {{true, true}, {true, false}}};
    for (const auto& kind : kinds) {
        for (int draw = 0; draw < 60; ++draw) {
            Plan plan = draw_plan(random, 4);
            Plan mirrored = plan;
            mirrored.station.x() = -plan.station.x();
            for (auto& mark : mirrored.marks) mark.x() = -mark.x();
            // The mirror image has its own readings: the circle still turns clockwise.
            const Eigen::Vector2d far(609600.0, -2000000.0);
            for (const Plan& p : {plan, mirrored}) {
                const Prepared setup = book(p, kind, far);
                EXPECT_GE(matches(start_values(setup), setup, p, far, 1e-5), 1);
            }
        }
    }
}

TEST(start_values, sights_that_cannot_place_the_station_give_nothing) {
    Random random(28);
    const Plan plan = draw_plan(random, 2);
    EXPECT_TRUE(start_values(book(plan, {{true, false}})).empty());
    EXPECT_TRUE(start_values(book(plan, {{false, true}})).empty());
    const Plan one = draw_plan(random, 1);
    EXPECT_TRUE(start_values(book(one, {{true, true}})).empty());
}

}  // namespace
}  // namespace layproof::station
