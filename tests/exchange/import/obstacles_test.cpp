#include "exchange/import/obstacles.hpp"

#include <gtest/gtest.h>

namespace layproof::exchange {
namespace {

constexpr const char* kHeader =
    "obstacle,kind,east [m],north [m],east_2 [m],north_2 [m],width [m],depth [m],diameter [m],"
    "thickness [m],turn,bottom [m],top [m]\n";

Result<Table<ObstacleRow>> read_rows_of(const std::string& rows) {
    return read_any_obstacles({"obstacles.csv", kHeader + rows});
}

TEST(obstacles, every_kind_is_read) {
    const auto table = read_rows_of(
        "C1,column,10,20,,,0.5,0.4,,,30,0,3\n"
        "R1,round,1,2,,,,,0.6,,,,\n"
        "W1,wall,0,0,4,0,,,,0.2,,0,2.5\n"
        "A,outline,0,0,,,,,,,,0,1\nA,outline,2,0,,,,,,,,,\nA,outline,2,2,,,,,,,,,\n"
        "N,no-go,5,5,,,,,,,,,\nN,no-go,6,5,,,,,,,,,\nN,no-go,6,6,,,,,,,,,\n");
    ASSERT_TRUE(table) << table.refusal().to_text();
    ASSERT_EQ(table->rows.size(), 5U);
    EXPECT_EQ(table->rows[0].kind, ObstacleKind::column);
    EXPECT_DOUBLE_EQ(table->rows[0].depth_m, 0.4);
    EXPECT_NEAR(table->rows[0].turn_rad, 0.5235987755982988, 1e-12);
    EXPECT_DOUBLE_EQ(table->rows[1].width_m, 0.6);
    EXPECT_FALSE(table->rows[1].top_m);
    EXPECT_EQ(table->rows[2].corners.size(), 2U);
    EXPECT_EQ(table->rows[3].corners.size(), 3U);
    EXPECT_EQ(*table->rows[3].top_m, 1.0);
    EXPECT_EQ(table->rows[4].kind, ObstacleKind::no_go);
}

TEST(obstacles, kind_is_told_by_what_is_filled_in) {
    const auto table =
        read_rows_of("C,,1,1,,,0.5,,,,,,\nR,,1,2,,,,,0.6,,,,\nW,,0,0,4,0,,,,0.2,,,\n");
    ASSERT_TRUE(table);
    EXPECT_EQ(table->rows[0].kind, ObstacleKind::column);
    EXPECT_DOUBLE_EQ(table->rows[0].depth_m, 0.5);
    EXPECT_EQ(table->rows[1].kind, ObstacleKind::round);
    EXPECT_EQ(table->rows[2].kind, ObstacleKind::wall);
}

TEST(obstacles, what_cannot_be_taken_is_refused_at_its_place) {
    const auto code = [](const std::string& rows) {
        const auto table = read_rows_of(rows);
        return table ? ErrorCode{} : table.refusal().code;
    };
    EXPECT_EQ(code("C,pillar,1,1,,,0.5,,,,,,\n"), ErrorCode::word_unknown);
    EXPECT_EQ(code("C,column,1,1,,,,,,,,,\n"), ErrorCode::value_missing);
    EXPECT_EQ(code("C,column,1,1,,,5000,,,,,,\n"), ErrorCode::out_of_range);
    EXPECT_EQ(code("C,round,1,1,,,,,-1,,,,\n"), ErrorCode::out_of_range);
    EXPECT_EQ(code("C,column,1,1,,,0.5,,,,,3,2\n"), ErrorCode::out_of_range);
    EXPECT_EQ(code("A,outline,1,1,,,,,,,,,\nA,outline,2,1,,,,,,,,,\n"), ErrorCode::out_of_range);
    EXPECT_EQ(code("C,column,x,1,,,0.5,,,,,,\n"), ErrorCode::not_a_number);
    const auto table = read_rows_of("C,column,1,1,,,0.5,,,,,,\nD,pillar,1,1,,,,,,,,,\n");
    ASSERT_FALSE(table);
    EXPECT_EQ(table.refusal().place.line, 3);
}

TEST(obstacles, drawing_gives_round_columns_outlines_walls_and_no_go_areas) {
    std::string dxf = "0\nSECTION\n2\nENTITIES\n";
    dxf += "0\nCIRCLE\n8\nCOL\n10\n5\n20\n6\n40\n0.3\n";
    dxf +=
        "0\nLWPOLYLINE\n8\nCORE\n90\n4\n70\n1\n10\n0\n20\n0\n10\n4\n20\n0\n10\n4\n20\n3\n10\n0\n"
        "20\n3\n";
    dxf += "0\nLINE\n8\nWALL\n10\n8\n20\n0\n11\n8\n21\n5\n";
    dxf +=
        "0\nLWPOLYLINE\n8\nNO-GO\n90\n3\n70\n1\n10\n10\n20\n10\n10\n12\n20\n10\n10\n12\n20\n12\n";
    dxf += "0\nENDSEC\n0\nEOF\n";
    ReadOptions options;
    EXPECT_EQ(read_any_obstacles({"site.dxf", dxf}, options).refusal().code,
              ErrorCode::unit_missing);
    options.unit = measure::LengthUnit::metre;
    const auto table = read_any_obstacles({"site.dxf", dxf}, options);
    ASSERT_TRUE(table) << table.refusal().to_text();
    int round = 0;
    int outline = 0;
    int walls = 0;
    int no_go = 0;
    for (const ObstacleRow& row : table->rows) {
        round += row.kind == ObstacleKind::round;
        outline += row.kind == ObstacleKind::outline;
        walls += row.kind == ObstacleKind::wall;
        no_go += row.kind == ObstacleKind::no_go;
    }
    EXPECT_EQ(round, 1);
    EXPECT_EQ(outline, 1);
    EXPECT_EQ(walls, 1);
    EXPECT_EQ(no_go, 1);
}

}  // namespace
}  // namespace layproof::exchange
