// LandXML: the public sample's side shots reproduce their published coordinates; units, references
// and bombs.

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "exchange/exchange_support.hpp"
#include "exchange/import/import.hpp"
#include "exchange/landxml/landxml.hpp"
#include "exchange/landxml/landxml_units_internal.hpp"
#include "exchange/text/file.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

const std::string kSample =
    std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/landxml-raw-a/survey_a.xml";

const std::string kUnits =
    "<Units><Metric areaUnit='squareMeter' linearUnit='meter' volumeUnit='cubicMeter' "
    "temperatureUnit='celsius' pressureUnit='HPA' angularUnit='decimal degrees' "
    "directionUnit='decimal degrees'/></Units>";

Document xml(const std::string& body, const std::string& units = kUnits) {
    return file(
        "<LandXML xmlns='http://www.landxml.org/schema/LandXML-1.2' version='1.2' "
        "date='2026-03-04' time='07:45:00'>" +
            units + body + "</LandXML>",
        "test.xml");
}

std::map<std::string, const ImportedPoint*> by_name(const Import& import) {
    std::map<std::string, const ImportedPoint*> out;
    for (const ImportedPoint& p : import.points) out.emplace(p.name, &p);
    return out;
}

TEST(Landxml, public_sample_is_read_whole) {
    LAYPROOF_READ(document, read_document(kSample));
    LAYPROOF_READ(import, read_landxml(*document));
    EXPECT_EQ(import->version, "LandXML 1.1");
    EXPECT_EQ(import->unit.unit, measure::LengthUnit::foot);
    EXPECT_TRUE(import->unit.is_stated);
    EXPECT_EQ(import->points.size(), 633U);
    EXPECT_EQ(std::count_if(import->points.begin(), import->points.end(),
                            [](const auto& p) { return p.is_control; }),
              21);
    EXPECT_EQ(import->sights.size(), 632U);
    EXPECT_EQ(import->setups.size(), 4U);
    EXPECT_EQ(import->backsights.size(), 4U);
    EXPECT_TRUE(import->left.empty());
    // The first control point, north before east in the file.
    const ImportedPoint& first = *by_name(*import).at("1");
    EXPECT_NEAR(first.north_m, 33268.218503937009 * 0.3048, 1e-9);
    EXPECT_NEAR(first.east_m, 32423.251312335957 * 0.3048, 1e-9);
    EXPECT_NEAR(*first.height_m, 245.538, 1e-9);  // said by its own description, BAR[245.538]
    EXPECT_EQ(first.note, "BAR[245.538]");
    EXPECT_EQ(first.line, 8);
    EXPECT_EQ(first.column, 3);
}

TEST(Landxml, side_shots_reproduce_their_published_coordinates) {
    LAYPROOF_READ(document, read_document(kSample));
    LAYPROOF_READ(import, read_landxml(*document));
    const auto points = by_name(*import);
    std::map<std::string, const ImportedBacksight*> backsights;
    for (const auto& b : import->backsights) backsights[b.station] = &b;
    std::map<std::string, const station::Setup*> setups;
    for (const auto& s : import->setups) setups[s.station] = &s;
    int compared = 0;
    double worst_m = 0.0;
    std::map<std::string, int> seen;
    for (const auto& s : import->sights) ++seen[s.target];
    for (const auto& s : import->sights) {
        const ImportedPoint& target = *points.at(s.target);
        // Control is known beforehand; a point sighted twice is the mean or the last of both.
        if (target.is_control || seen[s.target] > 1 || !s.slope_distance_m || !s.zenith_rad) {
            continue;
        }
        const ImportedPoint& from = *points.at(s.station);
        const ImportedBacksight& back = *backsights.at(s.station);
        const ImportedPoint& to = *points.at(back.target);
        const double azimuth = std::atan2(to.east_m - from.east_m, to.north_m - from.north_m) +
                               *s.direction_rad - *back.circle_rad;
        const double flat = *s.slope_distance_m * std::sin(*s.zenith_rad);
        const double up = *setups.at(s.station)->instrument_height_m +
                          *s.slope_distance_m * std::cos(*s.zenith_rad) - s.target_height_m;
        for (const double off : {from.east_m + flat * std::sin(azimuth) - target.east_m,
                                 from.north_m + flat * std::cos(azimuth) - target.north_m,
                                 *from.height_m + up - *target.height_m}) {
            worst_m = std::max(worst_m, std::abs(off));
        }
        ++compared;
    }
    EXPECT_GT(compared, 500);
    EXPECT_LT(worst_m, 1e-6);
}

