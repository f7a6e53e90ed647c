// LandXML, DXF and GeoJSON out: read by our readers, and by programs that are not ours.

#include <gtest/gtest.h>

#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <memory>

#include "exchange/dxf/dxf.hpp"
#include "exchange/dxf/dxf_writer.hpp"
#include "exchange/exchange_support.hpp"
#include "exchange/geojson/geojson.hpp"
#include "exchange/ifc/ifc.hpp"
#include "exchange/import/import.hpp"
#include "exchange/landxml/landxml.hpp"
#include "exchange/landxml/landxml_writer.hpp"
#include "exchange/text/file.hpp"
#include "exchange/text/number.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using testing::file;

/// Two million feet in metres: the last digit is 0.1 nm; a double change of unit may cost two.
constexpr double kRounding_m = 1e-9;

Outgoing sample(measure::LengthUnit unit) {
    Outgoing out;
    out.unit = unit;
    out.title = "Invented hall <A> & \"B\"";
    out.frame = "invented grid";
    frame::Mark mark;
    mark.name = "H1 ä";
    mark.east_m = 609600.1234567;
    mark.north_m = 152400.7654321;
    mark.height_m = 12.3456;
    mark.sd_east_m = 0.002;
    mark.note = "nail & cap";
    out.marks.push_back(mark);
    mark = {};
    mark.name = "BM";
    mark.height_m = 5.0;
    out.marks.push_back(mark);
    frame::DesignPoint point;
    point.name = "P1";
    point.east_m = 609610.0;
    point.north_m = 152410.0;
    point.element = "anchor-bolt";
    point.tolerance_plan_m = 0.003;
    out.points.push_back(point);
    point.name = "P2";
    point.east_m = 609610.05;  // bolts two inches apart keep their names
    point.height_m = 10.0;
    out.points.push_back(point);
    LaidPoint laid;
    laid.name = "P1";
    laid.east_m = 609610.001;
    laid.north_m = 152409.998;
    laid.sd_east_m = 0.001;
    laid.off_east_m = 0.001;
    laid.off_north_m = -0.002;
    laid.word = "in doubt";
    laid.probability = 0.81;
    laid.stations = "S1";
    out.laid.push_back(laid);
    station::Setup setup;
    setup.station = "S1";
    setup.kind = station::SetupKind::free;
    out.setups.push_back(setup);
    setup.station = "S2";
    setup.kind = station::SetupKind::occupied;
    setup.mark = "H1 ä";
    setup.instrument_height_m = 1.523;
    out.setups.push_back(setup);
    measure::Sight sight;
    sight.station = "S1";
    sight.target = "H1 ä";
    sight.direction_rad = 1.234567890123;
    sight.zenith_rad = 1.5;
    sight.slope_distance_m = 45.678;
    sight.target_height_m = 1.8;
    sight.prism_constant_m = -0.0175;
    sight.face = measure::Face::two;
    sight.purpose = measure::Purpose::control;
    sight.time_text = "2026-03-04T07:45:00-05:00";
    out.sights.push_back(sight);
    sight = {};
    sight.station = "S2";
    sight.target = "P1";
    sight.direction_rad = 0.0;
    sight.horizontal_distance_m = 12.0;
    sight.purpose = measure::Purpose::lay;
    sight.note = "lost";
    out.sights.push_back(sight);
    sight.purpose = measure::Purpose::check;
    out.sights.push_back(sight);
    sight.purpose = measure::Purpose::other;
    out.sights.push_back(sight);
    out.setting_out.push_back({"S1", "P1", 0.1, 0.2, 1.5, 20.0, 20.05, -1.0, 1.8});
    out.grid_lines.push_back({"A", "", {609600.0, 152400.0}, {609600.0, 152440.0}, {}});
    out.grid_lines.push_back({"10", "", {609590.0, 152420.0}, {609630.0, 152420.0}, {}});
    return out;
}

