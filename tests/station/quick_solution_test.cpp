// The quick way through an ordinary set-up against the general one, figure by figure.

#include <gtest/gtest.h>

#include <cmath>
#include <optional>

#include "station/quick_solution_internal.hpp"
#include "station/scenes.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

// Both stop within 1e-10 m of the same place.
constexpr double kStep_m = 1e-9;
constexpr double kFigure = 1e-6;

void expect_same(const PartFigures& a, const PartFigures& b, double size, double tolerance) {
    const auto same = [&](const std::optional<double>& x, const std::optional<double>& y) {
        ASSERT_EQ(x.has_value(), y.has_value());
        if (x) {
            EXPECT_NEAR(*x, *y, tolerance * std::max(size, std::abs(*y)));
        }
    };
    same(a.direction, b.direction);
    same(a.zenith, b.zenith);
    same(a.distance, b.distance);
}

TEST(quick_solution, every_figure_of_every_kind_agrees_with_the_general_solver) {
    const auto kinds = testing::scene_kinds();
    int quick = 0;
    for (std::size_t k = 0; k < kinds.size(); ++k) {
        SCOPED_TRACE(kinds[k].name);
        Random random(9100 + k);
        for (int draw = 0; draw < 25; ++draw) {
            auto site = testing::draw_scene(random, kinds[k]);
            if (site.input.sights.size() > 5 && draw % 3 == 0)
                site.input.sights[1].purpose = measure::Purpose::check;
            const auto setup = prepare(site.input);
            ASSERT_TRUE(setup.ok());
            const auto starts = start_values(*setup);
            const auto a = solve_station(*setup);
            const auto b = internal::solve_generally(*setup, starts);
            ASSERT_EQ(a.ok(), b.ok());
            if (!a.ok()) continue;
            std::vector<measure::ReducedSight> reduced;
            for (const ControlSight& sight : setup->sights) reduced.push_back(sight.reduced);
            quick += starts.size() == 1 &&
                             internal::quick_solution(*setup, starts.front(), reduced).has_value()
                         ? 1
                         : 0;
            const Solution& x = a->best;
            const Solution& y = b->best;
            EXPECT_NEAR((x.pose.position_m - y.pose.position_m).norm(), 0.0, kStep_m);
            EXPECT_NEAR(testing::turned(x.pose.orientation_rad, y.pose.orientation_rad), 0.0,
                        kStep_m);
            EXPECT_EQ(x.pose.has_height, y.pose.has_height);
            for (int i = 0; i < 4; ++i)
                for (int j = 0; j < 4; ++j)
                    EXPECT_NEAR(
                        x.pose.covariance(i, j), y.pose.covariance(i, j),
                        kFigure * std::sqrt(y.pose.covariance(i, i) * y.pose.covariance(j, j)));
            EXPECT_EQ(x.global_test.dof, y.global_test.dof);
            EXPECT_NEAR(x.global_test.statistic, y.global_test.statistic,
                        kFigure * std::max(1.0, y.global_test.statistic));
            EXPECT_EQ(x.global_test.upper, y.global_test.upper);
            for (std::size_t i = 0; i < x.sights.size(); ++i) {
                expect_same(x.sights[i].residual, y.sights[i].residual, 1e-3, kFigure);
                expect_same(x.sights[i].standardised, y.sights[i].standardised, 1.0, kFigure);
                expect_same(x.sights[i].redundancy, y.sights[i].redundancy, 1.0, kFigure);
                expect_same(x.sights[i].detectable, y.sights[i].detectable, 1e-6, kFigure);
            }
            for (std::size_t m = 0; m < x.marks.size(); ++m)
                EXPECT_NEAR((x.marks[m].adjusted_m - y.marks[m].adjusted_m).norm(), 0.0, kStep_m);
        }
    }
    // Most kinds are ordinary.
    EXPECT_GT(quick, 200);
}

TEST(quick_solution,
     sight_to_the_occupied_mark_and_marks_known_in_part_are_left_to_the_general_one) {
    Random random(92);
    layproof::testing::SiteOptions options;
    options.kind = SetupKind::occupied;
    auto site = layproof::testing::simulate_site(random, options);
    site.input.marks[1].height_m.reset();
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    std::vector<measure::ReducedSight> reduced;
    for (const ControlSight& sight : setup->sights) reduced.push_back(sight.reduced);
    EXPECT_FALSE(
        internal::quick_solution(*setup, start_values(*setup).front(), reduced).has_value());
    EXPECT_TRUE(solve_station(*setup).ok());
}

TEST(quick_solution, contradicting_sights_still_get_an_answer) {
    Random random(93);
    auto site = layproof::testing::simulate_site(random, {});
    std::swap(site.input.sights[0].target, site.input.sights[2].target);
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    const auto solved = solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    EXPECT_FALSE(solved->best.global_test.passes);
    EXPECT_TRUE(solved->best.pose.covariance.allFinite());
}

}  // namespace
}  // namespace layproof::station
