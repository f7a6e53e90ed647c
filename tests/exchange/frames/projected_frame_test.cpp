// Projected frames against an independent library (GeographicLib) and a published line.

#include <gtest/gtest.h>

#include <proj.h>

#include <GeographicLib/Constants.hpp>
#include <GeographicLib/LambertConformalConic.hpp>
#include <GeographicLib/TransverseMercator.hpp>
#include <cmath>
#include <string>

#include "exchange/exchange_support.hpp"
#include "exchange/frames/frame_candidates.hpp"
#include "exchange/frames/projected_frame.hpp"
#include "measure/angle.hpp"
#include "measure/length.hpp"
#include "support/reference.hpp"

namespace layproof::exchange {
namespace {

constexpr double kGrs80_m = 6378137.0;
constexpr double kGrs80InverseFlattening = 298.257222101;
constexpr double kFactor = 1e-9;
constexpr double kMicrometre_m = 1e-6;

Geographic at_degrees(double longitude, double latitude) {
    return {longitude * measure::kRadPerDeg, latitude * measure::kRadPerDeg};
}

TEST(ProjectedFrame, transverse_mercator_agrees_with_another_library) {
    LAYPROOF_READ(frame, ProjectedFrame::open("EPSG:25832"));
    EXPECT_DOUBLE_EQ(frame->metres_per_unit(), 1.0);
    const GeographicLib::TransverseMercator judge(kGrs80_m, 1 / kGrs80InverseFlattening, 0.9996);
    for (const double latitude : {40.0, 49.0960, 60.0}) {
        for (const double longitude : {6.0, 8.436, 9.0, 11.9}) {
            double east = 0, north = 0, convergence = 0, scale = 0;
            judge.Forward(9.0, latitude, longitude, east, north, convergence, scale);
            const Geographic position = at_degrees(longitude, latitude);
            LAYPROOF_READ(grid, frame->to_grid(position));
            EXPECT_NEAR(grid->x(), east + 500000, kMicrometre_m);
            EXPECT_NEAR(grid->y(), north, kMicrometre_m);
            LAYPROOF_READ(factors, frame->factors(position));
            EXPECT_NEAR(factors->point_scale(), scale, kFactor);
            EXPECT_NEAR(factors->convergence_rad, convergence * measure::kRadPerDeg, kFactor);
            EXPECT_TRUE(factors->is_conformal());
            LAYPROOF_READ(back, frame->to_geographic(*grid));
            EXPECT_NEAR(back->longitude_rad, position.longitude_rad, 1e-13);
            EXPECT_NEAR(back->latitude_rad, position.latitude_rad, 1e-13);
        }
    }
}

TEST(ProjectedFrame, lambert_in_us_survey_feet_and_in_feet) {
    // Two state plane zones, one defined in each foot. Constants from the EPSG data set, by memory:
    // 2227 California zone 3: 37°04' and 38°26', origin 36°30' N 120°30' W, which has the
    // coordinates 6,561,666.667 and 1,640,416.667 US survey feet (2,000,000.0001 and 500,000.0001
    // m).
    LAYPROOF_READ(california, ProjectedFrame::open("EPSG:2227"));
    EXPECT_DOUBLE_EQ(california->metres_per_unit(), measure::kMetresPerUsFoot);
    const GeographicLib::LambertConformalConic judge(kGrs80_m, 1 / kGrs80InverseFlattening,
                                                     37.0 + 4.0 / 60, 38.0 + 26.0 / 60, 1.0);
    double east0 = 0, north0 = 0, east = 0, north = 0, convergence = 0, scale = 0;
    judge.Forward(-120.5, 36.5, -120.5, east0, north0);
    judge.Forward(-120.5, 37.8, -122.2, east, north, convergence, scale);
    const Geographic position = at_degrees(-122.2, 37.8);
    LAYPROOF_READ(grid, california->to_grid(position));
    EXPECT_NEAR(grid->x(), east - east0 + 6561666.667 * 1200 / 3937, kMicrometre_m);
    EXPECT_NEAR(grid->y(), north - north0 + 1640416.667 * 1200 / 3937, kMicrometre_m);
    LAYPROOF_READ(factors, california->factors(position));
    EXPECT_NEAR(factors->point_scale(), scale, kFactor);
    EXPECT_NEAR(factors->convergence_rad, convergence * measure::kRadPerDeg, kFactor);
    LAYPROOF_READ(arizona, ProjectedFrame::open("EPSG:2223"));
    EXPECT_DOUBLE_EQ(arizona->metres_per_unit(), 0.3048);
}

TEST(ProjectedFrame, factors_are_those_of_projs_own_function_where_it_works) {
    LAYPROOF_READ(frame, ProjectedFrame::open("EPSG:25832"));
    PJ* crs = proj_create(nullptr, "EPSG:25832");
    ASSERT_NE(crs, nullptr);
    for (const auto& [longitude, latitude] : {std::pair{8.436, 49.096}, std::pair{11.5, 55.0}}) {
        const Geographic position = at_degrees(longitude, latitude);
        const PJ_FACTORS own =
            proj_factors(crs, proj_coord(position.longitude_rad, position.latitude_rad, 0, 0));
        LAYPROOF_READ(factors, frame->factors(position));
        EXPECT_NEAR(factors->meridian_scale, own.meridional_scale, kFactor);
        EXPECT_NEAR(factors->parallel_scale, own.parallel_scale, kFactor);
        EXPECT_NEAR(factors->convergence_rad, own.meridian_convergence, kFactor);
    }
    proj_destroy(crs);
}

TEST(ProjectedFrame, published_line_of_55_km) {
    const layproof::testing::Reference reference("projection-line-scale");
    LAYPROOF_READ(frame, ProjectedFrame::open("+proj=utm +zone=55 +south +ellps=GRS80"));
    const auto dms = [](double d, double m, double s) { return d + m / 60 + s / 3600; };
    const Geographic flinders = at_degrees(dms(144, 25, 29.5244), -dms(37, 57, 3.7203));
    const Geographic buninyong = at_degrees(dms(143, 55, 35.3839), -dms(37, 39, 10.1561));
    LAYPROOF_READ(a, frame->to_grid(flinders));
    LAYPROOF_READ(b, frame->to_grid(buninyong));
    // Simpson's mean of the point scales is the line's (said by the example to 2e-7).
    LAYPROOF_READ(middle, frame->to_geographic(0.5 * (*a + *b)));
    LAYPROOF_READ(ka, frame->factors(flinders));
    LAYPROOF_READ(km, frame->factors(*middle));
    LAYPROOF_READ(kb, frame->factors(buninyong));
    const double line = (ka->point_scale() + 4 * km->point_scale() + kb->point_scale()) / 6;
    const double ellipsoidal =
        reference.input().at_path("points.ellipsoidal_distance_m").value_or(0.0);
    EXPECT_NEAR((*b - *a).norm() / ellipsoidal, line, 2e-7);
}

TEST(ProjectedFrame, combined_factor_of_a_site_turns_grid_into_ground) {
    LAYPROOF_READ(frame, ProjectedFrame::open("EPSG:25832"));
    const Eigen::Vector2d grid(458658.78, 5438232.79);
    LAYPROOF_READ(factors, frame->site_factors(grid, 113.7));
    const GeographicLib::TransverseMercator judge(kGrs80_m, 1 / kGrs80InverseFlattening, 0.9996);
    double latitude = 0, longitude = 0, convergence = 0, scale = 0;
    judge.Reverse(9.0, grid.x() - 500000, grid.y(), latitude, longitude, convergence, scale);
    EXPECT_NEAR(factors->point_scale, scale, kFactor);
    EXPECT_NEAR(factors->elevation, 1 - 113.7 / 6.382e6, 5e-8);  // mean radius at 49° by memory
    layproof::frame::GroundFrame ground{grid, {1000.0, 2000.0}, factors->combined()};
    const Eigen::Vector2d there = ground.to_ground(grid + Eigen::Vector2d(300.0, 400.0));
    EXPECT_NEAR((there - Eigen::Vector2d(1000.0, 2000.0)).norm(), 500.0 / factors->combined(),
                1e-9);
    EXPECT_NEAR((ground.to_grid(there) - grid - Eigen::Vector2d(300.0, 400.0)).norm(), 0.0, 1e-8);
}

TEST(FrameCandidates, the_zone_that_explains_a_scale_is_named) {
    const std::vector<std::string> zones{"EPSG:25831", "EPSG:25832", "EPSG:25833", "EPSG:2227",
                                         "x"};
    const Geographic site = at_degrees(8.436, 49.096);
    LAYPROOF_READ(frame, ProjectedFrame::open("EPSG:25832"));
    LAYPROOF_READ(grid, frame->to_grid(site));
    LAYPROOF_READ(factors, frame->site_factors(*grid, 250.0));
    const auto all = scale_candidates_at({site, 250.0}, zones, {"the drawing", "the sheet"});
    const auto found = layproof::vet::weigh_scales(factors->combined(), 1.0, all);
    ASSERT_FALSE(found.empty());
    EXPECT_EQ(found[0].candidate.frame, frame->name());
    EXPECT_EQ(found[0].candidate.explanation.kind, layproof::frame::ScaleKind::factor);
    EXPECT_EQ(found[0].candidate.explanation.words,
              "the sheet is on the grid, the drawing on the ground (combined factor)");
    EXPECT_GT(found[0].probability, 0.9);
    // A foot is a foot whatever the zone.
    const auto foot = layproof::vet::weigh_scales(1.000002, 0.1, all);
    ASSERT_FALSE(foot.empty());
    EXPECT_EQ(foot[0].candidate.frame, "");
    EXPECT_EQ(foot[0].candidate.explanation.kind, layproof::frame::ScaleKind::foot);
    const auto strange = layproof::vet::weigh_scales(1.0004, 1.0, all);
    ASSERT_FALSE(strange.empty());
    EXPECT_TRUE(strange[0].is_unknown);
}

TEST(FrameCandidates, the_data_base_knows_the_systems_of_a_place) {
    const auto codes = projected_systems_at(at_degrees(8.436, 49.096));
    EXPECT_NE(std::find(codes.begin(), codes.end(), "EPSG:25832"), codes.end());
    EXPECT_EQ(std::find(codes.begin(), codes.end(), "EPSG:2227"), codes.end());
    EXPECT_EQ(projected_systems_at(at_degrees(8.436, 49.096), 3).size(), 3U);
    EXPECT_TRUE(projected_systems_at(at_degrees(NAN, 49.0)).empty());
    const std::vector<std::string> again{"EPSG:25832", "EPSG:25832", "EPSG:32632"};
    const auto alone = scale_candidates_at({at_degrees(8.436, 49.096), 0.0}, {});
    const auto all = scale_candidates_at({at_degrees(8.436, 49.096), 0.0}, again);
    // Two realisations of one zone are one candidate: point scale, combined and elevation factor,
    // both ways, alone and with each unit.
    EXPECT_EQ(all.size(), alone.size() + 6 + 6 * (alone.size() - 1));
    EXPECT_EQ(all[alone.size()].frame, "ETRS89 / UTM zone 32N and 1 more");
}

TEST(ProjectedFrame, what_is_no_projected_frame_is_refused) {
    const auto code = [](const char* definition) {
        const auto result = ProjectedFrame::open(definition);
        return result.ok() ? ErrorCode{} : result.refusal().code;
    };
    EXPECT_EQ(code(""), ErrorCode::word_unknown);
    EXPECT_EQ(code("EPSG:99999999"), ErrorCode::word_unknown);
    EXPECT_EQ(code("no such thing"), ErrorCode::word_unknown);
    EXPECT_EQ(code("EPSG:4326"), ErrorCode::format_unknown);
    EXPECT_EQ(code("EPSG:5555"), ErrorCode{});  // UTM with a height system: its plane part
    LAYPROOF_READ(frame, ProjectedFrame::open("EPSG:25832"));
    EXPECT_FALSE(frame->to_grid({std::nan(""), 0.5}).ok());
    EXPECT_FALSE(frame->to_grid(at_degrees(9.0, 95.0)).ok());
    EXPECT_FALSE(frame->factors(at_degrees(9.0, 90.0)).ok());
    EXPECT_FALSE(frame->to_geographic({1e300, 0.0}).ok());
}

}  // namespace
}  // namespace layproof::exchange
