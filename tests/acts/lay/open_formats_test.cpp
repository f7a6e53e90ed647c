// The acts on files of the open formats: the same answer as from our own tables, and out again.

#include <gtest/gtest.h>

#include <map>

#include "acts/lay/lay_site.hpp"
#include "exchange/dxf/dxf_writer.hpp"
#include "exchange/import/import.hpp"
#include "exchange/landxml/landxml_writer.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::acts {
namespace {

using exchange::Document;
using testing::InventedDay;
using testing::point_at;

LayRequest own_tables() {
    InventedDay day;
    day.set_up();
    for (const char* name : {"P1", "P2", "P3", "P4"}) {
        day.add("S1", point_at(name, 0.001), "lay", 8, 0);
    }
    LayRequest request;
    request.station = day.request();
    return request;
}

exchange::ReadOptions in(const LayRequest& request) {
    exchange::ReadOptions options;
    options.unit = request.station.unit;
    return options;
}

LayAnswer run(const LayRequest& request) {
    auto answer = run_lay(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? std::move(answer).value() : LayAnswer{};
}

/// The same marks, sights and points as one LandXML file.
Document as_landxml(const LayRequest& request) {
    exchange::Outgoing out;
    out.marks = exchange::read_marks(request.station.marks, in(request)).value().rows;
    out.points = exchange::read_points(*request.station.points, in(request)).value().rows;
    out.sights = exchange::read_sights(request.station.sights, in(request)).value().rows;
    return {"site.xml", exchange::write_landxml(out).text};
}

TEST(OpenFormats, a_landxml_file_gives_the_same_station_as_our_tables) {
    const LayRequest own = own_tables();
    LayRequest xml = own;
    xml.station.marks = as_landxml(own);
    xml.station.sights = xml.station.marks;
    const LayAnswer a = run(own);
    const LayAnswer b = run(xml);
    ASSERT_EQ(a.stations.size(), 1U);
    ASSERT_EQ(b.stations.size(), 1U);
    const station::Pose& pa = a.stations[0].station.pose;
    const station::Pose& pb = b.stations[0].station.pose;
    EXPECT_NEAR((pa.position_m - pb.position_m).norm(), 0.0, 1e-6);
    EXPECT_NEAR(pa.orientation_rad, pb.orientation_rad, 1e-9);
    // Standard deviations come as single precision.
    EXPECT_NEAR(a.stations[0].station.verdict.probability,
                b.stations[0].station.verdict.probability, 1e-4);
    ASSERT_EQ(a.laid.size(), 4U);
    ASSERT_EQ(b.laid.size(), 4U);
    EXPECT_NEAR(a.laid[0].figures.verdict.deviation_m.x(),
                b.laid[0].figures.verdict.deviation_m.x(), 1e-6);
}

TEST(OpenFormats, what_was_laid_goes_out_and_comes_back) {
    const LayAnswer answer = run(own_tables());
    const auto xml = exchange::read_open_format({"as-laid.xml", as_laid_landxml(answer)});
    ASSERT_TRUE(xml.ok()) << xml.refusal().to_text();
    EXPECT_EQ(xml->unit.unit, answer.unit);
    std::map<std::string, const exchange::ImportedPoint*> points;
    for (const auto& p : xml->points) points[p.name] = &p;
    ASSERT_EQ(points.size(), 8U);
    ASSERT_EQ(answer.laid.size(), 4U);
    for (const LaidReport& laid : answer.laid) {
        const auto& design = *points.at(laid.figures.point);
        const auto& there = *points.at(laid.figures.point + exchange::kLaidSuffix);
        const auto& off = laid.figures.verdict.deviation_m;
        EXPECT_NEAR(there.east_m - design.east_m, off.x(), 1e-9);
        EXPECT_NEAR(there.north_m - design.north_m, off.y(), 1e-9);
        EXPECT_TRUE(there.sd_east_m);
    }
    // Taken as points to be laid, the file gives those of the design alone.
    const auto again = exchange::read_any_points({"as-laid.xml", as_laid_landxml(answer)});
    ASSERT_TRUE(again.ok()) << again.refusal().to_text();
    EXPECT_EQ(again->rows.size(), 4U);
    exchange::ReadOptions options;
    options.unit = answer.unit;
    const auto dxf = exchange::read_open_format({"as-laid.dxf", as_laid_dxf(answer)}, options);
    ASSERT_TRUE(dxf.ok()) << dxf.refusal().to_text();
    EXPECT_EQ(dxf->points.size(), 8U);
}

TEST(OpenFormats, grid_lines_of_a_drawing_tell_where_a_point_is) {
    exchange::Outgoing out;
    out.grid_lines.push_back({"C", "", {505.0, 230.0}, {505.0, 270.0}, {}});
    out.grid_lines.push_back({"D", "", {525.0, 230.0}, {525.0, 270.0}, {}});
    out.grid_lines.push_back({"4", "", {490.0, 241.0}, {530.0, 241.0}, {}});
    LayRequest request = own_tables();
    request.station.unit = measure::LengthUnit::metre;  // a drawing has none of its own
    request.grid = Document{"plan.dxf", exchange::write_dxf(out).text};
    const LayAnswer answer = run(request);
    std::map<std::string, std::string> words;
    for (const SetOut& s : answer.stations.at(0).setting_out) {
        if (s.figures && s.figures->grid) words[s.figures->point] = s.figures->grid->words;
    }
    EXPECT_EQ(words.at("P4"), "C/4");
    EXPECT_NE(words.at("P3").find("from D toward C"), std::string::npos) << words.at("P3");
}

TEST(OpenFormats, a_drawing_without_stated_unit_is_refused_with_its_hint) {
    LayRequest request = own_tables();
    request.station.unit.reset();
    request.grid = Document{"plan.dxf", exchange::write_dxf({}).text};
    const auto refused = run_lay(request);
    ASSERT_FALSE(refused.ok());
    EXPECT_EQ(refused.refusal().code, ErrorCode::unit_missing);
    EXPECT_NE(refused.refusal().found.find("$INSUNITS"), std::string::npos);
}

}  // namespace
}  // namespace layproof::acts
