// IFC: the public examples, hand-made models for each rule, and what is refused.

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "exchange/exchange_support.hpp"
#include "exchange/ifc/ifc.hpp"
#include "exchange/ifc/step_file_internal.hpp"
#include "exchange/text/file.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

const std::string kFolder = std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/ifc-samples/";

const std::string kMetres =
    "#1=IFCPROJECT('',$,$,$,$,$,$,$,#2);\n#2=IFCUNITASSIGNMENT((#3));\n"
    "#3=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);\n";

/// Records from line 5 on.
Document model(const std::string& records, const std::string& schema = "IFC4") {
    return file("ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('" + schema + "'));\nENDSEC;DATA;\n" +
                    records + "ENDSEC;\nEND-ISO-10303-21;\n",
                "test.ifc");
}

std::map<std::string, const ImportedPoint*> by_name(const Import& import) {
    std::map<std::string, const ImportedPoint*> out;
    for (const ImportedPoint& p : import.points) out.emplace(p.name, &p);
    return out;
}

int left_count(const Import& import, const std::string& why) {
    int count = 0;
    for (const LeftOut& l : import.left) count += l.why == why ? l.count : 0;
    return count;
}

TEST(Ifc, public_grid_places_its_columns_on_its_crossings) {
    LAYPROOF_READ(document, read_document(kFolder + "grid-placement.ifc"));
    LAYPROOF_READ(import, read_ifc(*document));
    EXPECT_EQ(import->version, "IFC4X3_ADD2");
    EXPECT_EQ(import->unit.unit, measure::LengthUnit::millimetre);
    EXPECT_TRUE(import->unit.is_stated);
    EXPECT_EQ(import->grid_lines.size(), 10U);
    EXPECT_EQ(import->points.size(), 50U);  // 25 crossings, 25 columns
    const auto points = by_name(*import);
    ASSERT_EQ(points.size(), 50U);  // names of their own
    // Grid at (−17, 16) m: axis 5 is y = 0 and axis A is x = 19 in it (the file's own numbers).
    EXPECT_NEAR(points.at("A/5")->east_m, -17 + 19, 1e-12);
    EXPECT_NEAR(points.at("A/5")->north_m, 16, 1e-12);
    EXPECT_NEAR(points.at("C/2")->east_m, -17 + 11, 1e-12);
    EXPECT_NEAR(points.at("C/2")->north_m, 16 - 8, 1e-12);
    EXPECT_FALSE(points.at("C/2")->height_m);
    int columns = 0;
    for (const ImportedPoint& p : import->points) {
        if (p.source != PointSource::column) continue;
        ++columns;
        const std::string crossing = p.name.substr(p.name.rfind(' ') + 1);
        EXPECT_NEAR(p.east_m, points.at(crossing)->east_m, 1e-12) << p.name;
        EXPECT_NEAR(p.north_m, points.at(crossing)->north_m, 1e-12) << p.name;
        EXPECT_DOUBLE_EQ(*p.height_m, 0.0);
        EXPECT_NE(p.note.find("GlobalId="), std::string::npos);
    }
    EXPECT_EQ(columns, 25);
    EXPECT_EQ(left_count(*import, "no point to lay by itself"), 10);  // its beams
}

TEST(Ifc, public_georeference_is_read_and_its_missing_scale_told) {
    LAYPROOF_READ(document, read_document(kFolder + "geographic-referencing-ifc4.ifc"));
    LAYPROOF_READ(import, read_ifc(*document));
    ASSERT_TRUE(import->map_conversion);
    const frame::MapConversion& c = *import->map_conversion;
    EXPECT_EQ(c.crs, "EPSG:25832");
    EXPECT_DOUBLE_EQ(c.eastings, 458658.78);
    EXPECT_DOUBLE_EQ(c.model_metres_per_unit, 0.001);
    EXPECT_DOUBLE_EQ(*c.map_metres_per_unit, 1.0);
    EXPECT_FALSE(c.scale);
    EXPECT_FALSE(c.has_world_offset);
    const auto resolved = frame::resolve(c);
    EXPECT_EQ(resolved.meaning, frame::ScaleMeaning::units_left);
    const Eigen::Vector3d at = resolved.to_map({10.0, 0.0, 1.0});
    EXPECT_NEAR(at.x(), 458658.78 + 10 * 0.270600445976, 1e-6);
    EXPECT_NEAR(at.y(), 5438232.79 + 10 * 0.962691746426, 1e-6);
    EXPECT_NEAR(at.z(), 114.7, 1e-9);
    bool told = false;
    for (const auto& n : import->notices) told = told || n.find("Scale") != std::string::npos;
    EXPECT_TRUE(told);
}