/// The lines a program prints, each split at tabs; nothing when it fails.
std::vector<std::vector<std::string>> read_back(const char* format, const std::string& text) {
    const std::string path = "/tmp/layproof-read-back-" + std::to_string(::getpid()) + "." + format;
    EXPECT_TRUE(write_file_whole(path, text).ok());
    const std::string command = "/usr/bin/python3 " + std::string(LAYPROOF_SOURCE_DIR) +
                                "/tests/exchange/read_back.py " + format + " " + path + " 2>&1";
    FILE* pipe = ::popen(command.c_str(), "r");
    std::string printed;
    std::array<char, 4096> buffer{};
    while (pipe != nullptr && std::fgets(buffer.data(), buffer.size(), pipe) != nullptr) {
        printed += buffer.data();
    }
    EXPECT_EQ(::pclose(pipe), 0) << printed;
    std::remove(path.c_str());
    std::vector<std::vector<std::string>> rows(1, std::vector<std::string>(1));
    for (const char c : printed) {
        if (c == '\n') {
            rows.emplace_back(1);
        } else if (c == '\t') {
            rows.back().emplace_back();
        } else {
            rows.back().back() += c;
        }
    }
    rows.pop_back();
    return rows;
}

double number(const std::string& text) {
    return plain_double(text).value_or(std::nan(""));
}

TEST(OpenWriters, landxml_comes_back_as_it_went) {
    for (const auto unit :
         {measure::LengthUnit::metre, measure::LengthUnit::foot, measure::LengthUnit::us_foot}) {
        const Outgoing out = sample(unit);
        const Written written = write_landxml(out);
        LAYPROOF_READ(import, read_landxml(file(written.text, "out.xml")));
        EXPECT_EQ(import->unit.unit, unit);
        EXPECT_EQ(import->frame, "invented grid");
        ASSERT_EQ(import->points.size(), 4U);
        const ImportedPoint& mark = import->points[0];
        EXPECT_EQ(mark.name, "H1 ä");
        EXPECT_EQ(mark.note, "nail & cap");
        EXPECT_TRUE(mark.is_control);
        EXPECT_NEAR(mark.east_m, *out.marks[0].east_m, kRounding_m);
        EXPECT_NEAR(mark.north_m, *out.marks[0].north_m, kRounding_m);
        EXPECT_NEAR(*mark.height_m, *out.marks[0].height_m, kRounding_m);
        EXPECT_FLOAT_EQ(*mark.sd_east_m, 0.002F);
        EXPECT_EQ(import->points[1].name, "P1");
        EXPECT_FALSE(import->points[1].height_m);
        EXPECT_EQ(import->points[3].name, "P1 laid");
        ASSERT_EQ(import->sights.size(), 4U);
        for (std::size_t i = 0; i < 4; ++i) {
            const measure::Sight& a = out.sights[i];
            const measure::Sight& b = import->sights[i];
            EXPECT_EQ(a.station, b.station);
            EXPECT_EQ(a.target, b.target);
            EXPECT_EQ(a.purpose, b.purpose);
            EXPECT_EQ(a.face, b.face);
            EXPECT_EQ(a.time_text, b.time_text);
            EXPECT_EQ(a.zenith_rad.has_value(), b.zenith_rad.has_value());
            EXPECT_NEAR(*a.direction_rad, *b.direction_rad, 1e-14);
            EXPECT_NEAR(a.slope_distance_m.value_or(0), b.slope_distance_m.value_or(0),
                        kRounding_m);
            EXPECT_NEAR(a.horizontal_distance_m.value_or(0), b.horizontal_distance_m.value_or(0),
                        kRounding_m);
            EXPECT_NEAR(a.target_height_m, b.target_height_m, 1e-12);
            EXPECT_NEAR(a.prism_constant_m, b.prism_constant_m, 1e-12);
        }
        ASSERT_EQ(import->setups.size(), 2U);
        EXPECT_EQ(import->setups[0].kind, station::SetupKind::free);
        EXPECT_FALSE(import->setups[0].instrument_height_m);
        EXPECT_EQ(import->setups[1].kind, station::SetupKind::occupied);
        EXPECT_EQ(import->setups[1].mark, "H1 ä");
        EXPECT_NEAR(*import->setups[1].instrument_height_m, 1.523, 1e-12);
        // What the format cannot carry is said.
        EXPECT_EQ(written.lost.size(), 3U);
    }
}

