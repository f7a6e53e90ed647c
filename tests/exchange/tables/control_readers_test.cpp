// Sheets as they were handed over, tapes, levels and the tables of the field checks.

#include "exchange/tables/control_readers.hpp"

#include <gtest/gtest.h>

#include "exchange/tables/check_readers.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

ReadOptions metres() {
    ReadOptions out;
    out.unit = measure::LengthUnit::metre;
    return out;
}

template <class T>
ErrorCode code_of(const Result<T>& result) {
    return result ? ErrorCode{} : result.refusal().code;
}

TEST(sheet, doubled_names_one_place_and_rows_without_names_are_taken) {
    const Document file{"a.csv",
                        "mark,east,north,height,sd_east\nH1,1,2,3,0.002\nH1,5,6,7,\n,1,2,3,\n"};
    const auto table = read_sheet(file, metres());
    ASSERT_TRUE(table) << table.refusal().to_text();
    ASSERT_EQ(table->rows.size(), 3U);
    EXPECT_EQ(table->rows[1].name, "H1");
    EXPECT_EQ(table->rows[2].name, "#3");
    EXPECT_DOUBLE_EQ(table->rows[0].sd_east_m, 0.002);
    EXPECT_DOUBLE_EQ(table->rows[1].sd_east_m, frame::kDefaultMarkSd_m);
}

TEST(sheet, points_file_is_taken_and_bad_rows_are_refused_with_their_place) {
    EXPECT_TRUE(read_sheet({"p.csv", "point,east,north,height\nP1,1,2,\n"}, metres()));
    const auto half = read_sheet({"p.csv", "mark,east,north,height\nP1,1,,3\n"}, metres());
    EXPECT_EQ(code_of(half), ErrorCode::value_missing);
    EXPECT_EQ(half.refusal().place.line, 2);
    EXPECT_EQ(code_of(read_sheet({"p.csv", "mark,east,north,height\n"}, metres())),
              ErrorCode::no_marks);
    EXPECT_EQ(code_of(read_sheet({"p.csv", "name,east,north\nA,1,2\n"}, metres())),
              ErrorCode::column_missing);
    EXPECT_EQ(code_of(read_sheet({"p.csv", "mark,east,north,height\nA,1,2,3\n"})),
              ErrorCode::unit_missing);
}

TEST(tapes, feet_with_sd_in_another_unit_and_slope_are_read) {
    const auto table =
        read_tapes({"t.csv", "from,to,distance [ft],sd [mm],held\nA,B,100,4,slope\nB,C,50.5,,\n"});
    ASSERT_TRUE(table) << table.refusal().to_text();
    EXPECT_NEAR(table->rows[0].distance_m, 30.48, 1e-12);
    EXPECT_NEAR(table->rows[0].sd_m, 0.004, 1e-12);
    EXPECT_TRUE(table->rows[0].is_slope);
    EXPECT_DOUBLE_EQ(table->rows[1].sd_m, network::kDefaultTapeSd_m);
    EXPECT_FALSE(table->rows[1].is_slope);
}

TEST(tapes, zero_negative_and_text_are_refused) {
    for (const char* row : {"A,B,0,,\n", "A,B,-3,,\n", "A,B,abc,,\n", "A,B,,,\n", "A,A,3,,\n",
                            "A,B,3,0,\n", "A,B,3,,tight\n", ",B,3,,\n"})
        EXPECT_FALSE(
            read_tapes({"t.csv", std::string("from,to,distance,sd,held\n") + row}, metres()))
            << row;
}

TEST(levels, rise_may_be_negative_and_has_its_default_sd) {
    const auto table = read_levels({"l.csv", "from,to,rise\nA,B,-1.25\n"}, metres());
    ASSERT_TRUE(table);
    EXPECT_DOUBLE_EQ(table->rows[0].rise_m, -1.25);
    EXPECT_DOUBLE_EQ(table->rows[0].sd_m, network::kDefaultLevelSd_m);
}

TEST(check_tables, sets_bases_and_turns_are_read_and_empty_ones_refused) {
    const auto sets = read_sets({"s.csv", "set,target,direction,zenith\n1,T1,10-30-00,270\n"});
    ASSERT_TRUE(sets) << sets.refusal().to_text();
    EXPECT_NEAR(sets->rows[0].direction_rad, 10.5 * measure::kRadPerDeg, 1e-12);
    EXPECT_EQ(code_of(read_sets({"s.csv", "set,target,direction,zenith\n"})),
              ErrorCode::value_missing);
    EXPECT_EQ(code_of(read_sets({"s.csv", "set,target,direction,zenith\n1,T,,90\n"})),
              ErrorCode::value_missing);
    const auto base = read_bases({"b.csv", "known,measured\n8.0,8.003\n"}, metres());
    ASSERT_TRUE(base);
    EXPECT_DOUBLE_EQ(base->rows[0].reading.measured_m, 8.003);
    const std::string header = "turn,direction,zenith,slope_distance,target_height\n";
    EXPECT_TRUE(read_rod_turns({"r.csv", header + "90,10,91,20,2\n"}, metres()));
    EXPECT_EQ(code_of(read_rod_turns({"r.csv", header + "90,10,271,20,2\n"}, metres())),
              ErrorCode::angle_out_of_range);
    EXPECT_FALSE(read_rod_turns({"r.csv", header + "90,10,91,20,0\n"}, metres()));
}

}  // namespace
}  // namespace layproof::exchange