TEST(Landxml, sights_of_the_sample_are_control_only_where_a_control_point_is_sighted) {
    LAYPROOF_READ(document, read_document(kSample));
    LAYPROOF_READ(import, read_landxml(*document));
    const auto points = by_name(*import);
    for (const auto& s : import->sights) {
        const bool is_control = s.purpose == measure::Purpose::control;
        EXPECT_EQ(is_control, points.at(s.target)->is_control) << s.target;
    }
    for (const auto& s : import->setups) {
        EXPECT_EQ(s.kind, station::SetupKind::occupied);
        EXPECT_EQ(s.mark, s.station);
    }
}

TEST(Landxml, packed_angle_is_read_as_text) {
    const auto packed = [](const char* text) {
        return landxml_angle(text, LandXmlAngle::packed_dms).value_or(99.0) / measure::kRadPerDeg;
    };
    EXPECT_NEAR(packed("45.3025"), 45.0 + 30.0 / 60 + 25.0 / 3600, 1e-12);
    EXPECT_NEAR(packed("89.5947"), 89.0 + 59.0 / 60 + 47.0 / 3600, 1e-12);
    EXPECT_NEAR(packed("89.34"), 89.0 + 34.0 / 60, 1e-12);
    EXPECT_NEAR(packed("90.111"), 90.0 + 11.0 / 60 + 10.0 / 3600, 1e-12);
    EXPECT_NEAR(packed("-359.5958"), -(359.0 + 59.0 / 60 + 58.0 / 3600), 1e-12);
    EXPECT_NEAR(packed("12.34567"), 12.0 + 34.0 / 60 + 56.7 / 3600, 1e-12);
    EXPECT_EQ(packed("0."), 0.0);
    EXPECT_NEAR(packed("10.0060"), 10.0 + 1.0 / 60, 1e-12);  // the schema allows 60
    for (const char* bad : {"", ".", "1.2.3", "45.6125", "45.0061", "1e3", "12 34", "4500.1"}) {
        EXPECT_FALSE(landxml_angle(bad, LandXmlAngle::packed_dms)) << bad;
    }
    EXPECT_FALSE(landxml_angle("nan", LandXmlAngle::radians));
    EXPECT_NEAR(*landxml_angle("100", LandXmlAngle::grads), measure::kPi / 2, 1e-15);
}

TEST(Landxml, each_linear_unit_gives_its_metres) {
    const std::map<std::string, double> metres{
        {"Metric meter", 1.0},       {"Metric millimeter", 0.001},
        {"Metric centimeter", 0.01}, {"Metric kilometer", 1000.0},
        {"Imperial foot", 0.3048},   {"Imperial USSurveyFoot", 1200.0 / 3937.0},
        {"Imperial inch", 0.0254},   {"Imperial mile", 1609.344}};
    for (const auto& [word, expected] : metres) {
        const std::string system = word.substr(0, word.find(' '));
        const std::string unit = word.substr(word.find(' ') + 1);
        LAYPROOF_READ(import, read_landxml(xml(
                                  "<CgPoints><CgPoint name='A'>20 10</CgPoint></CgPoints>",
                                  "<Units><" + system + " linearUnit='" + unit + "'/></Units>")));
        EXPECT_DOUBLE_EQ(import->points.at(0).north_m, 20 * expected) << word;
        EXPECT_DOUBLE_EQ(import->points.at(0).east_m, 10 * expected) << word;
        EXPECT_FALSE(import->points.at(0).height_m);
    }
}

TEST(Landxml, units_at_the_end_of_the_file_count_for_all_of_it) {
    LAYPROOF_READ(import,
                  read_landxml(xml("<CgPoints><CgPoint name='A'>20 10 5</CgPoint></CgPoints>"
                                   "<Units><Imperial linearUnit='foot'/></Units>",
                                   "")));
    EXPECT_DOUBLE_EQ(import->points.at(0).north_m, 20 * 0.3048);
}