TEST(Ifc, placements_run_through_their_whole_chain) {
    // Site turned by 90° at (100, 200), column at (10, 0, 3) in it: (100, 210, 3).
    LAYPROOF_READ(
        import,
        read_ifc(model(kMetres +
                       "#10=IFCCARTESIANPOINT((100.,200.,0.));#11=IFCDIRECTION((0.,0.,1.));"
                       "#12=IFCDIRECTION((0.,2.,0.));#13=IFCAXIS2PLACEMENT3D(#10,#11,#12);"
                       "#14=IFCLOCALPLACEMENT($,#13);#15=IFCCARTESIANPOINT((10.,0.,3.));"
                       "#16=IFCAXIS2PLACEMENT3D(#15,$,$);#17=IFCLOCALPLACEMENT(#14,#16);"
                       "#20=IFCCOLUMN('g1',$,'K',$,$,#17,$,'T1',.COLUMN.);"
                       "#21=IFCFOOTING('g2',$,'F\\X2\\00DC\\X0\\1',$,$,#14,$,$,.PAD_FOOTING.);"
                       "#22=IFCPILE('g3',$,'',$,$,#14,$,$,$,$);"
                       "#23=IFCCOLUMN('g4',$,'K',$,$,#14,$,'T2',.COLUMN.);"
                       "#24=IFCCOLUMN('g5',$,'K',$,$,$,$,'T3',.COLUMN.);\n")));
    const auto points = by_name(*import);
    ASSERT_EQ(points.size(), 4U);
    EXPECT_NEAR(points.at("K T1")->east_m, 100, 1e-12);
    EXPECT_NEAR(points.at("K T1")->north_m, 210, 1e-12);
    EXPECT_NEAR(*points.at("K T1")->height_m, 3, 1e-12);
    EXPECT_EQ(points.at("FÜ1")->source, PointSource::footing);
    EXPECT_TRUE(points.at("g3")->name_is_made);
    EXPECT_EQ(left_count(*import, "it is not placed"), 1);
}

TEST(Ifc, only_anchors_are_taken_of_fasteners_and_groups_are_told_apart) {
    const std::string at =
        "#10=IFCCARTESIANPOINT((1.,2.,3.));#13=IFCAXIS2PLACEMENT3D(#10,$,$);"
        "#14=IFCLOCALPLACEMENT($,#13);";
    LAYPROOF_READ(
        import, read_ifc(model(
                    kMetres + at +
                    "#20=IFCMECHANICALFASTENER('a',$,'B1',$,$,#14,$,$,0.02,0.3,.ANCHORBOLT.);"
                    "#21=IFCMECHANICALFASTENER('b',$,'M12',$,$,#14,$,$,0.01,0.1,.BOLT.);"
                    "#22=IFCMECHANICALFASTENER('c',$,'Anchor rod',$,$,#14,$,$,$,$,$);"
                    "#23=IFCMECHANICALFASTENER('d',$,'By type',$,$,#14,$,$,$,$,.NOTDEFINED.);"
                    "#24=IFCMECHANICALFASTENERTYPE('t',$,'x',$,$,$,$,$,$,.ANCHORBOLT.,$,$);"
                    "#25=IFCRELDEFINESBYTYPE('r',$,$,$,(#23),#24);"
                    "#26=IFCDISCRETEACCESSORY('e',$,'Plate',$,$,#14,$,$,.ANCHORPLATE.);"
                    "#27=IFCDISCRETEACCESSORY('f',$,'Clip',$,$,#14,$,$,.BRACKET.);"
                    "#30=IFCMECHANICALFASTENER('g',$,'Group',$,$,#14,#31,$,$,$,.ANCHORBOLT.);"
                    "#31=IFCPRODUCTDEFINITIONSHAPE($,$,(#32));"
                    "#32=IFCSHAPEREPRESENTATION($,'Body','MappedRepresentation',(#33,#34));"
                    "#33=IFCMAPPEDITEM($,#35);#34=IFCMAPPEDITEM($,#36);"
                    "#35=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,#37,1.,$);"
                    "#36=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,#38,1.,$);"
                    "#37=IFCCARTESIANPOINT((-0.1,0.,0.));#38=IFCCARTESIANPOINT((0.1,0.,0.));\n")));
    const auto points = by_name(*import);
    EXPECT_EQ(points.size(), 6U);
    for (const char* name : {"B1", "Anchor rod", "By type", "Plate", "Group-1", "Group-2"}) {
        ASSERT_TRUE(points.contains(name)) << name;
        EXPECT_EQ(points.at(name)->source, PointSource::fastener);
    }
    EXPECT_NEAR(points.at("Group-1")->east_m, 0.9, 1e-15);
    EXPECT_NEAR(points.at("Group-2")->east_m, 1.1, 1e-15);
    EXPECT_EQ(left_count(*import, "not an anchor bolt"), 1);
}

