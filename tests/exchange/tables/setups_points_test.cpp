#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

TEST(Setups, all_kinds_are_read) {
    LAYPROOF_READ(setups,
                  read_setups(file("station,kind,mark,instrument_height [ft],time,temperature [F],"
                                   "pressure [inHg]\nS1,free,,,,,\n"
                                   "S2,occupied,H1,5.1,2026-03-04 07:45-05:00,68,29.92126\n"
                                   "S3,baseline,H2,,,,\n")));
    ASSERT_EQ(setups->rows.size(), 3U);
    EXPECT_EQ(setups->unit, measure::LengthUnit::foot);
    EXPECT_EQ(setups->rows[0].kind, station::SetupKind::free);
    EXPECT_FALSE(setups->rows[0].instrument_height_m.has_value());
    const station::Setup& second = setups->rows[1];
    EXPECT_EQ(second.kind, station::SetupKind::occupied);
    EXPECT_EQ(second.mark, "H1");
    EXPECT_NEAR(*second.instrument_height_m, 5.1 * 0.3048, 1e-12);
    EXPECT_EQ(second.time_s, 1772628300.0);
    EXPECT_NEAR(*second.temperature_k, 293.15, 1e-12);
    EXPECT_NEAR(*second.pressure_hpa, 1013.25, 5e-4);
    EXPECT_EQ(setups->rows[2].kind, station::SetupKind::baseline);
    EXPECT_EQ(setups->rows[2].place, (Place{"test.csv", 4, 1}));
}

TEST(Setups, two_columns_and_no_row_are_enough) {
    LAYPROOF_READ(setups, read_setups(file("station,kind\nS1,free\n")));
    EXPECT_EQ(setups->rows.size(), 1U);
    EXPECT_FALSE(setups->unit.has_value());
    LAYPROOF_READ(none, read_setups(file("station,kind\n")));
    EXPECT_TRUE(none->rows.empty());
}

TEST(Setups, bad_rows_are_refused_at_their_cell) {
    const std::string header = "station,kind,mark,instrument_height [m],time\n";
    expect_refused(read_setups(file(header + "S1,occupied,,1.5,\n")), ErrorCode::setup_incomplete,
                   2, 13);
    expect_refused(read_setups(file("station,kind\nS1,baseline\n")), ErrorCode::setup_incomplete, 2,
                   1);
    expect_refused(read_setups(file(header + "S1,resection,,,\n")), ErrorCode::word_unknown, 2, 4);
    expect_refused(read_setups(file(header + "S1,,,,\n")), ErrorCode::value_missing, 2, 4);
    expect_refused(read_setups(file(header + "S1,free,,,\nS1,free,,,\n")),
                   ErrorCode::duplicate_setup, 3, 1);
    expect_refused(read_setups(file(header + "S1,free,,99,\n")), ErrorCode::out_of_range, 2, 10);
    expect_refused(read_setups(file(header + "S1,free,,,noon\n")), ErrorCode::time_not_read, 2, 11);
}

TEST(Setups, column_that_is_not_used_is_told) {
    LAYPROOF_READ(setups, read_setups(file("station,kind,instrument_hight\nS1,free,1.5\n")));
    ASSERT_EQ(setups->notices.size(), 1U);
    EXPECT_NE(setups->notices[0].find("not used. Is it instrument_height?"), std::string::npos)
        << setups->notices[0];
}

TEST(Points, full_and_short_rows_are_read) {
    LAYPROOF_READ(points, read_points(file("point,east [ft],north [ft],height [ft],element,"
                                           "tolerance_plan [in],tolerance_height [in],note\n"
                                           "P1,10,20,1,anchor,1/8\",0.25,first\nP2,11,20,,,,,\n")));
    ASSERT_EQ(points->rows.size(), 2U);
    const frame::DesignPoint& first = points->rows[0];
    EXPECT_EQ(first.name, "P1");
    EXPECT_NEAR(first.east_m, 3.048, 1e-12);
    EXPECT_NEAR(first.north_m, 6.096, 1e-12);
    EXPECT_NEAR(*first.height_m, 0.3048, 1e-12);
    EXPECT_EQ(first.element, "anchor");
    EXPECT_NEAR(*first.tolerance_plan_m, 0.0254 / 8.0, 1e-12);
    EXPECT_NEAR(*first.tolerance_height_m, 0.00635, 1e-12);
    EXPECT_EQ(first.note, "first");
    EXPECT_FALSE(points->rows[1].height_m || points->rows[1].tolerance_plan_m);
    LAYPROOF_READ(least, read_points(file("point,east [m],north [m]\nP1,1,2\n")));
    EXPECT_EQ(least->rows[0].north_m, 2.0);
}

TEST(Points, bad_rows_are_refused_at_their_cell) {
    const std::string header = "point,east [m],north [m],tolerance_plan [mm]\n";
    expect_refused(read_points(file(header + "P1,1,,\n")), ErrorCode::value_missing, 2, 6);
    expect_refused(read_points(file(header + "P1,1,2,0\n")), ErrorCode::out_of_range, 2, 8);
    expect_refused(read_points(file(header + "P1,1,2,-3\n")), ErrorCode::out_of_range, 2, 8);
    expect_refused(read_points(file(header + "P1,1,2,3\nP2,1,2,3\nP1,1,2,3\n")),
                   ErrorCode::duplicate_point, 4, 1);
    expect_refused(read_points(file("point,east [m],north [m],tolerance_plan\nP,1,2,3\n")),
                   ErrorCode::unit_missing, 1, 26);
}

}  // namespace
}  // namespace layproof::exchange