TEST(Landxml, no_unit_is_guessed) {
    const Document none = xml("<CgPoints><CgPoint name='A'>20 10</CgPoint></CgPoints>", "");
    expect_refused(read_landxml(none), ErrorCode::unit_missing, 1, 1);
    ReadOptions options;
    options.unit = measure::LengthUnit::us_foot;
    LAYPROOF_READ(import, read_landxml(none, options));
    EXPECT_DOUBLE_EQ(import->points.at(0).east_m, 10 * 1200.0 / 3937.0);
    EXPECT_FALSE(import->unit.is_stated);
    // What the file says wins, and the disagreement is told.
    LAYPROOF_READ(
        stated,
        read_landxml(xml("<CgPoints><CgPoint name='A'>20 10</CgPoint></CgPoints>"), options));
    EXPECT_DOUBLE_EQ(stated->points.at(0).east_m, 10);
    EXPECT_EQ(stated->notices.size(), 1U);
    // Angles without a unit are refused where they stand.
    const Document angle =
        xml("<Survey><InstrumentSetup id='s' stationName='S' instrumentHeight='1'>\n"
            "  <RawObservation horizAngle='10'><TargetPoint pntRef='A'/></RawObservation>"
            "</InstrumentSetup></Survey>",
            "<Units><Metric linearUnit='meter'/></Units>");
    expect_refused(read_landxml(angle), ErrorCode::unit_missing, 2, 3);
    const auto column_of = [](const Document& document, const char* tag) {
        return static_cast<int>(document.bytes.find(tag)) + 1;
    };
    const Document feet = xml("", "<Units><Metric linearUnit='feet'/></Units>");
    expect_refused(read_landxml(feet), ErrorCode::unit_unknown, 1, column_of(feet, "<Metric"));
    const Document two = xml(
        "<Survey><SurveyHeader name='x'><Units><Imperial linearUnit='foot'/></Units></SurveyHeader>"
        "</Survey>");
    expect_refused(read_landxml(two), ErrorCode::unit_unknown, 1, column_of(two, "<Imperial"));
}

TEST(Landxml, references_monuments_and_target_setups_are_followed) {
    LAYPROOF_READ(
        import,
        read_landxml(xml(
            "<CgPoints name='a'>"
            "<CgPoint name='Q' pntRef='P'/><CgPoint name='P'>200 100 5</CgPoint>"
            "<CgPoint name='L' pntRef='nowhere'/><CgPoint/>"
            "<CgPoint oID='17' role='control point' northingStdError='0.002'>1 "
            "2</CgPoint></CgPoints>"
            "<Monuments><Monument name='BM1' pntRef='P' desc='bolt &amp; cap'/>"
            "<Monument name='BM2' pntRef='gone'/></Monuments>"
            "<Survey><TargetSetup id='t' targetHeight='1.8' prismConstant='-0.03'/>"
            "<InstrumentSetup id='s1' stationName='S' instrumentHeight='1.5'><InstrumentPoint "
            "pntRef='P'/>"
            "<Backsight circle='10' azimuth='20'><BacksightPoint pntRef='17'/></Backsight>"
            "<RawObservation targetSetupID='t' horizAngle='10' zenithAngle='270' "
            "slopeDistance='20' "
            "directFace='false' timeStamp='2026-03-04T07:45:00Z'><TargetPoint pntRef='17'/>"
            "</RawObservation>"
            "<RawObservation horizAngle='10' purpose='check'><TargetPoint "
            "pntRef='9'/></RawObservation>"
            "<RawObservation horizAngle='10' status='deleted'><TargetPoint "
            "pntRef='9'/></RawObservation>"
            "<RawObservation horizAngle='10' unused='true'><TargetPoint "
            "pntRef='9'/></RawObservation>"
            "<RawObservation horizAngle='10' slopeDistance='3'><TargetPoint pntRef='9'/>"
            "<OffsetVals offsetInOut='1' offsetLeftRight='0' offsetUpDown='0'/></RawObservation>"
            "<RawObservation horizDistance='5' zenithAngle='90' horizAngle='1' purpose='asbuilt'>"
            "<TargetPoint pntRef='9'/></RawObservation></InstrumentSetup>"
            "<InstrumentSetup id='s2' stationName='S' instrumentHeight='0'/>"
            "<ObservationGroup id='g' setupID='s2' purpose='resection'>"
            "<RawObservation horizAngle='1'><TargetPoint pntRef='17'/></RawObservation>"
            "<ReducedObservation/></ObservationGroup>"
            "<RawObservation setupID='none' horizAngle='1'><TargetPoint "
            "pntRef='17'/></RawObservation>"
            "</Survey><Alignments/><Surfaces/>")));
    const auto points = by_name(*import);
    EXPECT_EQ(points.size(), 4U);
    EXPECT_DOUBLE_EQ(points.at("Q")->east_m, 100);
    EXPECT_TRUE(points.at("P")->is_control);
    EXPECT_EQ(points.at("BM1")->source, PointSource::monument);
    EXPECT_EQ(points.at("BM1")->note, "bolt & cap");
    EXPECT_DOUBLE_EQ(points.at("BM1")->north_m, 200);
    EXPECT_TRUE(points.at("17")->name_is_made);
    EXPECT_FLOAT_EQ(*points.at("17")->sd_north_m, 0.002F);
    ASSERT_EQ(import->sights.size(), 4U);
    const auto& first = import->sights[0];
    EXPECT_EQ(first.station, "S");
    EXPECT_DOUBLE_EQ(first.target_height_m, 1.8);
    EXPECT_DOUBLE_EQ(first.prism_constant_m, -0.03);
    EXPECT_EQ(first.face, measure::Face::two);
    EXPECT_EQ(first.purpose, measure::Purpose::control);
    EXPECT_TRUE(first.time_s);
    EXPECT_EQ(import->sights[1].purpose, measure::Purpose::check);
    EXPECT_EQ(import->sights[2].purpose, measure::Purpose::lay);
    EXPECT_DOUBLE_EQ(*import->sights[2].slope_distance_m, 5.0);
    EXPECT_FALSE(import->sights[2].horizontal_distance_m);
    EXPECT_EQ(import->sights[3].station, "S (s2)");
    ASSERT_EQ(import->setups.size(), 2U);
    EXPECT_EQ(import->setups[0].mark, "P");
    EXPECT_EQ(import->setups[1].kind, station::SetupKind::free);
    EXPECT_FALSE(import->setups[1].instrument_height_m);
    std::map<std::string, int> left;
    for (const LeftOut& l : import->left) left[l.what] += l.count;
    EXPECT_EQ(left["CgPoint"], 2);
    EXPECT_EQ(left["Monument"], 1);
    EXPECT_EQ(left["RawObservation"], 4);
    EXPECT_EQ(left["ReducedObservation"], 1);
    EXPECT_EQ(left["Alignments"], 1);
    EXPECT_EQ(left["Surfaces"], 1);
}