std::string grid_records(const std::string& curve_of_a) {
    return "#10=IFCCARTESIANPOINT((0.,0.));#11=IFCCARTESIANPOINT((0.,9.));"
           "#12=IFCCARTESIANPOINT((9.,0.));#13=IFCPOLYLINE((#10,#12));" +
           curve_of_a +
           "#15=IFCGRIDAXIS('A',#14,.T.);#16=IFCGRIDAXIS('1',#13,.F.);"
           "#17=IFCGRID('g',$,'G',$,$,$,$,(#16),(#15),$,$);";
}

TEST(Ifc, straight_axes_of_every_kind_are_taken_and_curved_ones_left) {
    for (const char* curve :
         {"#14=IFCPOLYLINE((#10,#11));",
          "#14=IFCLINE(#10,#20);#20=IFCVECTOR(#21,9.);"
          "#21=IFCDIRECTION((0.,1.));",
          "#14=IFCTRIMMEDCURVE(#19,(IFCPARAMETERVALUE(0.)),(IFCPARAMETERVALUE(9.)),.T.,.PARAMETER.)"
          ";"
          "#19=IFCLINE(#10,#20);#20=IFCVECTOR(#21,1.);#21=IFCDIRECTION((0.,1.));",
          "#14=IFCTRIMMEDCURVE(#19,(#10),(#11),.T.,.CARTESIAN.);"
          "#19=IFCLINE(#10,#20);#20=IFCVECTOR(#21,1.);#21=IFCDIRECTION((0.,1.));",
          "#14=IFCINDEXEDPOLYCURVE(#20,$,.F.);#20=IFCCARTESIANPOINTLIST2D(((0.,0.),(0.,9.)));"}) {
        LAYPROOF_READ(import, read_ifc(model(kMetres + grid_records(curve))));
        ASSERT_EQ(import->grid_lines.size(), 2U) << curve;
        EXPECT_EQ(import->grid_lines[0].name, "1");
        EXPECT_NEAR(import->grid_lines[0].start_m.x(), 9, 1e-12);  // SameSense false
        EXPECT_NEAR(import->grid_lines[1].end_m.y(), 9, 1e-12) << curve;
        ASSERT_EQ(import->points.size(), 1U);
        EXPECT_EQ(import->points[0].name, "A/1");
    }
    for (const char* curve : {"#14=IFCCIRCLE(#20,9.);#20=IFCAXIS2PLACEMENT2D(#10,$);",
                              "#14=IFCPOLYLINE((#10,#11,#12));"}) {
        LAYPROOF_READ(import, read_ifc(model(kMetres + grid_records(curve))));
        EXPECT_EQ(import->grid_lines.size(), 1U) << curve;
        EXPECT_EQ(import->left.size(), 1U) << curve;
    }
}

TEST(Ifc, grid_placement_of_ifc4_finds_the_grid_by_its_axes) {
    // Grid at (100, 0); offsets go to the left of each axis' sense, the third is the height.
    LAYPROOF_READ(
        import,
        read_ifc(model(
            kMetres +
            "#10=IFCCARTESIANPOINT((0.,0.));#11=IFCCARTESIANPOINT((0.,9.));"
            "#12=IFCCARTESIANPOINT((9.,0.));#13=IFCPOLYLINE((#10,#12));#14=IFCPOLYLINE((#10,#11));"
            "#15=IFCGRIDAXIS('A',#14,.T.);#16=IFCGRIDAXIS('1',#13,.T.);"
            "#17=IFCGRID('g',$,'G',$,$,#22,$,(#16),(#15),$,$);"
            "#20=IFCCARTESIANPOINT((100.,0.,5.));#21=IFCAXIS2PLACEMENT3D(#20,$,$);"
            "#22=IFCLOCALPLACEMENT($,#21);"
            "#30=IFCVIRTUALGRIDINTERSECTION((#15,#16),(0.5,0.25,1.));"
            "#31=IFCGRIDPLACEMENT(#30,$);#32=IFCCOLUMN('k',$,'K',$,$,#31,$,$,$);\n")));
    const ImportedPoint& column = *by_name(*import).at("K");
    EXPECT_NEAR(column.east_m, 100 - 0.5, 1e-12);
    EXPECT_NEAR(column.north_m, 0.25, 1e-12);
    EXPECT_NEAR(*column.height_m, 6, 1e-12);
}

