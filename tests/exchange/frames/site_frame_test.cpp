// The site's frame on the map, GeoJSON into it and out of it, and IFC conversions applied.

#include <gtest/gtest.h>

#include <cmath>
#include <string>

#include "exchange/exchange_support.hpp"
#include "exchange/frames/site_frame.hpp"
#include "exchange/geojson/geojson.hpp"
#include "exchange/ifc/ifc.hpp"
#include "exchange/import/import.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::exchange {
namespace {

/// 9 decimals of a degree are 0.1 mm; the point written is that near.
constexpr double kNineDecimals_m = 0.0002;

Document named(std::string name, std::string bytes) {
    return {std::move(name), std::move(bytes)};
}

// Invented: three points near the middle of a zone.
Document three_points() {
    return named("site.geojson",
                 R"({"type":"FeatureCollection","features":[
{"type":"Feature","geometry":{"type":"Point","coordinates":[10.500000001,49.000000001,210.5]},"properties":{"name":"K1"}},
{"type":"Feature","geometry":{"type":"Point","coordinates":[10.501370001,49.000000001,210.9]},"properties":{"name":"K2"}},
{"type":"Feature","geometry":{"type":"Point","coordinates":[10.500000001,49.000900001]},"properties":{"name":"K3"}}]})");
}

TEST(SiteFrame, ground_distances_are_grid_distances_over_the_combined_factor) {
    LAYPROOF_READ(grid, SiteFrame::open({"EPSG:25832", {}, 0.0}));
    ReadOptions options;
    options.site = &*grid;
    LAYPROOF_READ(on_grid, read_any_marks(three_points(), options));
    const frame::Mark& first = on_grid->rows[0];
    const Eigen::Vector2d origin(*first.east_m, *first.north_m);
    LAYPROOF_READ(ground, SiteFrame::open({"EPSG:25832", origin, 260.0}));
    options.site = &*ground;
    LAYPROOF_READ(on_ground, read_any_marks(three_points(), options));
    ASSERT_EQ(on_ground->rows.size(), 3U);
    const double combined = ground->factors()->combined();
    EXPECT_LT(combined, 0.99995);
    EXPECT_NEAR(*on_ground->rows[0].east_m, origin.x(), 1e-9);
    for (int k : {1, 2}) {
        const auto& g = on_grid->rows[static_cast<std::size_t>(k)];
        const auto& s = on_ground->rows[static_cast<std::size_t>(k)];
        const double grid_m = (Eigen::Vector2d(*g.east_m, *g.north_m) - origin).norm();
        const double ground_m = (Eigen::Vector2d(*s.east_m, *s.north_m) - origin).norm();
        EXPECT_NEAR(ground_m * combined, grid_m, 1e-8);
        EXPECT_GT(ground_m - grid_m, 0.005);
    }
    // A geodesic of the ellipsoid of 0.00137° of longitude at 49°: N cos φ Δλ, N = a/√(1 − e²
    // sin²φ), on GRS 80; the grid is 0.9996 and a bit of it.
    const double e2 = 0.00669438002290;
    const double sine = std::sin(49.0 * 3.14159265358979 / 180.0);
    const double along = 6378137.0 / std::sqrt(1 - e2 * sine * sine) *
                         std::cos(49.0 * 3.14159265358979 / 180.0) * 0.00137 * 3.14159265358979 /
                         180.0;
    const double seen = *on_grid->rows[1].east_m - origin.x();
    EXPECT_NEAR(std::hypot(seen, *on_grid->rows[1].north_m - origin.y()),
                along * ground->factors()->point_scale, 1e-4);
    EXPECT_TRUE(std::any_of(on_ground->notices.begin(), on_ground->notices.end(), [](auto& n) {
        return n.find("combined factor") != std::string::npos;
    }));
}

TEST(SiteFrame, points_go_out_as_geojson_and_come_back_to_the_same_place) {
    LAYPROOF_READ(site, SiteFrame::open({"EPSG:25832", Eigen::Vector2d(609000, 5428000), 260.0}));
    std::vector<GeographicPoint> out;
    for (int k = 0; k < 4; ++k) {
        LAYPROOF_READ(point, geographic_point(*site, "P" + std::to_string(k),
                                              {609100.0 + 37.0 * k, 5428100.0 - 11.0 * k},
                                              210.0 + k, "word=proven"));
        out.push_back(*point);
    }
    ReadOptions options;
    options.site = &*site;
    LAYPROOF_READ(back, read_any_points(named("back.geojson", write_geojson(out)), options));
    ASSERT_EQ(back->rows.size(), 4U);
    for (int k = 0; k < 4; ++k) {
        const auto& p = back->rows[static_cast<std::size_t>(k)];
        EXPECT_EQ(p.name, "P" + std::to_string(k));
        EXPECT_NEAR(p.east_m, 609100.0 + 37.0 * k, kNineDecimals_m);
        EXPECT_NEAR(p.north_m, 5428100.0 - 11.0 * k, kNineDecimals_m);
        EXPECT_NEAR(*p.height_m, 210.0 + k, 1e-9);
    }
}