TEST(OpenWriters, landxml_keeps_the_rules_of_its_schema) {
    const auto rows =
        read_back("landxml", write_landxml(sample(measure::LengthUnit::us_foot)).text);
    ASSERT_EQ(rows.size(), 4U);
    EXPECT_EQ(rows[0][0], "control");
    EXPECT_EQ(rows[0][1], "H1 ä");
    EXPECT_NEAR(number(rows[0][2]) * 1200 / 3937, 152400.7654321, kRounding_m);  // north first
    EXPECT_NEAR(number(rows[0][3]) * 1200 / 3937, 609600.1234567, kRounding_m);
    EXPECT_EQ(rows[1][4], "-");
    EXPECT_EQ(rows[3][0], "as laid");
    EXPECT_EQ(read_back("landxml", write_landxml({}).text).size(), 0U);
}

TEST(OpenWriters, drawing_comes_back_as_it_went) {
    for (const auto unit : {measure::LengthUnit::metre, measure::LengthUnit::foot,
                            measure::LengthUnit::us_foot, measure::LengthUnit::inch}) {
        const Outgoing out = sample(unit);
        ReadOptions options;
        options.unit = unit;
        LAYPROOF_READ(import, read_dxf(file(write_dxf(out).text, "out.dxf"), options));
        for (const auto& n : import->notices) EXPECT_EQ(n.find("$INSUNITS"), n.npos) << n;
        std::map<std::string, const ImportedPoint*> points;
        for (const ImportedPoint& p : import->points) points[p.name] = &p;
        ASSERT_EQ(points.size(), 4U);
        EXPECT_NEAR(points.at("H1 ä")->east_m, *out.marks[0].east_m, kRounding_m);
        EXPECT_NEAR(*points.at("H1 ä")->height_m, 12.3456, kRounding_m);
        EXPECT_NEAR(points.at("P2")->east_m, 609610.05, kRounding_m);
        EXPECT_NEAR(points.at("P1 laid")->north_m, 152409.998, kRounding_m);
        ASSERT_EQ(import->grid_lines.size(), 2U);
        EXPECT_EQ(import->grid_lines[0].name, "A");
        EXPECT_EQ(import->grid_lines[1].name, "10");
        EXPECT_NEAR(import->grid_lines[1].end_m.x(), 609630.0, kRounding_m);
    }
}

TEST(OpenWriters, drawing_is_read_by_another_program) {
    const Outgoing out = sample(measure::LengthUnit::metre);
    const auto rows = read_back("dxf", write_dxf(out).text);
    ASSERT_EQ(rows.size(), 7U);
    EXPECT_EQ(rows[0][1], "AC1009");
    EXPECT_EQ(rows[1][0], "LP-MARK");
    EXPECT_EQ(rows[1][1], "H1 ä");
    EXPECT_NEAR(number(rows[1][2]), 609600.1234567, kRounding_m);
    EXPECT_NEAR(number(rows[1][4]), 12.3456, kRounding_m);
    EXPECT_EQ(rows[2][0], "LP-DESIGN");
    EXPECT_EQ(rows[4][0], "LP-LAID-IN-DOUBT");
    EXPECT_EQ(rows[4][1], "P1 laid");
    EXPECT_EQ(rows[5][1], "LP-GRID");
    EXPECT_NEAR(number(rows[5][5]), 152440.0, kRounding_m);
}

/// Points of an import as points to be laid, for sending them out again.
std::vector<frame::DesignPoint> points_of(const Import& import) {
    std::vector<frame::DesignPoint> out;
    for (const ImportedPoint& p : import.points) {
        frame::DesignPoint point;
        point.name = p.name;
        point.east_m = p.east_m;
        point.north_m = p.north_m;
        point.height_m = p.height_m;
        out.push_back(point);
    }
    return out;
}