TEST(Ifc, the_number_tells_which_foot) {
    const auto unit = [](const std::string& number, const std::string& name = "FOOT") {
        return read_ifc(
            model("#1=IFCPROJECT('',$,$,$,$,$,$,$,#2);#2=IFCUNITASSIGNMENT((#3));"
                  "#3=IFCCONVERSIONBASEDUNIT($,.LENGTHUNIT.,'" +
                  name + "',#4);#4=IFCMEASUREWITHUNIT(IFCRATIOMEASURE(" + number +
                  "),#5);#5=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);"));
    };
    LAYPROOF_READ(foot, unit("0.3048"));
    EXPECT_EQ(foot->unit.unit, measure::LengthUnit::foot);
    EXPECT_TRUE(foot->notices.empty());
    // Seven digits would be 20 mm off at 600 km; the foot meant is taken.
    for (const char* digits : {"0.3048006", "0.304800609601", "0.30480060960121924"}) {
        LAYPROOF_READ(us_foot, unit(digits));
        EXPECT_EQ(us_foot->unit.unit, measure::LengthUnit::us_foot);
        EXPECT_DOUBLE_EQ(*us_foot->unit.metres_per_unit, 1200.0 / 3937.0);
        EXPECT_EQ(us_foot->notices.size(), 1U);
    }
    LAYPROOF_READ(inch, unit("0.0254", "INCH"));
    EXPECT_EQ(inch->unit.unit, measure::LengthUnit::inch);
    LAYPROOF_READ(odd, unit("0.3", "FOOT"));
    EXPECT_FALSE(odd->unit.unit);
    EXPECT_DOUBLE_EQ(*odd->unit.metres_per_unit, 0.3);
    EXPECT_EQ(unit("-1.").refusal().code, ErrorCode::unit_unknown);
    EXPECT_EQ(unit("1.E300").refusal().code, ErrorCode::unit_unknown);
}

TEST(Ifc, no_unit_is_guessed) {
    const Document none = model("#1=IFCPROJECT('',$,$,$,$,$,$,$,$);");
    expect_refused(read_ifc(none), ErrorCode::unit_missing, 1, 1);
    ReadOptions options;
    options.unit = measure::LengthUnit::millimetre;
    LAYPROOF_READ(import, read_ifc(none, options));
    EXPECT_FALSE(import->unit.is_stated);
    const auto circular = read_ifc(
        model("#1=IFCPROJECT('',$,$,$,$,$,$,$,#2);#2=IFCUNITASSIGNMENT((#3));"
              "#3=IFCCONVERSIONBASEDUNIT($,.LENGTHUNIT.,'x',#4);#4=IFCMEASUREWITHUNIT(2.,#3);"));
    ASSERT_FALSE(circular.ok());
    EXPECT_EQ(circular.refusal().code, ErrorCode::reference_circular);
}

TEST(Ifc, circles_missing_records_and_other_schemas_are_refused) {
    const std::string column = "#20=IFCCOLUMN('g1',$,'K',$,$,#17,$,'T1',.COLUMN.);\n";
    expect_refused(read_ifc(model(kMetres +
                                  "#17=IFCLOCALPLACEMENT(#18,$);\n"
                                  "#18=IFCLOCALPLACEMENT(#17,$);\n" +
                                  column)),
                   ErrorCode::reference_circular, 8, 1);
    EXPECT_EQ(read_ifc(model(kMetres + column)).refusal().code, ErrorCode::reference_missing);
    std::string chain = kMetres;
    for (int i = 0; i < 5000; ++i) {
        chain += "#" + std::to_string(100 + i) + "=IFCLOCALPLACEMENT(#" + std::to_string(101 + i) +
                 ",$);\n";
    }
    chain += "#5100=IFCLOCALPLACEMENT($,$);#17=IFCLOCALPLACEMENT(#100,$);";
    EXPECT_EQ(read_ifc(model(chain + column)).refusal().code, ErrorCode::nested_too_deep);
    EXPECT_EQ(read_ifc(model(kMetres, "AP203")).refusal().code, ErrorCode::format_unknown);
    LAYPROOF_READ(old, read_ifc(model(kMetres, "IFC2X3")));
    EXPECT_EQ(old->notices.size(), 1U);
}