TEST(SiteFrame, without_it_geojson_is_refused_with_the_option) {
    const auto refused = read_any_marks(three_points());
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.refusal().code, ErrorCode::value_missing);
    EXPECT_NE(refused.refusal().expected.find("--site-crs"), std::string::npos);
}

TEST(SiteFrame, what_cannot_be_is_refused) {
    const auto code = [](const SiteFrameSpec& spec) {
        const auto site = SiteFrame::open(spec);
        return site.ok() ? ErrorCode{} : site.refusal().code;
    };
    EXPECT_EQ(code({"EPSG:4326", {}, 0.0}), ErrorCode::format_unknown);
    EXPECT_EQ(code({"no such thing", {}, 0.0}), ErrorCode::word_unknown);
    EXPECT_EQ(code({"EPSG:25832", {}, 20000.0}), ErrorCode::out_of_range);
    EXPECT_EQ(code({"EPSG:25832", Eigen::Vector2d(NAN, 0.0), 0.0}), ErrorCode::not_finite);
}

std::string ifc_with(const std::string& operation) {
    return "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4X3_ADD2'));\nENDSEC;\nDATA;\n"
           "#1=IFCPROJECT('p',$,'x',$,$,$,$,$,#2);#2=IFCUNITASSIGNMENT((#3));"
           "#3=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);#4=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);"
           "#5=IFCPROJECTEDCRS('EPSG:25832',$,$,$,$,$,#4);"
           "#10=IFCCARTESIANPOINT((10000.,2000.,3000.));#16=IFCAXIS2PLACEMENT3D(#10,$,$);"
           "#17=IFCLOCALPLACEMENT($,#16);#20=IFCCOLUMN('g1',$,'K',$,$,#17,$,'T1',.COLUMN.);\n" +
           operation + "ENDSEC;\nEND-ISO-10303-21;\n";
}

ImportedPoint column_of(const std::string& operation) {
    ReadOptions options;
    options.apply_map_conversion = true;
    const auto read = read_ifc(named("m.ifc", ifc_with(operation)), options);
    if (!read || read->points.size() != 1) {
        ADD_FAILURE() << (read ? "no point" : read.refusal().to_text());
        return {};
    }
    return read->points.front();
}

TEST(IfcConversion, applied_when_asked_turns_shifts_and_changes_units) {
    // x axis to the north: (10, 2, 3) m goes to east −2, north 10.
    const auto p = column_of("#30=IFCMAPCONVERSION($,#5,458000.,5438000.,100.,0.,1.,0.001);\n");
    EXPECT_NEAR(p.east_m, 457998.0, 1e-9);
    EXPECT_NEAR(p.north_m, 5438010.0, 1e-9);
    EXPECT_NEAR(*p.height_m, 103.0, 1e-12);
}

TEST(IfcConversion, a_grid_factor_in_the_scale_is_used_in_plan_alone) {
    const auto p = column_of("#30=IFCMAPCONVERSION($,#5,0.,0.,100.,1.,0.,0.0009996);\n");
    EXPECT_NEAR(p.east_m, 9.996, 1e-9);
    EXPECT_NEAR(*p.height_m, 103.0, 1e-12);
}

TEST(IfcConversion, scaled_conversion_has_a_factor_for_each_axis) {
    const auto p =
        column_of("#30=IFCMAPCONVERSIONSCALED($,#5,100.,200.,0.,1.,0.,0.001,0.9996,0.9997,1.);\n");
    EXPECT_NEAR(p.east_m, 109.996, 1e-9);
    EXPECT_NEAR(p.north_m, 201.9994, 1e-9);
    EXPECT_NEAR(*p.height_m, 3.0, 1e-12);
}

TEST(IfcConversion, rigid_operation_shifts_and_nothing_else) {
    const auto p = column_of(
        "#30=IFCRIGIDOPERATION($,#5,IFCLENGTHMEASURE(458000.),IFCLENGTHMEASURE(5438000.),7.);\n");
    EXPECT_NEAR(p.east_m, 458010.0, 1e-9);
    EXPECT_NEAR(p.north_m, 5438002.0, 1e-9);
    EXPECT_NEAR(*p.height_m, 10.0, 1e-12);
}

TEST(IfcConversion, without_or_with_one_that_cannot_be_is_refused_only_when_asked) {
    ReadOptions asked;
    asked.apply_map_conversion = true;
    const std::string bad = "#30=IFCMAPCONVERSION($,#5,1.,2.,3.,1.,0.,17.);\n";
    const std::string angles =
        "#30=IFCRIGIDOPERATION($,#5,IFCPLANEANGLEMEASURE(8.),IFCPLANEANGLEMEASURE(49.),7.);\n";
    const auto code = [](const std::string& operation, const ReadOptions& options) {
        const auto read = read_ifc(named("m.ifc", ifc_with(operation)), options);
        return read.ok() ? ErrorCode{} : read.refusal().code;
    };
    EXPECT_EQ(code("", asked), ErrorCode::value_missing);
    EXPECT_EQ(code(angles, asked), ErrorCode::value_missing);
    EXPECT_EQ(code(bad, asked), ErrorCode::out_of_range);
    EXPECT_EQ(code("", {}), ErrorCode{});
    EXPECT_EQ(code(bad, {}), ErrorCode{});
}

}  // namespace
}  // namespace layproof::exchange