TEST(Landxml, references_in_a_circle_are_refused) {
    const auto result = read_landxml(
        xml("<CgPoints><CgPoint name='A' pntRef='B'/><CgPoint name='B' pntRef='A'/></CgPoints>"));
    ASSERT_FALSE(result.ok());
    EXPECT_EQ(result.refusal().code, ErrorCode::reference_circular);
    const auto self = read_landxml(xml("<CgPoints><CgPoint name='A' pntRef='A'/></CgPoints>"));
    EXPECT_FALSE(self.ok());
}

TEST(Landxml, bad_values_are_refused_where_they_stand) {
    const auto point = [](const char* text) {
        return read_landxml(
            xml(std::string("<CgPoints>\n <CgPoint name='A'>") + text + "</CgPoint></CgPoints>"));
    };
    expect_refused(point("1 x"), ErrorCode::not_a_number, 2, 2);
    expect_refused(point("1 2 3 4"), ErrorCode::not_a_number, 2, 2);
    expect_refused(point("1"), ErrorCode::value_missing, 2, 2);
    expect_refused(point("1 nan"), ErrorCode::not_a_number, 2, 2);
    expect_refused(point("1 1e300"), ErrorCode::out_of_range, 2, 2);
    expect_refused(point("1,2 3"), ErrorCode::not_a_number, 2, 2);
}

TEST(Landxml, other_xml_and_other_versions_are_refused) {
    expect_refused(read_landxml(file("<svg/>")), ErrorCode::format_unknown, 1, 1);
    expect_refused(read_landxml(file("<LandXML xmlns='http://www.landxml.org/schema/LandXML-2.0' "
                                     "version='2.0'/>")),
                   ErrorCode::format_unknown, 1, 1);
    expect_refused(read_landxml(file("")), ErrorCode::empty_file, 1, 1);
    for (const char* bad : {"<LandXML version='1.2' ", "<LandXML version='1.2'>",
                            "<LandXML version='1.2'><a></b></LandXML>",
                            "<LandXML version='1.2'>&undefined;</LandXML>", "\xFF\xFE"}) {
        const auto result = read_landxml(file(bad));
        ASSERT_FALSE(result.ok()) << bad;
        EXPECT_EQ(result.refusal().code, ErrorCode::not_well_formed) << bad;
        EXPECT_GE(result.refusal().place.line, 1);
    }
}