void expect_same_points(const Import& a, const Import& b) {
    ASSERT_EQ(a.points.size(), b.points.size());
    for (std::size_t i = 0; i < a.points.size(); ++i) {
        EXPECT_EQ(a.points[i].name, b.points[i].name);
        EXPECT_NEAR(a.points[i].east_m, b.points[i].east_m, kRounding_m) << a.points[i].name;
        EXPECT_NEAR(a.points[i].north_m, b.points[i].north_m, kRounding_m) << a.points[i].name;
        EXPECT_EQ(a.points[i].height_m.has_value(), b.points[i].height_m.has_value());
        EXPECT_NEAR(a.points[i].height_m.value_or(0), b.points[i].height_m.value_or(0),
                    kRounding_m);
    }
}

TEST(OpenWriters, every_public_sample_goes_out_and_comes_back) {
    const std::string folder = std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/";
    struct Sample {
        const char* path;
        measure::LengthUnit unit;
    };
    for (const Sample& sample :
         {Sample{"landxml-raw-a/survey_a.xml", measure::LengthUnit::foot},
          Sample{"dxf-plan/plan.dxf", measure::LengthUnit::inch},
          Sample{"ifc-samples/grid-placement.ifc", measure::LengthUnit::millimetre},
          Sample{"ifc-samples/geographic-referencing-ifc4.ifc", measure::LengthUnit::millimetre}}) {
        LAYPROOF_READ(document, read_document(folder + sample.path));
        ReadOptions options;
        options.unit = sample.unit;
        LAYPROOF_READ(import, read_open_format(*document, options));
        Outgoing out;
        out.unit = sample.unit;
        out.points = points_of(*import);
        out.sights = import->sights;
        out.setups = import->setups;
        out.grid_lines = import->grid_lines;
        LAYPROOF_READ(again, read_landxml(file(write_landxml(out).text, "again.xml")));
        expect_same_points(*import, *again);
        ASSERT_EQ(again->sights.size(), import->sights.size());
        std::map<std::string, std::vector<const measure::Sight*>> by_station;
        for (const auto& s : again->sights) by_station[s.station].push_back(&s);
        std::map<std::string, std::size_t> next;
        for (const auto& a : import->sights) {
            const auto& b = *by_station[a.station].at(next[a.station]++);
            EXPECT_EQ(a.target, b.target);
            EXPECT_EQ(a.purpose, b.purpose);
            EXPECT_NEAR(a.direction_rad.value_or(0), b.direction_rad.value_or(0), 1e-14);
            EXPECT_NEAR(a.zenith_rad.value_or(0), b.zenith_rad.value_or(0), 1e-14);
            EXPECT_NEAR(a.slope_distance_m.value_or(0), b.slope_distance_m.value_or(0), 1e-12);
        }
        LAYPROOF_READ(drawn, read_dxf(file(write_dxf(out).text, "again.dxf"), options));
        // z = 0 everywhere is no height in a drawing, and one height makes the others 0.
        ASSERT_EQ(drawn->points.size(), import->points.size());
        for (std::size_t i = 0; i < drawn->points.size(); ++i) {
            EXPECT_EQ(drawn->points[i].name, import->points[i].name);
            EXPECT_NEAR(drawn->points[i].east_m, import->points[i].east_m, kRounding_m);
            EXPECT_NEAR(drawn->points[i].north_m, import->points[i].north_m, kRounding_m);
        }
        ASSERT_EQ(drawn->grid_lines.size(), import->grid_lines.size()) << sample.path;
    }
}

