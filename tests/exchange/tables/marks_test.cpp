#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"
#include "exchange/tables/readers.hpp"

namespace layproof::exchange {
namespace {

using testing::expect_refused;
using testing::file;

ReadOptions unit(measure::LengthUnit unit) {
    return {unit, nullptr};
}

TEST(Marks, plain_file_with_unit_option_is_read) {
    LAYPROOF_READ(marks, read_marks(file("mark,east,north,height\nH1,1000.5,2000.25,30\n"
                                         "H2,1010,2000,\nB1,,,31.5\n"),
                                    unit(measure::LengthUnit::metre)));
    ASSERT_EQ(marks->rows.size(), 3U);
    EXPECT_EQ(marks->unit, measure::LengthUnit::metre);
    EXPECT_TRUE(marks->notices.empty());
    const frame::Mark& h1 = marks->rows[0];
    EXPECT_EQ(h1.name, "H1");
    EXPECT_EQ(h1.east_m, 1000.5);
    EXPECT_EQ(h1.north_m, 2000.25);
    EXPECT_EQ(h1.height_m, 30.0);
    EXPECT_EQ(h1.sd_east_m, frame::kDefaultMarkSd_m);
    EXPECT_EQ(h1.place, (Place{"test.csv", 2, 1}));
    EXPECT_TRUE(marks->rows[1].has_plan());
    EXPECT_FALSE(marks->rows[1].has_height());
    EXPECT_FALSE(marks->rows[2].has_plan());
    EXPECT_TRUE(marks->rows[2].has_height());
}

TEST(Marks, header_units_win_over_the_option_and_order_is_free) {
    LAYPROOF_READ(marks, read_marks(file("Height [us-ft];EAST [ft];north [ m ];Mark\n1;1;1;A\n"),
                                    unit(measure::LengthUnit::millimetre)));
    EXPECT_EQ(marks->rows[0].east_m, 0.3048);
    EXPECT_EQ(marks->rows[0].north_m, 1.0);
    EXPECT_NEAR(*marks->rows[0].height_m, 1200.0 / 3937.0, 1e-15);
    EXPECT_EQ(marks->unit, measure::LengthUnit::foot);
}

TEST(Marks, standard_deviation_takes_the_unit_of_its_coordinate) {
    LAYPROOF_READ(marks,
                  read_marks(file("mark,east [ft],north [ft],height [m],sd_east,sd_north [mm],"
                                  "sd_height\nA,1,2,3,0.01,2,0\n"),
                             unit(measure::LengthUnit::metre)));
    EXPECT_NEAR(marks->rows[0].sd_east_m, 0.003048, 1e-15);
    EXPECT_NEAR(marks->rows[0].sd_north_m, 0.002, 1e-15);
    EXPECT_EQ(marks->rows[0].sd_height_m, 0.0);
}

TEST(Marks, coordinate_without_unit_beside_one_with_it_is_still_asked_for) {
    expect_refused(read_marks(file("mark,east [m],north [m],height\nA,1,2,3\n")),
                   ErrorCode::unit_missing, 1, 25);
}

TEST(Marks, empty_column_needs_no_unit) {
    LAYPROOF_READ(marks, read_marks(file("mark,east [m],north [m],height\nA,1,2,\n")));
    EXPECT_EQ(marks->rows.size(), 1U);
}

TEST(Marks, question_of_the_unit_is_put_in_words) {
    const auto marks = read_marks(file("mark,east,north,height\nA,1,2,3\n"));
    expect_refused(marks, ErrorCode::unit_missing, 1, 6);
    EXPECT_NE(marks.refusal().expected.find("which unit are the numbers of column east in? Say so "
                                            "in the header, as east [ft], or with --unit m | ft | "
                                            "us-ft"),
              std::string::npos)
        << marks.refusal().expected;
}

TEST(Marks, unknown_columns_become_notes_and_a_notice_with_a_guess) {
    LAYPROOF_READ(marks, read_marks(file("mark,east,north,height,note,painted,sd_est\n"
                                         "A,1,2,3,near gate,red,5\nB,4,5,6,,,\n"),
                                    unit(measure::LengthUnit::metre)));
    EXPECT_EQ(marks->rows[0].note, "near gate; painted=red; sd_est=5");
    EXPECT_EQ(marks->rows[1].note, "");
    ASSERT_EQ(marks->notices.size(), 2U);
    EXPECT_NE(marks->notices[0].find("\"painted\""), std::string::npos);
    EXPECT_NE(marks->notices[1].find("Is it sd_east?"), std::string::npos) << marks->notices[1];
}

TEST(Marks, feet_and_inches_are_read_quoted_and_unquoted) {
    LAYPROOF_READ(marks, read_marks(file("mark,east [ft],north [ft],height [ft]\n"
                                         "A,6'-0 1/2\",\"6'-0 1/2\"\"\",5 3/4\"\n")));
    EXPECT_NEAR(*marks->rows[0].east_m, 72.5 * 0.0254, 1e-12);
    EXPECT_NEAR(*marks->rows[0].north_m, 72.5 * 0.0254, 1e-12);
    EXPECT_NEAR(*marks->rows[0].height_m, 5.75 * 0.0254, 1e-12);
}

TEST(Marks, decimal_comma_is_read_between_semicolons) {
    LAYPROOF_READ(marks, read_marks(file("mark;east [m];north [m];height [m]\nA;1,25;-2,5;3\n")));
    EXPECT_EQ(marks->rows[0].east_m, 1.25);
    EXPECT_EQ(marks->rows[0].north_m, -2.5);
}

TEST(Marks, decimal_comma_and_point_in_one_file_are_refused) {
    expect_refused(read_marks(file("mark;east [m];north [m];height [m]\nA;1,250;2;3\nB;7.5;2;3\n")),
                   ErrorCode::not_a_number, 3, 3);
    expect_refused(read_marks(file("mark;east [m];north [m];height [m]\nA;1.234,5;2;3\n")),
                   ErrorCode::not_a_number, 2, 3);
    expect_refused(read_marks(file("mark;east [m];north [m];height [m]\nA;1,234,567;2;3\n")),
                   ErrorCode::not_a_number, 2, 3);
}

TEST(Marks, decimal_comma_in_a_comma_file_is_refused) {
    expect_refused(read_marks(file("mark,east [m],north [m],height [m]\nA,\"1,25\",2,3\n")),
                   ErrorCode::not_a_number, 2, 3);
    expect_refused(read_marks(file("mark,east [m],north [m],height [m]\nA,1,25,2,5,3,1\n")),
                   ErrorCode::row_too_long, 2, 10);
}

TEST(Marks, second_mark_of_a_name_is_refused_and_the_first_is_named) {
    const auto marks =
        read_marks(file("mark,east [m],north [m],height [m]\nH1,1,2,3\n\nH2,5,6,7\n H1,8,9,10\n"));
    expect_refused(marks, ErrorCode::duplicate_mark, 5, 2);
    EXPECT_NE(marks.refusal().found.find("line 2"), std::string::npos) << marks.refusal().found;
}

TEST(Marks, names_apart_only_by_case_are_told) {
    LAYPROOF_READ(marks,
                  read_marks(file("mark,east [m],north [m],height [m]\nH1,1,2,3\nh1,4,5,6")));
    ASSERT_EQ(marks->notices.size(), 1U);
    EXPECT_NE(marks->notices[0].find("H1 and h1"), std::string::npos);
}

TEST(Marks, one_place_under_two_names_is_refused_within_a_millimetre) {
    const std::string header = "mark,east [m],north [m],height [m]\n";
    const auto marks = read_marks(file(header + "A,1,2,3\nB,1.0006,2.0006,3.0005\n"));
    expect_refused(marks, ErrorCode::marks_in_one_place, 3, 1);
    EXPECT_NE(marks.refusal().found.find("\"A\" (line 2)"), std::string::npos);
    expect_refused(read_marks(file(header + "A,1,2,\nB,1,2,3\n")), ErrorCode::marks_in_one_place, 3,
                   1);
    // Square borders and signs: floor(-0.0001) and floor(0.0001) differ.
    expect_refused(read_marks(file(header + "A,-0.0001,0,\nB,0.0001,0,\n")),
                   ErrorCode::marks_in_one_place, 3, 1);
    EXPECT_TRUE(read_marks(file(header + "A,1,2,3\nB,1.0011,2,3\n")).ok());
    EXPECT_TRUE(read_marks(file(header + "A,1,2,3\nB,1,2,6.5\n")).ok()) << "one above the other";
    EXPECT_TRUE(read_marks(file(header + "A,,,3\nB,,,3\n")).ok()) << "height marks";
}

TEST(Marks, commented_row_that_looks_like_data_is_told) {
    LAYPROOF_READ(marks, read_marks(file("mark,east [m],north [m],height [m]\n# by hand\n"
                                         "#5,1,2,3\nA,4,5,6\n")));
    EXPECT_EQ(marks->rows.size(), 1U);
    ASSERT_EQ(marks->notices.size(), 1U);
    EXPECT_NE(marks->notices[0].find("Line 3"), std::string::npos);
}

struct BadMark {
    const char* row;
    ErrorCode code;
    int column;
};

TEST(Marks, bad_rows_are_refused_at_their_cell) {
    const BadMark cases[]{
        {",1,2,3,,,", ErrorCode::value_missing, 1},
        {"A,,2,3,,,", ErrorCode::value_missing, 3},
        {"A,1,,3,,,", ErrorCode::value_missing, 5},
        {"A,,,,,,", ErrorCode::value_missing, 3},
        {"A,1x,2,3,,,", ErrorCode::not_a_number, 3},
        {"Ä,1,zwei,3,,,", ErrorCode::not_a_number, 5},
        {"A,nan,2,3,,,", ErrorCode::not_finite, 3},
        {"A,1,inf,3,,,", ErrorCode::not_finite, 5},
        {"A,1,2,-Infinity,,,", ErrorCode::not_finite, 7},
        {"A,1e300,2,3,,,", ErrorCode::out_of_range, 3},
        {"A,1,-100000001,3,,,", ErrorCode::out_of_range, 5},
        {"A,1,2,3,-0.001,,", ErrorCode::out_of_range, 9},
        {"A,1,2,3,,101,", ErrorCode::out_of_range, 10},
        {"A,1,2,3,,,nan", ErrorCode::not_finite, 11},
        {"A,1,2", ErrorCode::row_too_short, 6},
        {"A,1,2,3,,,,5", ErrorCode::row_too_long, 12},
        {"A,1,2,3,,,,", ErrorCode::row_too_long, 12},
        {"A,\"1,2,3,,,", ErrorCode::quote_open, 3},
        {"A,\"1\"2,2,3,,,", ErrorCode::quote_open, 3},
    };
    for (const BadMark& bad : cases) {
        SCOPED_TRACE(bad.row);
        const std::string header = "mark,east,north,height,sd_east,sd_north,sd_height\n";
        expect_refused(read_marks(file(header + "Z,7,7,7,,,\n" + bad.row + "\n"),
                                  unit(measure::LengthUnit::metre)),
                       bad.code, 3, bad.column);
    }
}

TEST(Marks, name_of_more_than_a_hundred_characters_is_refused) {
    const std::string header = "mark,east [m],north [m],height [m]\n";
    EXPECT_TRUE(read_marks(file(header + std::string(100, 'x') + ",1,2,3\n")).ok());
    expect_refused(read_marks(file(header + std::string(101, 'x') + ",1,2,3\n")),
                   ErrorCode::out_of_range, 2, 1);
}

TEST(Marks, bad_headers_are_refused_at_their_cell) {
    expect_refused(read_marks(file("")), ErrorCode::empty_file, 1, 1);
    expect_refused(read_marks(file("\n# only words\n")), ErrorCode::header_missing, 1, 1);
    expect_refused(read_marks(file("\nH1,1,2,3\n")), ErrorCode::header_missing, 2, 1);
    expect_refused(read_marks(file("mark,east [m],north [m],height [m]\n")), ErrorCode::no_marks, 0,
                   0);
    expect_refused(read_marks(file("mark,east [m],north [m],height [furlong]\n")),
                   ErrorCode::unit_unknown, 1, 25);
    expect_refused(read_marks(file("mark [m],east [m],north [m],height [m]\n")),
                   ErrorCode::unit_unknown, 1, 1);
    expect_refused(read_marks(file("mark,east [],north,height\n")), ErrorCode::unit_unknown, 1, 6);
    expect_refused(read_marks(file("mark,east [m],north [m],height,East [ft]\n")),
                   ErrorCode::column_twice, 1, 32);
    const auto missing = read_marks(file("mark,east [m],nord [m]\nA,1,2\n"));
    expect_refused(missing, ErrorCode::column_missing, 1, 1);
    EXPECT_NE(missing.refusal().expected.find("north and height"), std::string::npos);
    EXPECT_NE(missing.refusal().found.find("nord [m]"), std::string::npos);
    const auto unknown = read_marks(file("mark,east [feet],north,height\n"));
    EXPECT_NE(unknown.refusal().expected.find("m, mm, ft, us-ft or in"), std::string::npos);
}

}  // namespace
}  // namespace layproof::exchange
