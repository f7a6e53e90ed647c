#include "exchange/tables/grid_lines.hpp"

#include <gtest/gtest.h>

#include <limits>

#include "exchange/exchange_support.hpp"
#include "exchange/tables/column_map.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

TEST(GridLines, ends_families_and_units_are_read) {
    LAYPROOF_READ(lines, read_grid_lines(file("line,east_1 [ft],north_1,east_2,north_2,family\n"
                                              "B,100,200,100,320,letters\n4,90,210,190,210,\n")));
    ASSERT_EQ(lines->rows.size(), 2U);
    EXPECT_EQ(lines->unit, measure::LengthUnit::foot);
    const frame::GridLine& b = lines->rows[0];
    EXPECT_EQ(b.name, "B");
    EXPECT_EQ(b.family, "letters");
    EXPECT_NEAR(b.start_m.x(), 30.48, 1e-12);
    EXPECT_NEAR(b.start_m.y(), 60.96, 1e-12);
    EXPECT_NEAR(b.end_m.y(), 320 * 0.3048, 1e-12);
    EXPECT_EQ(lines->rows[1].family, "");
    EXPECT_EQ(lines->rows[1].place, (Place{"test.csv", 3, 1}));
}

TEST(GridLines, family_may_be_left_out_and_no_row_is_no_error) {
    LAYPROOF_READ(lines, read_grid_lines(file("line,east_1 [m],north_1,east_2,north_2\n")));
    EXPECT_TRUE(lines->rows.empty());
}

TEST(GridLines, bad_rows_are_refused_at_their_cell) {
    const std::string header = "line,east_1 [m],north_1 [m],east_2 [m],north_2 [m]\n";
    expect_refused(read_grid_lines(file(header + "B,1,2,1,2.005\n")), ErrorCode::out_of_range, 2,
                   7);
    expect_refused(read_grid_lines(file(header + "B,1,2,1,9\nB,2,2,2,9\n")),
                   ErrorCode::duplicate_point, 3, 1);
    expect_refused(read_grid_lines(file(header + "B,1,,1,9\n")), ErrorCode::value_missing, 2, 5);
    expect_refused(read_grid_lines(file(header + ",1,2,1,9\n")), ErrorCode::value_missing, 2, 1);
    expect_refused(read_grid_lines(file(header + "B,1,2,nan,9\n")), ErrorCode::not_finite, 2, 7);
    expect_refused(read_grid_lines(file("line,east_1,north_1,east_2,north_2\nB,1,2,1,9\n")),
                   ErrorCode::unit_missing, 1, 6);
    expect_refused(read_grid_lines(file("line,east_1 [m],north_1\nB,1,2\n")),
                   ErrorCode::column_missing, 1, 1);
}

TEST(GridLines, foreign_table_is_read_by_its_map) {
    LAYPROOF_READ(map,
                  read_column_map(file("table = \"grid_lines\"\nunit = \"ft\"\nheader = false\n"
                                       "[columns]\nline = 1\neast_1 = 3\nnorth_1 = 2\n"
                                       "east_2 = 5\nnorth_2 = 4\n",
                                       "map.toml")));
    ReadOptions options;
    options.map = &*map;
    LAYPROOF_READ(lines, read_grid_lines(file("B,200,100,320,100\n"), options));
    ASSERT_EQ(lines->rows.size(), 1U);
    EXPECT_NEAR(lines->rows[0].start_m.x(), 30.48, 1e-12);
}

}  // namespace
}  // namespace layproof::exchange
