// DXF: the public plan, hand-made drawings for each rule of the format, and what is refused.

#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "exchange/dxf/dxf.hpp"
#include "exchange/dxf/dxf_grid.hpp"
#include "exchange/exchange_support.hpp"
#include "exchange/import/import.hpp"
#include "exchange/text/file.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

const std::string kPlan = std::string(LAYPROOF_SOURCE_DIR) + "/tests/data/dxf-plan/plan.dxf";

/// "0 POINT 8 A 10 1": blanks part codes and values, a value of several words has underscores.
std::string pairs(std::string text) {
    std::string out;
    for (std::size_t at; (at = text.find("  ")) != std::string::npos;) text.erase(at, 1);
    for (const char c : text) out += c == ' ' ? '\n' : c == '_' ? ' ' : c;
    return out + '\n';
}

Document drawing(const std::string& entities, const std::string& blocks = "",
                 const std::string& tables = "", const std::string& header = "") {
    std::string text;
    if (!header.empty()) text += pairs("0 SECTION 2 HEADER " + header + " 0 ENDSEC");
    if (!tables.empty()) text += pairs("0 SECTION 2 TABLES " + tables + " 0 ENDSEC");
    if (!blocks.empty()) text += pairs("0 SECTION 2 BLOCKS " + blocks + " 0 ENDSEC");
    text += pairs("0 SECTION 2 ENTITIES " + entities + " 0 ENDSEC 0 EOF");
    return file(text, "test.dxf");
}

Drawing read(const Document& document) {
    auto result = read_drawing(document);
    EXPECT_TRUE(result.ok()) << result.refusal().to_text();
    return result.ok() ? std::move(result).value() : Drawing{};
}

void expect_at(const Eigen::Vector3d& p, double x, double y, double z = 0.0) {
    EXPECT_NEAR(p.x(), x, 1e-12);
    EXPECT_NEAR(p.y(), y, 1e-12);
    EXPECT_NEAR(p.z(), z, 1e-12);
}

ReadOptions in_unit(measure::LengthUnit unit) {
    ReadOptions options;
    options.unit = unit;
    return options;
}