TEST(Geojson, points_are_read_and_written_with_a_nanometre_of_loss) {
    const Document document = file(
        "{\"type\":\"FeatureCollection\",\"features\":[\n"
        " {\"type\":\"Feature\",\"id\":7,\"geometry\":{\"type\":\"Point\",\"coordinates\":"
        "[8.436123456,49.096123456,114.25]},\"properties\":{\"name\":\"M\\u00e41\",\"kind\":"
        "\"nail\"}},\n"
        " {\"type\":\"Feature\",\"id\":\"x9\",\"geometry\":{\"type\":\"MultiPoint\","
        "\"coordinates\":"
        "[[8.436,49.096]]},\"properties\":null},\n"
        " {\"type\":\"Feature\",\"geometry\":{\"type\":\"Polygon\",\"coordinates\":[]},"
        "\"properties\":{}}]}");
    LAYPROOF_READ(read, read_geographic_points(document));
    ASSERT_EQ(read->points.size(), 2U);
    EXPECT_EQ(read->points[0].name, "Mä1");
    EXPECT_EQ(read->points[0].note, "kind=nail");
    EXPECT_EQ(read->points[0].line, 2);
    EXPECT_DOUBLE_EQ(*read->points[0].height_m, 114.25);
    EXPECT_EQ(read->points[1].name, "x9");
    EXPECT_EQ(read->left.size(), 1U);
    EXPECT_EQ(read->notices.size(), 1U);  // 8.436, 49.096: three decimals
    LAYPROOF_READ(again, read_geographic_points(file(write_geojson(read->points))));
    ASSERT_EQ(again->points.size(), 2U);
    for (std::size_t i = 0; i < 2; ++i) {
        EXPECT_EQ(again->points[i].name, read->points[i].name);
        EXPECT_NEAR(again->points[i].position.latitude_rad, read->points[i].position.latitude_rad,
                    1e-15);
    }
    LAYPROOF_READ(site, SiteFrame::open({"EPSG:25832", {}, 0.0}));
    ReadOptions options;
    options.site = &*site;
    LAYPROOF_READ(import, read_geojson(document, options));
    // The map position of the public IFC example lies near: E 458658.78, N 5438232.79.
    EXPECT_NEAR(import->points[1].east_m, 458800, 500);
    EXPECT_NEAR(import->points[1].north_m, 5438200, 500);
}

TEST(Geojson, plane_coordinates_are_refused_with_the_reason) {
    const auto code = [](const std::string& text) {
        const auto result = read_geographic_points(file(text));
        return result.ok() ? ErrorCode{} : result.refusal().code;
    };
    const std::string point = "{\"type\":\"Point\",\"coordinates\":";
    EXPECT_EQ(code(point + "[458658.78,5438232.79]}"), ErrorCode::not_geographic);
    // A building grid in metres would be a site across several countries.
    EXPECT_EQ(code("{\"type\":\"MultiPoint\",\"coordinates\":[[0,0],[24.5,18.2]]}"),
              ErrorCode::not_geographic);
    EXPECT_EQ(code("{\"type\":\"Point\",\"coordinates\":[1,2],\"crs\":{\"type\":\"name\","
                   "\"properties\":{\"name\":\"EPSG:25832\"}}}"),
              ErrorCode::not_geographic);
    EXPECT_EQ(code("{\"type\":\"Point\",\"coordinates\":[1,2],\"crs\":{\"type\":\"name\","
                   "\"properties\":{\"name\":\"urn:ogc:def:crs:OGC:1.3:CRS84\"}}}"),
              ErrorCode{});
    EXPECT_EQ(code(point + "[1]}"), ErrorCode::not_a_number);
    EXPECT_EQ(code(point + "[\"1\",2]}"), ErrorCode::not_a_number);
    EXPECT_EQ(code("{}"), ErrorCode::format_unknown);
    EXPECT_EQ(code("[1"), ErrorCode::not_well_formed);
    EXPECT_EQ(code("{\"type\":\"Point\" \"x\":1}"), ErrorCode::not_well_formed);
    EXPECT_EQ(code("{\"type\":\"Point\",\"coordinates\":[1e999,2]}"), ErrorCode::not_well_formed);
    EXPECT_EQ(code(std::string(100'000, '[')), ErrorCode::nested_too_deep);
    EXPECT_EQ(code(""), ErrorCode::empty_file);
    const auto no_frame = read_any_points(file(point + "[8.4,49.1]}"));
    ASSERT_FALSE(no_frame.ok());
    EXPECT_EQ(no_frame.refusal().code, ErrorCode::value_missing);
}

}  // namespace
}  // namespace layproof::exchange