TEST(Ifc, broken_files_are_refused_where_they_break) {
    expect_refused(read_ifc(file("")), ErrorCode::empty_file, 1, 1);
    expect_refused(read_ifc(file("solid x")), ErrorCode::format_unknown, 1, 1);
    const auto code = [](const std::string& records) {
        const auto result = read_ifc(model(records));
        return result.ok() ? ErrorCode{} : result.refusal().code;
    };
    EXPECT_EQ(code("#1=IFCPROJECT('open"), ErrorCode::not_well_formed);
    EXPECT_EQ(code("/* open"), ErrorCode::not_well_formed);
    EXPECT_EQ(code("#=IFCPROJECT();"), ErrorCode::not_well_formed);
    EXPECT_EQ(code("#1 IFCPROJECT();"), ErrorCode::not_well_formed);
    EXPECT_EQ(code(kMetres + "#1=IFCWALL();"), ErrorCode::not_well_formed);  // #1 twice
    EXPECT_EQ(code("#1=IFCPROJECT('a' 'b');"), ErrorCode::not_well_formed);
    EXPECT_EQ(code("#1=IFCPROJECT(1e999);"), ErrorCode::not_a_number);
    EXPECT_EQ(code("#1=IFCPROJECT(" + std::string(100'000, '(') + ");"),
              ErrorCode::nested_too_deep);
    const auto cut = read_ifc(file("ISO-10303-21;\nDATA;\n#1=IFCPROJECT('a');\n"));
    ASSERT_FALSE(cut.ok());
    EXPECT_NE(cut.refusal().expected.find("cut short"), std::string::npos);
}

TEST(StepText, escapes_are_resolved) {
    EXPECT_EQ(step_text("it''s"), "it's");
    EXPECT_EQ(step_text("\\X2\\00E400F6\\X0\\!"), "äö!");
    EXPECT_EQ(step_text("\\X2\\D83DDE00\\X0\\"), "\xF0\x9F\x98\x80");
    EXPECT_EQ(step_text("\\X4\\0001F600\\X0\\"), "\xF0\x9F\x98\x80");
    EXPECT_EQ(step_text("\\X\\E4"), "ä");
    EXPECT_EQ(step_text("\\S\\d"), "ä");
    EXPECT_EQ(step_text("\\PA\\x"), "x");
    EXPECT_EQ(step_text("a\\\\b"), "a\\b");
    EXPECT_EQ(step_text("\xE4"), "ä");             // bytes above 127 that are no UTF-8
    EXPECT_EQ(step_text("ä"), "ä");                // and those that are
    EXPECT_EQ(step_text("\\X2\\00"), "\\X2\\00");  // broken ones stay as they are
    EXPECT_EQ(step_text("\\X2\\D800\\X0\\x"), "x");
}

TEST(StepFile, records_are_found_whatever_their_order_and_layout) {
    const Document document = file(
        "ISO-10303-21;HEADER;FILE_SCHEMA(('IFC4'));ENDSEC;DATA;/* #9= IFCX(); */\n"
        "#30 = ifcThing ( 'a;b''(' , .T. , -1.5E-3, $, *, (#2, (3, 4.)), IFCLABEL('x'), \"0F\" ) "
        ";\n"
        "#2=IFCTHING();ENDSEC;END-ISO-10303-21;");
    const auto step = StepFile::open(document);
    ASSERT_TRUE(step.ok()) << step.refusal().to_text();
    EXPECT_EQ(step->size(), 2U);
    EXPECT_FALSE(step->has(9));
    const auto record = step->record(30);
    ASSERT_TRUE(record.ok()) << record.refusal().to_text();
    EXPECT_EQ(record->type, "IFCTHING");
    EXPECT_EQ(record->line, 2);
    EXPECT_EQ(record->text(0), "a;b'(");
    EXPECT_EQ(record->text(1), "T");
    EXPECT_DOUBLE_EQ(*record->number(2), -1.5e-3);
    EXPECT_TRUE(record->at(3).is_missing());
    EXPECT_TRUE(record->at(4).is_missing());
    EXPECT_EQ(record->references(5).at(0), 2U);
    EXPECT_EQ(record->at(5).list.at(1).list.at(1).number, 4.0);
    EXPECT_EQ(record->text(6), "x");
    EXPECT_TRUE(record->at(99).is_missing());
    EXPECT_EQ(step->of_type("IFCTHING"), (std::vector<std::uint64_t>{30, 2}));
}

}  // namespace
}  // namespace layproof::exchange
