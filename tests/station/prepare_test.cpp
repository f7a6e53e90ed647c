#include <gtest/gtest.h>

#include <cmath>

#include "station/prepared.hpp"
#include "station/scenes.hpp"
#include "station/solution.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

using layproof::testing::simulate_site;
using layproof::testing::SiteOptions;

StationInput two_face_input(double collimation_s, double index_s) {
    Random random(91);
    SiteOptions options;
    options.marks = 4;
    options.noise = false;
    options.two_faces = true;
    auto site = simulate_site(random, options);
    site.input.sights.clear();
    site.pose.collimation_rad = collimation_s * measure::kRadPerArcsec;
    site.pose.index_rad = index_s * measure::kRadPerArcsec;
    for (std::size_t i = 0; i < 4; ++i) {
        layproof::testing::SightPlan plan;
        plan.target = site.input.marks[i].name;
        plan.tip = site.marks_m[i];
        plan.two_faces = true;
        layproof::testing::sight_to(nullptr, site.pose, site.input.instrument, plan, 1.0,
                                    site.input.sights);
    }
    return site.input;
}

TEST(prepare, two_faces_are_put_together_and_tell_the_instrument) {
    const auto setup = prepare(two_face_input(12.0, -7.0));
    ASSERT_TRUE(setup.ok());
    EXPECT_EQ(setup->sights.size(), 4U);
    EXPECT_EQ(setup->face_pairs, 4);
    EXPECT_NEAR(*setup->collimation_rad / measure::kRadPerArcsec, 12.0, 1e-6);
    EXPECT_NEAR(*setup->index_error_rad / measure::kRadPerArcsec, -7.0, 1e-6);
    EXPECT_EQ(setup->sights[1].booked, (std::vector<int>{2, 3}));
}

TEST(prepare, faces_booked_as_a_round_out_and_back_are_put_together) {
    StationInput input = two_face_input(12.0, -7.0);
    const auto sights = input.sights;
    input.sights = {sights[0], sights[2], sights[4], sights[6],
                    sights[7], sights[5], sights[3], sights[1]};
    const auto setup = prepare(input);
    ASSERT_TRUE(setup.ok());
    EXPECT_EQ(setup->face_pairs, 4);
    EXPECT_EQ(setup->sights[0].booked, (std::vector<int>{0, 7}));
}

TEST(prepare, set_aside_and_check_sights_are_kept_and_not_used) {
    Random random(92);
    SiteOptions options;
    options.marks = 5;
    auto site = simulate_site(random, options);
    site.input.sights[1].purpose = measure::Purpose::check;
    site.input.sights[2].purpose = measure::Purpose::lay;
    site.input.set_aside = {3};
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    ASSERT_EQ(setup->sights.size(), 4U);
    EXPECT_TRUE(setup->sights[0].used);
    EXPECT_FALSE(setup->sights[1].used);
    EXPECT_FALSE(setup->sights[2].used);
    EXPECT_EQ(setup->sights[2].why_not_used, "set aside");
    const auto solved = solve_station(*setup);
    ASSERT_TRUE(solved.ok());
    // Their misfits are shown all the same.
    EXPECT_TRUE(solved->best.sights[1].residual.distance.has_value());
    EXPECT_FALSE(solved->best.sights[1].standardised.distance.has_value());
    EXPECT_LT(std::abs(*solved->best.sights[1].residual.distance), 0.05);
}

TEST(prepare, refusals_say_what_and_where) {
    Random random(93);
    SiteOptions options;
    options.marks = 3;
    const auto site = simulate_site(random, options);

    StationInput input = site.input;
    input.sights[1].target = "nobody";
    input.sights[1].place = {"sights.csv", 7, 2};
    auto refused = prepare(input);
    ASSERT_FALSE(refused.ok());
    EXPECT_EQ(refused.refusal().code, ErrorCode::target_unknown);
    EXPECT_EQ(refused.refusal().place.line, 7);

    input = site.input;
    input.sights.clear();
    EXPECT_EQ(prepare(input).refusal().code, ErrorCode::no_sights);

    input = site.input;
    input.sights.resize(1);
    EXPECT_EQ(prepare(input).refusal().code, ErrorCode::too_few_marks);

    input = site.input;
    input.setup.kind = SetupKind::occupied;
    EXPECT_EQ(prepare(input).refusal().code, ErrorCode::setup_incomplete);
    input.setup.mark = "nobody";
    EXPECT_EQ(prepare(input).refusal().code, ErrorCode::setup_unknown);
    input.setup.mark = "M1";
    input.marks[0].east_m.reset();
    EXPECT_EQ(prepare(input).refusal().code, ErrorCode::setup_incomplete);
}

TEST(prepare, sights_that_fix_too_little_are_refused_when_solved) {
    Random random(94);
    SiteOptions options;
    options.marks = 2;
    layproof::testing::SightPlan part;
    part.has_distance = part.has_zenith = false;
    options.parts = {part};
    const auto site = simulate_site(random, options);
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    const auto solved = solve_station(*setup);
    ASSERT_FALSE(solved.ok());
    EXPECT_EQ(solved.refusal().code, ErrorCode::not_solvable);
}

TEST(prepare, twice_the_same_mark_place_is_refused_or_solved_but_never_not_finite) {
    Random random(95);
    SiteOptions options;
    options.marks = 2;
    auto site = simulate_site(random, options);
    site.input.marks[1] = site.input.marks[0];
    site.input.marks[1].name = "M2";
    const auto setup = prepare(site.input);
    ASSERT_TRUE(setup.ok());
    const auto solved = solve_station(*setup);
    if (solved.ok()) {
        EXPECT_TRUE(solved->best.pose.position_m.allFinite());
        EXPECT_TRUE(solved->best.pose.covariance.allFinite());
    }
}

}  // namespace
}  // namespace layproof::station
