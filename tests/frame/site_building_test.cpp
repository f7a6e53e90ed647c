// Site and building: published similarity and affine examples; scales that mistakes make; map
// conversions and their misuse; grid and ground.

#include "frame/site_building.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "base/random.hpp"
#include "frame/affine.hpp"
#include "frame/ground.hpp"
#include "frame/map_conversion.hpp"
#include "measure/angle.hpp"
#include "measure/length.hpp"
#include "support/reference.hpp"

namespace layproof::frame {
namespace {

using Eigen::Vector2d;
using layproof::testing::Reference;

struct Row {
    std::string name;
    std::vector<double> values;
};

std::vector<Row> rows_of(const Reference& reference, const char* path) {
    std::vector<Row> out;
    const auto* rows = reference.input().at_path(path).as_array();
    for (const auto& node : *rows) {
        Row row;
        for (const auto& cell : *node.as_array()) {
            if (const auto number = cell.value<double>(); number && !cell.is_string()) {
                row.values.push_back(*number);
            } else {
                row.name = cell.value<std::string>().value_or("");
            }
        }
        out.push_back(std::move(row));
    }
    return out;
}

TEST(SiteBuilding, published_similarity_on_three_points) {
    const Reference reference("transform-similarity-least-squares");
    std::vector<SitePair> pairs;
    for (const Row& r : rows_of(reference, "control.rows")) {
        pairs.push_back({r.name, {r.values[0], r.values[1]}, {r.values[2], r.values[3]}, {}, {}});
    }
    ASSERT_EQ(pairs.size(), 3U);
    SiteFitOptions options;
    options.scale.reset();
    const SiteFit fit = fit_site(pairs, options);
    reference.check("scale", fit.scale);
    // The example turns anticlockwise.
    reference.check("rotation", 360.0 - fit.rotation_rad / measure::kRadPerDeg);
    reference.check("Tx", fit.origin_m.x());
    reference.check("Ty", fit.origin_m.y());
    for (const Row& r : rows_of(reference, "to_transform.rows")) {
        const Vector2d at = fit.to_site({r.values[0], r.values[1]});
        reference.check(r.name + ".E", at.x());
        reference.check(r.name + ".N", at.y());
        const Vector2d back = fit.to_building(at);
        EXPECT_NEAR((back - Vector2d(r.values[0], r.values[1])).norm(), 0.0, 1e-9);
    }
    // Its residual is transformed minus given.
    reference.check("residual_A_E", -fit.misfits_m[0].x());
    reference.check("residual_A_N", -fit.misfits_m[0].y());
    reference.check("residual_B_E", -fit.misfits_m[1].x());
}

TEST(Affine, published_weighted_example) {
    const Reference reference("transform-affine-weighted");
    std::vector<Vector2d> from, to, weights;
    for (const Row& r : rows_of(reference, "control.rows")) {
        from.emplace_back(r.values[0], r.values[1]);
        to.emplace_back(r.values[2], r.values[3]);
        weights.emplace_back(1 / (r.values[4] * r.values[4]), 1 / (r.values[5] * r.values[5]));
    }
    const auto fit = affine_fit(from, to, weights);
    ASSERT_TRUE(fit);
    const char* names[] = {"a", "b", "c", "d", "e", "f"};
    const double values[] = {fit->a, fit->b, fit->c_m, fit->d, fit->e, fit->f_m};
    for (std::size_t i = 0; i < 6; ++i) {
        reference.check(names[i], values[i]);
        reference.check(std::string("sd_") + names[i], fit->sd[i]);
    }
    reference.check("s0", fit->s0);
    for (const Row& r : rows_of(reference, "to_transform.rows")) {
        const Vector2d at = fit->place({r.values[0], r.values[1]});
        reference.check(r.name + ".X", at.x());
        reference.check(r.name + ".Y", at.y());
    }
}

TEST(Affine, what_does_not_determine_it_gives_nothing) {
    const std::vector<Vector2d> line{{0, 0}, {1, 1}, {2, 2}, {3, 3}};
    EXPECT_FALSE(affine_fit(line, line));
    EXPECT_FALSE(
        affine_fit(std::vector<Vector2d>{{0, 0}, {1, 0}}, std::vector<Vector2d>{{0, 0}, {1, 0}}));
    // At two million feet a skew of 10 ppm is seen.
    std::vector<Vector2d> from, to;
    for (const Vector2d& p :
         {Vector2d(0, 0), Vector2d(100, 0), Vector2d(0, 100), Vector2d(90, 80)}) {
        from.push_back(p + Vector2d(609600, 609600));
        to.emplace_back(p.x() + 1e-5 * p.y(), p.y());
    }
    const auto fit = affine_fit(from, to);
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->skew_rad(), 1e-5, 1e-10);
    EXPECT_NEAR(fit->scale_x(), 1, 1e-10);
}

/// Five columns of a hall, building to site with this scale, turned by 30°, moved far away; noise
/// with this standard deviation per axis.
std::vector<SitePair> hall(double scale, double sd_m, std::uint64_t seed, double size_m = 60.0) {
    Random random(seed);
    std::vector<SitePair> pairs;
    const double c = std::cos(measure::kPi / 6);
    const double s = std::sin(measure::kPi / 6);
    for (const Vector2d& p :
         {Vector2d(0, 0), Vector2d(1, 0), Vector2d(1, 0.7), Vector2d(0, 0.7), Vector2d(0.4, 0.3)}) {
        const Vector2d b = size_m * p;
        const Vector2d site(609600 + scale * (b.x() * c + b.y() * s) + sd_m * random.normal(),
                            152400 + scale * (b.y() * c - b.x() * s) + sd_m * random.normal());
        pairs.push_back({"", b, site, {}, {}});
    }
    return pairs;
}

TEST(SiteBuilding, turn_shift_and_heights_are_found_at_large_coordinates) {
    auto pairs = hall(1.0, 0.0, 1);
    pairs[0].building_height_m = 1.0;
    pairs[0].site_height_m = 101.5;
    pairs[1].building_height_m = 1.0;
    pairs[1].site_height_m = 101.3;
    const SiteFit fit = fit_site(pairs);
    EXPECT_EQ(fit.state, PlanFitState::determined);
    EXPECT_NEAR(fit.rotation_rad, measure::kPi / 6, 1e-11);
    EXPECT_NEAR(fit.origin_m.x(), 609600, 1e-9);
    EXPECT_NEAR(*fit.height_shift_m, 100.4, 1e-12);
    EXPECT_TRUE(fit.warnings.empty());
    EXPECT_NEAR(fit.free_scale, 1.0, 1e-11);
}

TEST(SiteBuilding, a_wrong_foot_is_named_with_the_scale_held_or_free) {
    // 600 m of site with marks good to 0.2 mm show 2 ppm; over 60 m nothing could.
    const double ratio = measure::kMetresPerUsFoot / measure::kMetresPerFoot;
    for (const bool is_free : {false, true}) {
        SiteFitOptions options;
        options.expected_sd_m = 0.0002;
        if (is_free) options.scale.reset();
        const SiteFit fit = fit_site(hall(ratio, 0.0, 2, 6000.0), options);
        ASSERT_EQ(fit.warnings.size(), 1U);
        EXPECT_NE(fit.warnings[0].find("us-ft"), std::string::npos) << fit.warnings[0];
        ASSERT_FALSE(fit.explanations.empty());
        EXPECT_EQ(fit.explanations[0].kind, ScaleKind::foot);
    }
    EXPECT_TRUE(fit_site(hall(ratio, 0.003, 2, 60.0)).warnings.empty());
}

TEST(SiteBuilding, a_grid_factor_and_a_wrong_unit_are_named) {
    SiteFitOptions options;
    options.factors.point_scale = 0.9996;
    options.factors.elevation_factor = 0.99998;
    SiteFit fit = fit_site(hall(0.9996 * 0.99998, 0.002, 3, 200.0), options);
    ASSERT_EQ(fit.warnings.size(), 1U);
    EXPECT_NE(fit.warnings[0].find("grid"), std::string::npos) << fit.warnings[0];
    fit = fit_site(hall(0.3048, 0.002, 4), options);
    ASSERT_EQ(fit.warnings.size(), 1U);
    EXPECT_NE(fit.warnings[0].find("ft"), std::string::npos) << fit.warnings[0];
    fit = fit_site(hall(1.0123, 0.002, 5), options);
    ASSERT_EQ(fit.warnings.size(), 1U);
    EXPECT_NE(fit.warnings[0].find("no foot"), std::string::npos) << fit.warnings[0];
}

TEST(SiteBuilding, honest_noise_raises_no_warning) {
    int warned = 0;
    constexpr int kRuns = 400;
    for (std::uint64_t seed = 0; seed < kRuns; ++seed) {
        warned += fit_site(hall(1.0, 0.003, 100 + seed)).warnings.empty() ? 0 : 1;
    }
    // Three estimated standard deviations with 6 of freedom: 2.4 % two-sided (Student's t); four
    // standard errors of 400 runs on top.
    EXPECT_LT(warned, 0.024 * kRuns + 4 * std::sqrt(0.024 * kRuns));
}

TEST(SiteBuilding, swapped_axes_are_seen) {
    auto pairs = hall(1.0, 0.002, 6);
    for (SitePair& p : pairs) std::swap(p.building_m.x(), p.building_m.y());
    const SiteFit fit = fit_site(pairs);
    EXPECT_TRUE(fit.is_mirrored);
    EXPECT_EQ(fit.warnings.size(), 1U);
    EXPECT_FALSE(fit_site(hall(1.0, 0.002, 6)).is_mirrored);
}

TEST(SiteBuilding, too_few_points_are_an_answer) {
    EXPECT_EQ(fit_site({}).state, PlanFitState::no_points);
    auto pairs = hall(1.0, 0.0, 7);
    pairs.resize(1);
    EXPECT_EQ(fit_site(pairs).state, PlanFitState::turn_undetermined);
    pairs.push_back(pairs[0]);
    EXPECT_EQ(fit_site(pairs).state, PlanFitState::turn_undetermined);
    pairs = hall(1.0, 0.0, 7);
    pairs.resize(2);
    SiteFitOptions free;
    free.scale.reset();
    const SiteFit fit = fit_site(pairs, free);
    EXPECT_EQ(fit.s0_m, 0.0);
    EXPECT_GT(fit.sd_scale_ppm, 10.0);  // 3 mm over 60 m
    EXPECT_TRUE(fit.warnings.empty());
}

TEST(ScaleRatio, candidates_are_ordered_and_bounded) {
    EXPECT_EQ(explain_scale(1.0, 0.1).at(0).kind, ScaleKind::none);
    const auto foot = explain_scale(1.000002000004, 0.1);
    ASSERT_FALSE(foot.empty());
    EXPECT_EQ(foot[0].kind, ScaleKind::foot);
    EXPECT_NEAR(foot[0].off_ppm, 0.0, 1e-3);
    EXPECT_EQ(explain_scale(0.999998, 0.1).at(0).kind, ScaleKind::foot);
    EXPECT_EQ(explain_scale(0.3048, 0.1).at(0).kind, ScaleKind::unit);
    EXPECT_EQ(explain_scale(1200.0 / 3937.0, 0.1).at(0).words.find("us-ft") != std::string::npos,
              true);
    EXPECT_EQ(explain_scale(25.4, 0.1).at(0).kind, ScaleKind::unit);
    KnownFactors f;
    f.point_scale = 0.9996;
    EXPECT_EQ(explain_scale(0.9996, 1.0, f).at(0).kind, ScaleKind::factor);
    EXPECT_EQ(explain_scale(1 / 0.9996, 1.0, f).at(0).kind, ScaleKind::factor);
    EXPECT_EQ(explain_scale(0.9996 * 0.3048, 0.1, f).at(0).kind, ScaleKind::unit);
    EXPECT_TRUE(explain_scale(1.01, 1.0, f).empty());
    for (const double bad : {0.0, -1.0, std::nan(""), HUGE_VAL}) {
        EXPECT_TRUE(explain_scale(bad, 1.0).empty());
        EXPECT_TRUE(explain_scale(1.0, bad == 0.0 || bad == -1.0 ? std::nan("") : bad).empty());
    }
}

TEST(MapConversion, scale_is_told_by_the_ratio_of_units) {
    MapConversion c;
    c.eastings = 500000;
    c.northings = 4000000;
    c.orthogonal_height = 100;
    c.x_axis_abscissa = 0.0;
    c.x_axis_ordinate = 1.0;  // the model's x runs to map north
    c.model_metres_per_unit = 0.001;
    c.map_metres_per_unit = 1.0;
    c.scale = 0.001;
    ResolvedConversion r = resolve(c);
    EXPECT_EQ(r.meaning, ScaleMeaning::units);
    EXPECT_TRUE(r.warnings.empty());
    Eigen::Vector3d at = r.to_map({10, 2, 3});
    EXPECT_NEAR((at - Eigen::Vector3d(499998, 4000010, 103)).norm(), 0, 1e-9);
    EXPECT_NEAR((r.to_model(at) - Eigen::Vector3d(10, 2, 3)).norm(), 0, 1e-9);
    c.scale.reset();
    r = resolve(c);
    EXPECT_EQ(r.meaning, ScaleMeaning::units_left);
    EXPECT_EQ(r.warnings.size(), 1U);
    EXPECT_NEAR((r.to_map({10, 2, 3}) - at).norm(), 0, 1e-12);
    c.scale = 0.9996;  // a grid factor, the units forgotten
    r = resolve(c);
    EXPECT_EQ(r.meaning, ScaleMeaning::grid_factor);
    EXPECT_NEAR(r.to_map({10, 2, 3}).z(), 103, 1e-12);  // heights are not scaled
    EXPECT_NEAR(r.to_map({10, 0, 0}).y(), 4000000 + 10 * 0.9996, 1e-9);
    c.scale = 0.001 * 0.9996;
    EXPECT_EQ(resolve(c).meaning, ScaleMeaning::both);
    c.scale = 1000.0;  // the ratio upside down
    r = resolve(c);
    EXPECT_EQ(r.meaning, ScaleMeaning::unexplained);
    EXPECT_FALSE(r.is_usable());
    EXPECT_FALSE(r.warnings.empty());
}

TEST(MapConversion, feet_axes_and_missing_units_are_told_apart) {
    MapConversion c;
    c.eastings = 6000000;
    c.northings = 2000000;
    c.model_metres_per_unit = measure::kMetresPerFoot;
    c.map_metres_per_unit = measure::kMetresPerUsFoot;
    c.scale = measure::kMetresPerFoot / measure::kMetresPerUsFoot;
    EXPECT_EQ(resolve(c).meaning, ScaleMeaning::units);
    c.scale = 1.0;  // 2 ppm: the units differ by a foot only
    EXPECT_EQ(resolve(c).meaning, ScaleMeaning::units_left);
    EXPECT_NEAR(resolve(c).to_map({0, 0, 0}).x(), 6000000 * measure::kMetresPerUsFoot, 1e-9);
    c.map_metres_per_unit.reset();
    EXPECT_NE(resolve(c).warnings.back().find("model's"), std::string::npos);
    c.map_metres_per_unit = measure::kMetresPerFoot;
    c.x_axis_abscissa = 30.0;  // an angle where a vector belongs
    c.x_axis_ordinate = 0.0;
    EXPECT_EQ(resolve(c).warnings.size(), 1U);
    c.x_axis_ordinate.reset();
    EXPECT_FALSE(resolve(c).is_usable());
    c.x_axis_abscissa = 0.0;
    c.x_axis_ordinate = 0.0;
    EXPECT_FALSE(resolve(c).is_usable());
    c.x_axis_abscissa = 1.0;
    c.has_world_offset = true;
    EXPECT_EQ(resolve(c).warnings.size(), 1U);
    c.factor_x = 0.9996;
    c.factor_y = 0.9996;
    EXPECT_NEAR(resolve(c).to_map({100, 0, 7}).x(), 6000000 * 0.3048 + 99.96, 1e-9);
    c.factor_z = -1.0;
    EXPECT_FALSE(resolve(c).is_usable());
    c.factor_z.reset();
    c.eastings = std::nan("");
    EXPECT_FALSE(resolve(c).is_usable());
}

TEST(Ground, published_factors) {
    const Reference reference("combined-scale-factor");
    const double feet =
        elevation_factor(reference.number("feet.R_ft"), reference.number("feet.H_ft"));
    reference.check("feet.combined",
                    GridFactors{reference.number("feet.grid_scale"), feet}.combined());
    reference.check("product.combined", GridFactors{reference.number("product.grid_scale"),
                                                    reference.number("product.elevation_factor")}
                                            .combined());
    const double radius_m = reference.number("table.R_m");
    const std::vector<std::pair<double, double>> table{
        {0, 0.99996}, {200, 0.99996}, {500, 0.99999}, {1000, 1.00001}, {2000, 1.00001}};
    for (const auto& [height_m, scale] : table) {
        const std::string at = std::to_string(static_cast<int>(height_m)) + "m";
        const double elevation = elevation_factor(radius_m, height_m);
        reference.check("elevation_factor_" + at, elevation);
        reference.check("combined_" + at, GridFactors{scale, elevation}.combined());
    }
}

TEST(Ground, odd_input_gives_no_odd_factor) {
    EXPECT_EQ(elevation_factor(6.38e6, -7e6), 1.0);
    EXPECT_EQ(elevation_factor(std::nan(""), 0.0), 1.0);
    EXPECT_EQ(elevation_factor(6.38e6, 0.0), 1.0);
    EXPECT_DOUBLE_EQ(gaussian_radius_m(6371000.0, 0.0, 0.7), 6371000.0);  // a sphere
    // GRS 80: b at the equator and a²/b at the poles (M·N there), by the definition of both radii.
    const double a = 6378137.0;
    const double b = a * (1 - 1 / 298.257222101);
    EXPECT_NEAR(gaussian_radius_m(a, 298.257222101, 0.0), b, 1e-6);
    EXPECT_NEAR(gaussian_radius_m(a, 298.257222101, measure::kPi / 2), a * a / b, 1e-6);
}

}  // namespace
}  // namespace layproof::frame