TEST(Landxml, entities_are_not_expanded_and_nothing_is_fetched) {
    const std::string bomb =
        "<?xml version='1.0'?><!DOCTYPE l [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;'>"
        "<!ENTITY c '&b;&b;&b;&b;&b;&b;&b;'>]><LandXML version='1.2'>&c;</LandXML>";
    const auto bombed = read_landxml(file(bomb));
    ASSERT_FALSE(bombed.ok());
    EXPECT_EQ(bombed.refusal().code, ErrorCode::not_well_formed);
    const auto outside = read_landxml(
        file("<!DOCTYPE l SYSTEM 'file:///etc/passwd'><LandXML version='1.2'>&x;</LandXML>"));
    ASSERT_FALSE(outside.ok());
    EXPECT_EQ(outside.refusal().code, ErrorCode::not_well_formed);
}

TEST(Landxml, deep_nesting_and_endless_attributes_come_to_an_end) {
    std::string deep = "<LandXML version='1.2'>" + kUnits;
    for (int i = 0; i < 200'000; ++i) deep += "<a>";
    const auto result = read_landxml(file(deep));
    ASSERT_FALSE(result.ok());
    EXPECT_EQ(result.refusal().code, ErrorCode::nested_too_deep);
    std::string wide = "<LandXML version='1.2'>" + kUnits + "<CgPoints><CgPoint";
    for (int i = 0; i < 20'000; ++i) wide += " a" + std::to_string(i) + "='1'";
    const auto attributes = read_landxml(file(wide + ">1 2</CgPoint></CgPoints></LandXML>"));
    EXPECT_TRUE(!attributes.ok() || attributes->points.size() == 1U);
    // Many points that refer to nothing, and one name set up again and again.
    std::string lost = "<CgPoints>";
    for (int i = 0; i < 50'000; ++i) lost += "<CgPoint name='A' pntRef='z'/>";
    lost += "</CgPoints><Survey>";
    for (int i = 0; i < 20'000; ++i) lost += "<InstrumentSetup stationName='S'/>";
    LAYPROOF_READ(import, read_landxml(xml(lost + "</Survey>")));
    EXPECT_EQ(import->points.size(), 0U);
    EXPECT_EQ(import->setups.size(), 20'000U);
}

TEST(Landxml, any_marks_and_points_come_out_as_our_tables) {
    LAYPROOF_READ(document, read_document(kSample));
    LAYPROOF_READ(marks, read_any_marks(*document));
    EXPECT_EQ(marks->rows.size(), 21U);  // its control points
    EXPECT_EQ(marks->rows[0].role, "control");
    EXPECT_EQ(marks->unit, measure::LengthUnit::foot);
    LAYPROOF_READ(sights, read_any_sights(*document));
    EXPECT_EQ(sights->rows.size(), 632U);
    LAYPROOF_READ(setups, read_any_setups(*document));
    EXPECT_EQ(setups->rows.size(), 4U);
    LAYPROOF_READ(points, read_any_points(*document));
    EXPECT_EQ(points->rows.size(), 612U);  // the others
    expect_refused(read_any_grid_lines(*document), ErrorCode::value_missing, 1, 1);
    // One name at two places is refused, at one place taken once.
    const Document twice =
        xml("<CgPoints><CgPoint name='A'>1 2</CgPoint>\n<CgPoint name='A'>1 2"
            "</CgPoint></CgPoints>");
    LAYPROOF_READ(once, read_any_marks(twice));
    EXPECT_EQ(once->rows.size(), 1U);
    const Document moved =
        xml("<CgPoints><CgPoint name='A'>1 2</CgPoint>\n<CgPoint name='A'>1 3"
            "</CgPoint></CgPoints>");
    expect_refused(read_any_marks(moved), ErrorCode::duplicate_mark, 2, 1);
    expect_refused(read_any_points(moved), ErrorCode::duplicate_point, 2, 1);
    // A delimited file goes to our own reader.
    LAYPROOF_READ(own, read_any_marks(file("mark,east [m],north [m],height [m]\nA,1,2,3\n")));
    EXPECT_EQ(own->rows.size(), 1U);
}

}  // namespace
}  // namespace layproof::exchange