TEST(Dxf, a_large_drawing_is_unfolded_while_it_is_read) {
    std::string entities;
    for (int i = 0; i < 10'000; ++i)
        entities += " 0 INSERT 2 B 8 L 10 " + std::to_string(i) + " 20 " + std::to_string(2 * i) +
                    " 66 1 0 ATTRIB 2 NAME 1 P" + std::to_string(i) + " 0 SEQEND";
    const std::string blocks = "0 BLOCK 2 B 10 1 20 0 0 POINT 8 0 10 1 20 1 0 ENDBLK";
    Document again = drawing(entities.substr(1), blocks);
    const Drawing parts = read(again);
    ASSERT_EQ(parts.points.size(), 20'000U);
    ASSERT_GE(parts.texts.size(), 10'000U);
    for (int i = 0; i < 10'000; ++i) {
        const DrawnPoint& insert = parts.points[static_cast<std::size_t>(2 * i)];
        expect_at(insert.at, i, 2 * i);
        EXPECT_EQ(parts.texts[static_cast<std::size_t>(insert.text)].text, "P" + std::to_string(i));
        expect_at(parts.points[static_cast<std::size_t>(2 * i + 1)].at, i, 2 * i + 1);
    }
    // Blocks that come too late are not passed over.
    const std::string end = pairs("0 EOF");
    again.bytes.replace(again.bytes.rfind(end), end.size(),
                        pairs("0 SECTION 2 BLOCKS 0 ENDSEC 0 EOF"));
    const auto refused = read_drawing(again);
    ASSERT_FALSE(refused.ok());
    EXPECT_EQ(refused.refusal().code, ErrorCode::not_well_formed);
}

TEST(Dxf, public_plan_is_read_whole) {
    LAYPROOF_READ(document, read_document(kPlan));
    const Drawing plan = read(*document);
    EXPECT_EQ(plan.version, "AC1015");
    EXPECT_EQ(plan.insunits, 4);  // millimetres: wrong, the plan is drawn in inches
    std::map<PointSource, int> points;
    for (const DrawnPoint& p : plan.points) ++points[p.source];
    // The counts its README gives; 84 ARC and the bulges of 124 LWPOLYLINE.
    EXPECT_EQ(points[PointSource::point], 126);
    EXPECT_GE(points[PointSource::circle], 27);
    EXPECT_EQ(plan.texts.size(), 149U);
    EXPECT_GE(plan.arcs.size(), 84U);
    EXPECT_GE(plan.lines.size(), 685U);
    // The footing layer's extent as stated: x -652.8..150.2, y -220.6..351.4.
    Eigen::Array2d low(1e9, 1e9), high(-1e9, -1e9);
    for (const DrawnLine& l : plan.lines) {
        if (plan.word(l.layer) != "S-FOOTER") continue;
        for (const Eigen::Vector3d& p : {l.from, l.to}) {
            low = low.min(p.head<2>().array());
            high = high.max(p.head<2>().array());
        }
    }
    EXPECT_NEAR(low.x(), -652.8, 0.06);
    EXPECT_NEAR(high.x(), 150.2, 0.06);
    EXPECT_NEAR(low.y(), -220.6, 0.06);
    EXPECT_NEAR(high.y(), 351.4, 0.06);
}

TEST(Dxf, header_unit_is_evidence_only) {
    LAYPROOF_READ(document, read_document(kPlan));
    const auto refused = read_dxf(*document);
    expect_refused(refused, ErrorCode::unit_missing, 1, 1);
    EXPECT_NE(refused.refusal().found.find("millimetres"), std::string::npos);
    LAYPROOF_READ(import, read_dxf(*document, in_unit(measure::LengthUnit::inch)));
    EXPECT_FALSE(import->unit.is_stated);
    EXPECT_DOUBLE_EQ(*import->unit.metres_per_unit, 0.0254);
    bool told = false;
    for (const std::string& n : import->notices) told = told || n.find("$INSUNITS") != n.npos;
    EXPECT_TRUE(told);
    // The dimension 58'-0" is 696 units long: 58 ft in metres.
    EXPECT_NEAR(696 * *import->unit.metres_per_unit, 58 * 0.3048, 1e-12);
    EXPECT_FALSE(import->points.at(0).height_m);  // all at z = 0
}

TEST(Dxf, block_is_placed_with_base_scale_turn_rows_and_nesting) {
    const std::string blocks =
        "0 BLOCK 2 B 10 1 20 1 30 0 0 POINT 8 0 10 2 20 1 30 3 0 ENDBLK "
        "0 BLOCK 2 C 10 0 20 0 0 INSERT 8 0 2 B 10 10 20 0 50 90 0 ENDBLK";
    // B's point lies at (1, 0, 3) from its base.
    Drawing d = read(drawing("0 INSERT 8 L 2 B 10 100 20 200 30 5", blocks));
    ASSERT_EQ(d.points.size(), 2U);  // the insert itself, and the point in it
    expect_at(d.points[0].at, 100, 200, 5);
    EXPECT_EQ(d.points[0].source, PointSource::insert);
    EXPECT_EQ(d.word(d.points[0].block), "B");
    expect_at(d.points[1].at, 101, 200, 8);
    EXPECT_EQ(d.word(d.points[1].layer), "L");  // layer 0 of a block lies on the insert's layer
    d = read(drawing("0 INSERT 8 L 2 B 10 0 20 0 41 2 42 3 43 4 50 90", blocks));
    expect_at(d.points[1].at, 0, 2, 12);
    d = read(drawing("0 INSERT 8 L 2 B 10 0 20 0 41 -1 42 1", blocks));
    expect_at(d.points[1].at, -1, 0, 3);
    // Twice inside: turned by 90° in C, C turned by 90° again and moved.
    d = read(drawing("0 INSERT 8 L 2 C 10 5 20 5 50 90", blocks));
    ASSERT_EQ(d.points.size(), 3U);
    expect_at(d.points[1].at, 5, 15);
    expect_at(d.points[2].at, 5 - 1, 15, 3);
    d = read(drawing("0 INSERT 8 L 2 B 10 0 20 0 50 90 70 2 71 3 44 10 45 20", blocks));
    ASSERT_EQ(d.points.size(), 12U);
    expect_at(d.points[11].at, -40, 11, 3);
}

TEST(Dxf, extrusion_downwards_mirrors) {
    const Drawing d =
        read(drawing("0 CIRCLE 8 L 10 3 20 4 40 1 210 0 220 0 230 -1 "
                     "0 POINT 8 L 10 3 20 4 210 0 220 0 230 -1 "
                     "0 ARC 8 L 10 0 20 0 40 1 50 0 51 90 230 -1 "
                     "0 CIRCLE 8 L 10 3 20 4 40 1 210 0.5 220 0 230 0.8"));
    ASSERT_EQ(d.points.size(), 2U);
    expect_at(d.points[0].at, -3, 4);
    expect_at(d.points[1].at, 3, 4);  // points are in world coordinates
    ASSERT_EQ(d.arcs.size(), 1U);
    EXPECT_NEAR(d.arcs[0].start_rad, measure::kPi / 2, 1e-12);  // from (0, 1) to (−1, 0)
    EXPECT_NEAR(d.arcs[0].sweep_rad, measure::kPi / 2, 1e-12);
    ASSERT_EQ(d.left.size(), 1U);
    EXPECT_EQ(d.left[0].why, "tilted out of the plan");
}

TEST(Dxf, bulge_is_the_tangent_of_a_quarter_of_the_sweep) {
    // From (1, 0) to (0, 1) about the origin: a quarter circle, bulge tan(90°/4).
    const double quarter = std::tan(measure::kPi / 8);
    auto arc = bulge_arc({1, 0, 0}, {0, 1, 0}, quarter);
    ASSERT_TRUE(arc);
    expect_at(arc->centre, 0, 0);
    EXPECT_NEAR(arc->radius, 1, 1e-14);
    EXPECT_NEAR(arc->start_rad, 0, 1e-14);
    EXPECT_NEAR(arc->sweep_rad, measure::kPi / 2, 1e-14);
    arc = bulge_arc({0, 1, 0}, {1, 0, 0}, -quarter);  // the same arc, drawn clockwise
    expect_at(arc->centre, 0, 0);
    EXPECT_NEAR(arc->start_rad, 0, 1e-14);
    arc = bulge_arc({1, 0, 0}, {0, 1, 0}, std::tan(3 * measure::kPi / 8));  // three quarters
    expect_at(arc->centre, 1, 1);
    EXPECT_NEAR(arc->sweep_rad, 3 * measure::kPi / 2, 1e-14);
    EXPECT_FALSE(bulge_arc({1, 0, 0}, {1, 0, 0}, 1));
    EXPECT_FALSE(bulge_arc({1, 0, 0}, {2, 0, 0}, 0));
}

TEST(Dxf, polylines_give_pieces_arcs_and_circles) {
    Drawing d =
        read(drawing("0 LWPOLYLINE 8 L 90 3 70 1 38 7 10 0 20 0 10 4 20 0 42 1 10 4 20 2 "
                     "0 LWPOLYLINE 8 L 70 1 10 -1 20 5 42 1 10 1 20 5 42 1 "
                     "0 POLYLINE 8 L 66 1 70 0 0 VERTEX 8 L 10 0 20 0 30 1 0 VERTEX 8 L 10 0 20 9 "
                     "30 2 0 SEQEND"));
    ASSERT_EQ(d.lines.size(), 3U);
    expect_at(d.lines[1].to, 0, 0, 7);
    expect_at(d.lines[2].to, 0, 9, 2);
    ASSERT_EQ(d.arcs.size(), 1U);
    EXPECT_NEAR(d.arcs[0].radius, 1, 1e-14);
    ASSERT_EQ(d.points.size(), 1U);  // two half circles
    EXPECT_EQ(d.points[0].source, PointSource::circle);
    expect_at(d.points[0].at, 0, 5);
    EXPECT_DOUBLE_EQ(d.points[0].radius, 1);
}

TEST(Dxf, texts_name_the_points_beside_them) {
    LAYPROOF_READ(
        import,
        read_dxf(drawing("0 POINT 8 L 10 0 20 0 30 1.5 0 TEXT 8 T 10 0.1 20 0.1 40 0.1 1 P1 "
                         "0 TEXT 8 T 10 0.05 20 0 40 0.1 1 101.25 "
                         "0 POINT 8 L 10 5 20 0 0 MTEXT 8 T 10 5.1 20 0 40 0.1 "
                         "1 {\\fArial;P\\U+00DC2} "
                         "0 TEXT 8 T 10 5 20 0 40 0.1 1 12'-6\" "
                         "0 POINT 8 L 10 9 20 9 "
                         "0 CIRCLE 8 C 10 20 20 0 40 0.3 "
                         "0 TEXT 8 T 10 0 20 0 11 20 21 0.1 72 1 40 0.1 1 C_1"),
                 in_unit(measure::LengthUnit::metre)));
    ASSERT_EQ(import->points.size(), 4U);
    EXPECT_EQ(import->points[0].name, "P1");
    EXPECT_DOUBLE_EQ(*import->points[0].height_m, 1.5);
    EXPECT_EQ(import->points[1].name, "PÜ2");
    EXPECT_EQ(import->points[2].name, "L-1");
    EXPECT_TRUE(import->points[2].name_is_made);
    EXPECT_EQ(import->points[3].name, "C 1");
    EXPECT_EQ(import->points[3].source, PointSource::circle);
}

TEST(Dxf, attributes_name_inserts) {
    LAYPROOF_READ(import, read_dxf(drawing("0 INSERT 8 L 66 1 2 COL 10 1 20 2 "
                                           "0 ATTRIB 8 L 10 0 20 0 40 1 1 X7 2 NO "
                                           "0 ATTRIB 8 L 10 0 20 0 40 1 1 HP12 2 SIZE 0 SEQEND",
                                           "0 BLOCK 2 COL 10 0 20 0 0 ENDBLK"),
                                   in_unit(measure::LengthUnit::foot)));
    ASSERT_EQ(import->points.size(), 1U);
    EXPECT_EQ(import->points[0].name, "X7");
    EXPECT_NEAR(import->points[0].north_m, 2 * 0.3048, 1e-15);
    EXPECT_NE(import->points[0].note.find("SIZE=HP12"), std::string::npos);
    EXPECT_NE(import->points[0].note.find("block=COL"), std::string::npos);
}

TEST(Dxf, repeated_names_are_numbered) {
    LAYPROOF_READ(document, read_document(kPlan));
    LAYPROOF_READ(points, read_any_points(*document, in_unit(measure::LengthUnit::inch)));
    EXPECT_GE(points->rows.size(), 153U);  // 126 points, 27 circles
    const std::string tag = " 0 ATTRIB 8 L 10 0 20 0 40 1 1 HP12 2 TAG 0 SEQEND ";
    LAYPROOF_READ(import,
                  read_dxf(drawing("0 INSERT 8 L 66 1 2 COL 10 1 20 2" + tag +
                                   "0 INSERT 8 L 66 1 2 COL 10 5 20 2" + tag +
                                   "0 POINT 8 L 10 9 20 9 0 TEXT 8 L 10 9 20 9 40 1 1 HP12-1"),
                           in_unit(measure::LengthUnit::metre)));
    ASSERT_EQ(import->points.size(), 3U);
    EXPECT_EQ(import->points[0].name, "HP12-2");  // HP12-1 is taken
    EXPECT_EQ(import->points[1].name, "HP12-3");
    EXPECT_EQ(import->points[2].name, "HP12-1");
}

TEST(Dxf, hidden_layers_paper_space_and_other_entities_are_left) {
    const Drawing d = read(drawing(
        "0 POINT 8 OFF 10 1 20 1 0 POINT 8 FROZEN 10 1 20 1 0 POINT 8 L 67 1 10 1 20 1 "
        "0 POINT 8 L 60 1 10 1 20 1 0 HATCH 8 L 0 SPLINE 8 L 0 INSERT 8 L 2 GONE 10 3 20 3",
        "", "0 TABLE 2 LAYER 70 2 0 LAYER 2 OFF 70 0 62 -7 0 LAYER 2 FROZEN 70 1 62 7 0 ENDTAB"));
    EXPECT_EQ(d.points.size(), 1U);  // the insert of a block that is not there has its place
    std::map<std::string, int> left;
    for (const LeftOut& l : d.left) left[l.why] += l.count;
    EXPECT_EQ(left["on layers that are off or frozen"], 2);
    EXPECT_EQ(left["in paper space"], 1);
    EXPECT_EQ(left["invisible"], 1);
    EXPECT_EQ(left["a kind of entity that holds no points"], 2);
    EXPECT_EQ(left["its block is not in the file"], 1);
}

TEST(Dxf, broken_files_are_refused) {
    EXPECT_EQ(read_drawing(file("AutoCAD Binary DXF\r\n\x1a")).refusal().code,
              ErrorCode::format_unknown);
    EXPECT_EQ(read_any_points(file("AutoCAD Binary DXF\r\n\x1a")).refusal().code,
              ErrorCode::format_unknown);
    expect_refused(read_drawing(file(" \n")), ErrorCode::empty_file, 1, 1);
    const auto cut = read_drawing(file(pairs("0 SECTION 2 ENTITIES 0 POINT 10 1 20 1")));
    ASSERT_FALSE(cut.ok());
    EXPECT_EQ(cut.refusal().code, ErrorCode::not_well_formed);
    EXPECT_NE(cut.refusal().expected.find("EOF"), std::string::npos);
    expect_refused(read_drawing(file("0\nSECTION\n2\nENTITIES\nx\ny\n")),
                   ErrorCode::not_well_formed, 5, 1);
    expect_refused(read_drawing(drawing("0 POINT 8 L 10 1,5 20 2")), ErrorCode::not_a_number, 10,
                   1);
    expect_refused(read_drawing(drawing("0 POINT 8 L 10 nan 20 2")), ErrorCode::not_a_number, 10,
                   1);
    expect_refused(read_drawing(file("0\nSECTION\n2\n")), ErrorCode::not_well_formed, 3, 1);
}

// What is not refused would not come to an end, or need all memory.
TEST(Dxf, blocks_in_a_circle_and_bombs_are_refused) {
    EXPECT_EQ(read_drawing(drawing("0 INSERT 8 L 2 A 10 0 20 0",
                                   "0 BLOCK 2 A 0 INSERT 8 0 2 B 0 ENDBLK "
                                   "0 BLOCK 2 B 0 INSERT 8 0 2 A 0 ENDBLK"))
                  .refusal()
                  .code,
              ErrorCode::reference_circular);
    std::string chain;
    for (int i = 0; i < 30; ++i) {
        chain += "0 BLOCK 2 B" + std::to_string(i) + " 0 INSERT 8 0 2 B" + std::to_string(i + 1) +
                 " 0 ENDBLK ";
    }
    EXPECT_EQ(read_drawing(drawing("0 INSERT 8 L 2 B0 10 0 20 0", chain)).refusal().code,
              ErrorCode::nested_too_deep);
    // Ten blocks that each hold the next ten times: 10^10 points.
    std::string bomb;
    for (int i = 0; i < 10; ++i) {
        bomb += "0 BLOCK 2 B" + std::to_string(i);
        for (int k = 0; k < 10; ++k) bomb += " 0 INSERT 8 0 2 B" + std::to_string(i + 1);
        bomb += " 0 ENDBLK ";
    }
    EXPECT_EQ(read_drawing(drawing("0 INSERT 8 L 2 B0 10 0 20 0", bomb)).refusal().code,
              ErrorCode::file_too_large);
    EXPECT_EQ(read_drawing(drawing("0 INSERT 8 L 2 B 10 0 20 0 70 30000 71 30000 44 1 45 1",
                                   "0 BLOCK 2 B 0 ENDBLK"))
                  .refusal()
                  .code,
              ErrorCode::file_too_large);
}

TEST(Dxf, grid_lines_are_named_by_the_labels_at_their_ends) {
    const Drawing d = read(drawing(
        // A vertical line in two pieces with a bubble at its top, labels at both ends.
        "0 LINE 8 S-GRID 10 0 20 0 11 0 21 10 0 LINE 8 S-GRID 10 0 20 11 11 0 21 20 "
        "0 CIRCLE 8 S-GRID-IDEN 10 0 20 21 40 1 0 TEXT 8 S-GRID-IDEN 10 -0.3 20 20.7 40 0.5 1 A "
        "0 TEXT 8 S-GRID-IDEN 10 0 20 -1 40 0.5 1 A "
        "0 LINE 8 S-GRID 10 8 20 0 11 8 21 20 0 TEXT 8 S-GRID 10 8 20 21 40 0.5 1 B "
        "0 LINE 8 S-GRID 10 -2 20 5 11 12 21 5 0 TEXT 8 S-GRID 10 -3 20 5 40 0.5 1 10 "
        "0 LINE 8 S-GRID 10 -2 20 15 11 12 21 15 0 TEXT 8 S-GRID 10 -3 20 15 40 0.5 1 2 "
        "0 LINE 8 S-GRID 10 -2 20 18 11 12 21 18 "
        "0 LINE 8 WALL 10 -2 20 16 11 12 21 16 0 TEXT 8 WALL 10 -3 20 16 40 0.5 1 W "
        "0 ARC 8 S-GRID 10 0 20 0 40 50 50 0 51 90"));
    const DrawingGrid grid = grid_of(d, 0.3048, "test.dxf");
    ASSERT_EQ(grid.lines.size(), 4U);
    EXPECT_EQ(grid.lines[0].name, "A");
    EXPECT_EQ(grid.lines[1].name, "B");
    EXPECT_EQ(grid.lines[2].name, "2");
    EXPECT_EQ(grid.lines[3].name, "10");
    EXPECT_NEAR((grid.lines[0].end_m - grid.lines[0].start_m).norm(), 20 * 0.3048, 1e-12);
    EXPECT_EQ(grid.unnamed, 1);
    EXPECT_EQ(grid.curved, 1);
    const auto crossing = frame::crossing(grid.lines[1], grid.lines[2]);
    ASSERT_TRUE(crossing);
    EXPECT_NEAR(crossing->x(), 8 * 0.3048, 1e-12);
    EXPECT_NEAR(crossing->y(), 15 * 0.3048, 1e-12);
    // Layers named by the caller.
    EXPECT_EQ(grid_of(d, 1.0, "test.dxf", {"wall"}).lines.size(), 1U);
}

TEST(Dxf, labels_of_block_bubbles_name_grid_lines) {
    const Drawing d =
        read(drawing("0 LINE 8 GRID 10 0 20 0 11 0 21 20 "
                     "0 INSERT 8 GRID 66 1 2 BUBBLE 10 0 20 21 0 ATTRIB 8 GRID 10 0 20 21 40 0.6 1 "
                     "C 2 GRID 0 SEQEND",
                     "0 BLOCK 2 BUBBLE 10 0 20 0 0 CIRCLE 8 0 10 0 20 0 40 1 0 ENDBLK"));
    const DrawingGrid grid = grid_of(d, 1.0, "test.dxf");
    ASSERT_EQ(grid.lines.size(), 1U);
    EXPECT_EQ(grid.lines[0].name, "C");
}

TEST(Dxf, unit_numbers_of_the_header) {
    EXPECT_EQ(insunits_word(1), "inches");
    EXPECT_EQ(insunits_word(21), "US survey feet");
    EXPECT_EQ(insunits_word(0), "no unit");
    EXPECT_DOUBLE_EQ(*insunits_metres(21), 1200.0 / 3937.0);
    EXPECT_FALSE(insunits_metres(99));
}

}  // namespace
}  // namespace layproof::exchange
