// Columns and walls of an IFC model as obstacles: the public examples, shapes worked out by hand,
// and what cannot be read.

#include "exchange/ifc/ifc_obstacles.hpp"
#include "exchange/import/obstacles.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "exchange/exchange_support.hpp"
#include "exchange/text/file.hpp"

namespace layproof::exchange {
namespace {

const std::string kIfcFolder = std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/ifc-samples/";

/// Millimetres; #90 stands at (10, 20, 1) m, turned by 90° to the left.
Document standing(const std::string& records) {
    return testing::file(
        "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('IFC4'));\nENDSEC;DATA;\n"
        "#1=IFCPROJECT('',$,$,$,$,$,$,$,#2);#2=IFCUNITASSIGNMENT((#3));\n"
        "#3=IFCSIUNIT(*,.LENGTHUNIT.,.MILLI.,.METRE.);\n"
        "#80=IFCCARTESIANPOINT((10000.,20000.,1000.));#81=IFCDIRECTION((0.,0.,1.));\n"
        "#82=IFCDIRECTION((0.,1.,0.));#83=IFCAXIS2PLACEMENT3D(#80,#81,#82);\n"
        "#90=IFCLOCALPLACEMENT($,#83);#91=IFCDIRECTION((0.,0.,1.));\n" +
            records + "ENDSEC;\nEND-ISO-10303-21;\n",
        "hall.ifc");
}

/// A wall 'W' whose body is record #30, the items of which are given.
std::string wall_of(const std::string& items, const std::string& records) {
    return "#20=IFCWALL('g1',$,'W',$,$,#90,#21,'T7',$);#21=IFCPRODUCTDEFINITIONSHAPE($,$,(#22));"
           "#22=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(" +
           items + "));\n" + records;
}

/// 4 m by 0.3 m along its own x, 2.8 m high: on the site from (10, 20) to the north.
const std::string kStraight =
    "#30=IFCEXTRUDEDAREASOLID(#31,$,#91,2800.);"
    "#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,#32,4000.,300.);#32=IFCAXIS2PLACEMENT2D(#33,$);"
    "#33=IFCCARTESIANPOINT((2000.,0.));\n";

Table<ObstacleRow> read_standing(const std::string& records) {
    auto table = read_any_obstacles(standing(records));
    EXPECT_TRUE(table) << (table ? "" : table.refusal().to_text());
    return table ? std::move(*table) : Table<ObstacleRow>{};
}

std::string all_of(const std::vector<std::string>& notices) {
    std::string out;
    for (const std::string& notice : notices) out += notice + "\n";
    return out;
}

void expect_box(const ObstacleRow& row, double west, double south, double east, double north,
                double tolerance = 1e-9) {
    Eigen::Vector2d low(1e9, 1e9);
    Eigen::Vector2d high(-1e9, -1e9);
    for (const auto& c : row.corners) {
        low = low.cwiseMin(c);
        high = high.cwiseMax(c);
    }
    EXPECT_NEAR(low.x(), west, tolerance) << row.name;
    EXPECT_NEAR(low.y(), south, tolerance) << row.name;
    EXPECT_NEAR(high.x(), east, tolerance) << row.name;
    EXPECT_NEAR(high.y(), north, tolerance) << row.name;
}

TEST(ifc_obstacles, public_grid_gives_its_columns_with_their_sizes) {
    // 25 columns of 300 mm square and 2.8 m height (the file's own numbers), ten beams.
    LAYPROOF_READ(document, read_document(kIfcFolder + "grid-placement.ifc"));
    LAYPROOF_READ(table, read_any_obstacles(*document));
    ASSERT_EQ(table->rows.size(), 25U);
    for (const ObstacleRow& row : table->rows) {
        EXPECT_EQ(row.kind, ObstacleKind::outline);
        ASSERT_EQ(row.corners.size(), 4U);
        EXPECT_NEAR((row.corners[0] - row.corners[1]).norm(), 0.3, 1e-9);
        EXPECT_NEAR(*row.bottom_m, 0.0, 1e-12);
        EXPECT_NEAR(*row.top_m, 2.8, 1e-12);
    }
    const auto found = std::find_if(table->rows.begin(), table->rows.end(),
                                    [](const auto& row) { return row.name == "CRE - 001 C/2"; });
    ASSERT_NE(found, table->rows.end());
    expect_box(*found, -6.15, 7.85, -5.85, 8.15);
    EXPECT_NE(all_of(table->notices).find("25 columns taken"), std::string::npos);
    EXPECT_NE(all_of(table->notices).find("10 IfcBeam"), std::string::npos);
}

TEST(ifc_obstacles, rolled_sections_give_the_rectangle_around_them) {
    // IPE 200 (EN 10365): 100 mm wide, 200 mm deep. The placement turns its depth from east to
    // west.
    const auto column = [](const std::string& profile) {
        return read_standing(
            "#20=IFCCOLUMN('g',$,'IPE200',$,$,#90,#21,$,$);#21=IFCPRODUCTDEFINITIONSHAPE($,$,(#22))"
            ";"
            "#22=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#30));"
            "#30=IFCEXTRUDEDAREASOLID(#31,$,#91,2000.);#31=" +
            profile + ";\n");
    };
    const auto table = column("IFCISHAPEPROFILEDEF(.AREA.,'IPE200',$,100.,200.,5.6,8.5,12.,$,$)");
    ASSERT_EQ(table.rows.size(), 1U);
    expect_box(table.rows[0], 9.9, 19.95, 10.1, 20.05);
    EXPECT_NEAR(*table.rows[0].top_m, 3.0, 1e-12);
    EXPECT_NE(all_of(table.notices).find("the straight block around the shape"), std::string::npos);
    // The others give their depth first; a Z is as wide as both flanges less the web.
    for (const char* word : {"IFCLSHAPEPROFILEDEF", "IFCTSHAPEPROFILEDEF", "IFCUSHAPEPROFILEDEF",
                             "IFCCSHAPEPROFILEDEF"}) {
        const auto other = column(std::string(word) + "(.AREA.,$,$,200.,100.,5.,8.,$,$)");
        ASSERT_EQ(other.rows.size(), 1U) << word;
        expect_box(other.rows[0], 9.9, 19.95, 10.1, 20.05);
    }
    const auto z = column("IFCZSHAPEPROFILEDEF(.AREA.,$,$,200.,60.,20.,8.,$,$)");
    ASSERT_EQ(z.rows.size(), 1U);
    expect_box(z.rows[0], 9.9, 19.95, 10.1, 20.05);
}

TEST(ifc_obstacles, wall_stands_where_its_placement_turns_it) {
    const auto table = read_standing(wall_of("#30", kStraight));
    ASSERT_EQ(table.rows.size(), 1U);
    EXPECT_EQ(table.rows[0].name, "W");
    expect_box(table.rows[0], 9.85, 20.0, 10.15, 24.0);
    EXPECT_NEAR(*table.rows[0].bottom_m, 1.0, 1e-12);
    EXPECT_NEAR(*table.rows[0].top_m, 3.8, 1e-12);
    EXPECT_EQ(all_of(table.notices).find("straight block"), std::string::npos);
    EXPECT_EQ(table.unit, measure::LengthUnit::millimetre);
}

TEST(ifc_obstacles, outline_keeps_its_corners_and_holes_are_filled) {
    // An L of two legs of 3 m and 0.2 m.
    const auto table = read_standing(wall_of(
        "#30",
        "#30=IFCEXTRUDEDAREASOLID(#31,$,#91,2500.);"
        "#31=IFCARBITRARYPROFILEDEFWITHVOIDS(.AREA.,$,#32,(#33));"
        "#32=IFCINDEXEDPOLYCURVE(#34,$,.F.);"
        "#34=IFCCARTESIANPOINTLIST2D(((0.,0.),(3000.,0.),(3000.,200.),(200.,200.),(200.,3000.),"
        "(0.,3000.),(0.,0.)));\n"));
    ASSERT_EQ(table.rows.size(), 1U);
    EXPECT_EQ(table.rows[0].corners.size(), 6U);
    expect_box(table.rows[0], 7.0, 20.0, 10.0, 23.0);
}

TEST(ifc_obstacles, arcs_run_through_their_middle_point) {
    // A half round of radius 1 m: its farthest point lies 1 m ahead, within the chords' 0.9 %.
    const auto table = read_standing(
        wall_of("#30",
                "#30=IFCEXTRUDEDAREASOLID(#31,$,#91,2500.);"
                "#31=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#32);"
                "#32=IFCINDEXEDPOLYCURVE(#34,(IFCARCINDEX((1,2,3)),IFCLINEINDEX((3,1))),.F.);"
                "#34=IFCCARTESIANPOINTLIST2D(((-1000.,0.),(0.,1000.),(1000.,0.)));\n"));
    ASSERT_EQ(table.rows.size(), 1U);
    // Its own +y is west on the site.
    expect_box(table.rows[0], 9.0, 19.0, 10.0, 21.0, 0.009);
    for (const auto& c : table.rows[0].corners)
        EXPECT_NEAR((c - Eigen::Vector2d(10, 20)).norm(), 1.0, 1e-9);
}

TEST(ifc_obstacles, round_columns_stay_round) {
    const auto table = read_standing(
        "#20=IFCCOLUMN('g',$,'R',$,$,#90,#21,$,$);#21=IFCPRODUCTDEFINITIONSHAPE($,$,(#22));"
        "#22=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#30));"
        "#30=IFCEXTRUDEDAREASOLID(#31,$,#91,3000.);"
        "#31=IFCCIRCLEPROFILEDEF(.AREA.,$,#32,250.);#32=IFCAXIS2PLACEMENT2D(#33,$);"
        "#33=IFCCARTESIANPOINT((1000.,0.));\n");
    ASSERT_EQ(table.rows.size(), 1U);
    EXPECT_EQ(table.rows[0].kind, ObstacleKind::round);
    EXPECT_NEAR(table.rows[0].width_m, 0.5, 1e-12);
    EXPECT_NEAR(table.rows[0].corners[0].x(), 10.0, 1e-9);
    EXPECT_NEAR(table.rows[0].corners[0].y(), 21.0, 1e-9);
}

TEST(ifc_obstacles, lying_sweep_gives_the_block_around_it) {
    // The gable of a wall, 4 m long, eaves 2 m, ridge 3 m, swept by its thickness of 0.3 m: the
    // position's z is the wall's −y, its x the wall's x, so its y is up.
    const auto table = read_standing(wall_of(
        "#30",
        "#30=IFCEXTRUDEDAREASOLID(#31,#40,#91,300.);"
        "#40=IFCAXIS2PLACEMENT3D(#41,#42,#43);#41=IFCCARTESIANPOINT((0.,150.,0.));"
        "#42=IFCDIRECTION((0.,-1.,0.));#43=IFCDIRECTION((1.,0.,0.));"
        "#31=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#32);#32=IFCPOLYLINE((#51,#52,#53,#54,#55,#51));"
        "#51=IFCCARTESIANPOINT((0.,0.));#52=IFCCARTESIANPOINT((4000.,0.));"
        "#53=IFCCARTESIANPOINT((4000.,2000.));#54=IFCCARTESIANPOINT((2000.,3000.));"
        "#55=IFCCARTESIANPOINT((0.,2000.));\n"));
    ASSERT_EQ(table.rows.size(), 1U);
    expect_box(table.rows[0], 9.85, 20.0, 10.15, 24.0);
    EXPECT_NEAR(*table.rows[0].bottom_m, 1.0, 1e-9);
    EXPECT_NEAR(*table.rows[0].top_m, 4.0, 1e-9);
    EXPECT_NE(all_of(table.notices).find("1 is taken as the straight block"), std::string::npos);
}

TEST(ifc_obstacles, cut_off_parts_stay_on_and_openings_are_solid) {
    const auto table = read_standing(wall_of("#35",
                                             "#35=IFCBOOLEANCLIPPINGRESULT(.DIFFERENCE.,#36,#60);"
                                             "#36=IFCBOOLEANCLIPPINGRESULT(.DIFFERENCE.,#30,#60);"
                                             "#60=IFCHALFSPACESOLID(#61,.F.);" +
                                                 kStraight +
                                                 "#70=IFCOPENINGELEMENT('o',$,$,$,$,$,$,$,$);"
                                                 "#71=IFCRELVOIDSELEMENT('r',$,$,$,#20,#70);\n"));
    ASSERT_EQ(table.rows.size(), 1U);
    expect_box(table.rows[0], 9.85, 20.0, 10.15, 24.0);
    EXPECT_NE(all_of(table.notices).find("1 with openings is taken as solid"), std::string::npos)
        << all_of(table.notices);
}

TEST(ifc_obstacles, mapped_shapes_are_moved_and_mirrored) {
    // Mapped twice: as it is, and its x the other way and half as long.
    const auto table = read_standing(wall_of(
        "#40,#44", kStraight +
                       "#40=IFCMAPPEDITEM(#41,#43);#41=IFCREPRESENTATIONMAP(#45,#42);"
                       "#42=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#30));"
                       "#43=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,#46,1.,$);"
                       "#44=IFCMAPPEDITEM(#41,#47);#45=IFCAXIS2PLACEMENT3D(#46,$,$);"
                       "#46=IFCCARTESIANPOINT((0.,0.,0.));"
                       "#47=IFCCARTESIANTRANSFORMATIONOPERATOR3DNONUNIFORM(#48,$,#46,0.5,$,1.,1.);"
                       "#48=IFCDIRECTION((-1.,0.,0.));\n"));
    ASSERT_EQ(table.rows.size(), 2U);
    expect_box(table.rows[0], 9.85, 20.0, 10.15, 24.0);
    expect_box(table.rows[1], 9.85, 18.0, 10.15, 20.0);
}

/// A box of faces from (0, 0, 0) to the size, as triangles or polygons of the given indices.
std::string box_of_faces(const std::string& points, const std::string& faces) {
    return wall_of("#30", "#30=IFCTRIANGULATEDFACESET(#31,$,.T.,(" + faces +
                              "),$);#31=IFCCARTESIANPOINTLIST3D((" + points + "));\n");
}

TEST(ifc_obstacles, faces_give_their_block_and_an_l_of_faces_is_left) {
    const std::string box =
        "(1,3,2),(1,4,3),(5,6,7),(5,7,8),(1,2,6),(1,6,5),(2,3,7),(2,7,6),(3,4,8),(3,8,7),(4,1,5),"
        "(4,5,8)";
    const auto table = read_standing(box_of_faces(
        "(0.,0.,0.),(4000.,0.,0.),(4000.,300.,0.),(0.,300.,0.),(0.,0.,2500.),(4000.,0.,2500.),"
        "(4000.,300.,2500.),(0.,300.,2500.)",
        box));
    ASSERT_EQ(table.rows.size(), 1U);
    expect_box(table.rows[0], 9.7, 20.0, 10.0, 24.0);
    EXPECT_NEAR(*table.rows[0].top_m, 3.5, 1e-9);
    // A wedge fills half its block; an L of thin walls even less.
    const auto wedge = read_standing(box_of_faces(
        "(0.,0.,0.),(4000.,0.,0.),(4000.,300.,0.),(0.,300.,0.),(0.,0.,2500.),(0.,300.,2500.)",
        "(1,3,2),(1,4,3),(1,2,5),(3,4,6),(4,1,5),(4,5,6),(2,3,6),(2,6,5)"));
    EXPECT_TRUE(wedge.rows.empty());
    EXPECT_NE(all_of(wedge.notices).find("found a set of faces that is far from a straight block"),
              std::string::npos)
        << all_of(wedge.notices);
    const auto outside = read_standing(box_of_faces("(0.,0.,0.)", "(1,2,9)"));
    EXPECT_NE(all_of(outside.notices).find("point that is not in the list"), std::string::npos);
}

TEST(ifc_obstacles, wall_without_body_runs_along_its_axis_beside_its_layers) {
    // Reference line on the outer face, 300 mm of layers to its right.
    const auto table = read_standing(
        "#20=IFCWALLSTANDARDCASE('g1',$,'W',$,$,#90,#21,$,$);"
        "#21=IFCPRODUCTDEFINITIONSHAPE($,$,(#22));"
        "#22=IFCSHAPEREPRESENTATION($,'Axis','Curve2D',(#23));#23=IFCPOLYLINE((#24,#25));"
        "#24=IFCCARTESIANPOINT((0.,0.));#25=IFCCARTESIANPOINT((5000.,0.));"
        "#26=IFCRELASSOCIATESMATERIAL('r',$,$,$,(#20),#27);"
        "#27=IFCMATERIALLAYERSETUSAGE(#28,.AXIS2.,.NEGATIVE.,0.,$);"
        "#28=IFCMATERIALLAYERSET((#29,#30),$,$);#29=IFCMATERIALLAYER($,100.,$,$,$,$,$);"
        "#30=IFCMATERIALLAYER($,200.,$,$,$,$,$);\n");
    ASSERT_EQ(table.rows.size(), 1U);
    const ObstacleRow& row = table.rows[0];
    EXPECT_EQ(row.kind, ObstacleKind::wall);
    EXPECT_NEAR(row.width_m, 0.3, 1e-12);
    // To the right of a line that runs north is east.
    EXPECT_NEAR(row.corners[0].x(), 10.15, 1e-9);
    EXPECT_NEAR(row.corners[1].y(), 25.0, 1e-9);
    EXPECT_FALSE(row.top_m);
    EXPECT_NE(all_of(table.notices).find("taken along the axis, heights open"), std::string::npos);
}

TEST(ifc_obstacles, parts_of_a_wall_are_taken_for_it) {
    const auto table = read_standing(
        "#19=IFCWALL('g0',$,'Whole',$,$,#90,$,$,$);#18=IFCRELAGGREGATES('r',$,$,$,#19,(#20));"
        "#20=IFCBUILDINGELEMENTPART('g1',$,'Core',$,$,#90,#21,$,$);"
        "#21=IFCPRODUCTDEFINITIONSHAPE($,$,(#22));"
        "#22=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#30));" +
        kStraight);
    ASSERT_EQ(table.rows.size(), 1U);
    EXPECT_EQ(table.rows[0].name, "Whole");
}

TEST(ifc_obstacles, what_is_not_read_is_counted_with_its_line_and_reason) {
    const auto table = read_standing(
        "#20=IFCWALL('g1',$,'W',$,$,#90,#21,$,$);\n#21=IFCPRODUCTDEFINITIONSHAPE($,$,(#22));\n"
        "#22=IFCSHAPEREPRESENTATION($,'Body','AdvancedSweptSolid',(#30));\n"
        "#30=IFCSWEPTDISKSOLID(#31,5.,$,$,$);\n"
        "#40=IFCWALL('g2',$,'V',$,$,#90,#21,$,$);#41=IFCWALL('g3',$,'U',$,$,$,$,$,$);\n"
        "#42=IFCSTAIR('g4',$,'S',$,$,#90,$,$,$);#43=IFCBUILDINGELEMENTPROXY('g5',$,'P',$,$,#90,$,$,"
        "$);\n#44=IFCCOLUMN('g6',$,'C',$,$,#90,#21,$,$);\n");
    const std::string notices = all_of(table.notices);
    EXPECT_NE(notices.find("hall.ifc:13: 2 IfcWall: found IfcSweptDiskSolid, expected"),
              std::string::npos)
        << notices;
    EXPECT_NE(notices.find("1 IfcWall: found no placement"), std::string::npos) << notices;
    EXPECT_NE(notices.find("1 IfcStair, 1 IfcBuildingElementProxy"), std::string::npos) << notices;
    // The column still stands, as a square.
    ASSERT_EQ(table.rows.size(), 1U);
    EXPECT_EQ(table.rows[0].kind, ObstacleKind::column);
    EXPECT_DOUBLE_EQ(table.rows[0].width_m, kDrawnColumn_m);
    EXPECT_NE(notices.find("1 column without a shape that is read taken 500 mm square"),
              std::string::npos)
        << notices;
}

TEST(ifc_obstacles, sizes_that_make_no_sense_are_left) {
    for (const char* profile :
         {"#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,0.,300.);",
          "#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,$,$);",
          "#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,-4.,300.);",
          "#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,4.E9,300.);",
          "#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,4.E300,1.E300);",
          "#31=IFCCIRCLEPROFILEDEF(.AREA.,$,$,$);",
          "#31=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#32);#32=IFCPOLYLINE(());",
          "#31=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#32);#32=IFCPOLYLINE((#80,#80,#80,#80));",
          "#31=IFCDERIVEDPROFILEDEF(.AREA.,$,#32,$);#32=IFCPOLYLINE(());"}) {
        const auto table = read_standing(wall_of(
            "#30", "#30=IFCEXTRUDEDAREASOLID(#31,$,#91,2800.);" + std::string(profile) + "\n"));
        EXPECT_TRUE(table.rows.empty()) << profile;
        EXPECT_NE(all_of(table.notices).find("1 IfcWall: found "), std::string::npos) << profile;
    }
    for (const char* depth : {"0.", "$", "1.E12"})
        EXPECT_TRUE(read_standing(
                        wall_of("#30", "#30=IFCEXTRUDEDAREASOLID(#31,$,#91," + std::string(depth) +
                                           ");#31=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,4.,3.);\n"))
                        .rows.empty())
            << depth;
}

TEST(ifc_obstacles, circles_and_multiplying_shapes_come_to_an_end) {
    const auto notices_of = [](const std::string& records) {
        const auto table = read_any_obstacles(standing(wall_of("#30", records)));
        return table ? all_of(table->notices) : table.refusal().to_text();
    };
    EXPECT_NE(
        notices_of("#30=IFCBOOLEANRESULT(.UNION.,#30,#30);\n").find("shapes made of each other"),
        std::string::npos);
    EXPECT_NE(notices_of("#30=IFCCSGSOLID(#31);#31=IFCCSGSOLID(#30);\n").find("made of each other"),
              std::string::npos);
    EXPECT_NE(notices_of("#30=IFCMAPPEDITEM(#31,#33);#31=IFCREPRESENTATIONMAP($,#32);"
                         "#32=IFCSHAPEREPRESENTATION($,'Body','',(#30));"
                         "#33=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,$,1.,$);\n")
                  .find("made of each other"),
              std::string::npos);
    EXPECT_NE(notices_of("#30=IFCEXTRUDEDAREASOLID(#31,$,#91,9.);"
                         "#31=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#32);"
                         "#32=IFCCOMPOSITECURVE((#33),.F.);"
                         "#33=IFCCOMPOSITECURVESEGMENT(.CONTINUOUS.,.T.,#32);\n")
                  .find("curves made of each other"),
              std::string::npos);
    // Ten maps of ten items each within each other are 10^10 shapes.
    std::string many;
    for (int level = 0; level < 10; ++level) {
        const int at = 100 + 20 * level;
        many += "#" + std::to_string(at) + "=IFCREPRESENTATIONMAP($,#" + std::to_string(at + 1) +
                ");#" + std::to_string(at + 1) + "=IFCSHAPEREPRESENTATION($,'Body','',(";
        for (int i = 0; i < 10; ++i) many += (i > 0 ? ",#" : "#") + std::to_string(at + 2 + i);
        many += "));";
        for (int i = 0; i < 10; ++i)
            many += "#" + std::to_string(at + 2 + i) +
                    (level < 9 ? "=IFCMAPPEDITEM(#" + std::to_string(at + 20) + ",#99);"
                               : "=IFCSWEPTDISKSOLID($);");
    }
    many += "#30=IFCMAPPEDITEM(#100,#99);#99=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,$,1.,$);\n";
    EXPECT_NE(notices_of(many).find("IfcSweptDiskSolid"), std::string::npos);
    std::string solid = many;
    for (std::size_t at = 0; (at = solid.find("IFCSWEPTDISKSOLID($)", at)) != std::string::npos;)
        solid.replace(at, 20, "IFCEXTRUDEDAREASOLID(#500,$,#91,9.)");
    solid += "#500=IFCRECTANGLEPROFILEDEF(.AREA.,$,$,4000.,300.);\n";
    EXPECT_NE(notices_of(solid).find("more than 1000 parts"), std::string::npos);
}

TEST(ifc_obstacles, missing_records_end_the_reading) {
    const auto table = read_any_obstacles(standing(wall_of("#30", "")));
    ASSERT_FALSE(table);
    EXPECT_EQ(table.refusal().code, ErrorCode::reference_missing);
}

TEST(ifc_obstacles, one_name_on_several_walls_is_told_apart) {
    const auto table = read_standing(wall_of("#30", kStraight) +
                                     "#50=IFCWALL('g2',$,'W',$,$,#90,#21,'T8',$);"
                                     "#51=IFCWALL('g3',$,'W',$,$,#90,#21,'T8',$);"
                                     "#52=IFCWALL('g4',$,$,$,$,#90,#21,$,$);\n");
    ASSERT_EQ(table.rows.size(), 4U);
    EXPECT_EQ(table.rows[0].name, "W T7");
    EXPECT_EQ(table.rows[1].name, "W T8");
    EXPECT_EQ(table.rows[2].name, "W #51");
    EXPECT_EQ(table.rows[3].name, "g4");
}

}  // namespace
}  // namespace layproof::exchange
