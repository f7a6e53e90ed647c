#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"
#include "exchange/tables/readers.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using measure::kRadPerDeg;
using testing::expect_refused;
using testing::file;

constexpr double kAngleTolerance_rad = 1e-14;

const char* const kHeader =
    "station,target,direction,zenith,slope_distance [m],target_height [m],horizontal_distance [m],"
    "time,face,purpose,prism_constant [mm],temperature [C],pressure [hPa],note\n";

TEST(Sights, full_row_is_read_in_inner_units) {
    LAYPROOF_READ(sights,
                  read_sights(file(std::string(kHeader) +
                                   "S1,H1,123-45-06.7,91.5,52.125,1.5,,"
                                   "2026-03-04T07:45:00-05:00,II,check,-30,20,1013,calm\n")));
    ASSERT_EQ(sights->rows.size(), 1U);
    EXPECT_EQ(sights->unit, measure::LengthUnit::metre);
    const measure::Sight& sight = sights->rows[0];
    EXPECT_EQ(sight.station, "S1");
    EXPECT_EQ(sight.target, "H1");
    EXPECT_NEAR(*sight.direction_rad, (123.0 + 45.0 / 60.0 + 6.7 / 3600.0) * kRadPerDeg,
                kAngleTolerance_rad);
    EXPECT_NEAR(*sight.zenith_rad, 91.5 * kRadPerDeg, kAngleTolerance_rad);
    EXPECT_EQ(sight.slope_distance_m, 52.125);
    EXPECT_FALSE(sight.horizontal_distance_m.has_value());
    EXPECT_EQ(sight.target_height_m, 1.5);
    EXPECT_EQ(sight.face, measure::Face::two);
    EXPECT_EQ(sight.purpose, measure::Purpose::check);
    EXPECT_NEAR(sight.prism_constant_m, -0.030, 1e-15);
    EXPECT_NEAR(*sight.temperature_k, 293.15, 1e-12);
    EXPECT_EQ(sight.pressure_hpa, 1013.0);
    EXPECT_EQ(sight.time_s, 1772628300.0);
    EXPECT_EQ(sight.time_text, "2026-03-04T07:45:00-05:00");
    EXPECT_EQ(sight.note, "calm");
    EXPECT_EQ(sight.place, (Place{"test.csv", 2, 1}));
}

TEST(Sights, what_is_empty_stays_absent_and_words_have_their_defaults) {
    LAYPROOF_READ(sights, read_sights(file(std::string(kHeader) + "S1,H1,10,,,0,,,,,,,,\n"
                                                                  "S1,H1,,,,1.5,20,,,,,,,\n")));
    const measure::Sight& first = sights->rows[0];
    EXPECT_FALSE(first.zenith_rad || first.slope_distance_m || first.time_s ||
                 first.temperature_k || first.pressure_hpa);
    EXPECT_EQ(first.face, measure::Face::unknown);
    EXPECT_EQ(first.purpose, measure::Purpose::control);
    EXPECT_EQ(first.prism_constant_m, 0.0);
    EXPECT_EQ(sights->rows[1].horizontal_distance_m, 20.0);
}

TEST(Sights, horizontal_distance_stands_in_for_zenith_and_slope_distance_columns) {
    LAYPROOF_READ(sights, read_sights(file("station,target,direction,horizontal_distance [ft],"
                                           "target_height [ft]\nS1,H1,10,100,5\n")));
    EXPECT_NEAR(*sights->rows[0].horizontal_distance_m, 30.48, 1e-12);
    EXPECT_EQ(sights->unit, measure::LengthUnit::foot);
    const auto missing =
        read_sights(file("station,target,direction,target_height [m]\nS1,H1,10,1.5\n"));
    expect_refused(missing, ErrorCode::column_missing, 1, 1);
    EXPECT_NE(missing.refusal().expected.find("zenith and slope_distance"), std::string::npos);
}

TEST(Sights, angles_are_read_as_gon_degrees_and_typographic_dms) {
    LAYPROOF_READ(sights, read_sights(file("station,target,direction [gon],zenith [deg],"
                                           "slope_distance [m],target_height [m]\n"
                                           "S1,H1,100,90°00'36.0\",20,1.5\n")));
    EXPECT_NEAR(*sights->rows[0].direction_rad, 90.0 * kRadPerDeg, kAngleTolerance_rad);
    EXPECT_NEAR(*sights->rows[0].zenith_rad, 90.01 * kRadPerDeg, kAngleTolerance_rad);
}

TEST(Sights, decimal_comma_holds_for_angles_too) {
    LAYPROOF_READ(sights,
                  read_sights(file("station;target;direction;zenith;slope_distance [m];"
                                   "target_height [m]\nS1;H1;10,5;90-00-36,0;20,25;1,5\n")));
    EXPECT_NEAR(*sights->rows[0].direction_rad, 10.5 * kRadPerDeg, kAngleTolerance_rad);
    EXPECT_NEAR(*sights->rows[0].zenith_rad, 90.01 * kRadPerDeg, kAngleTolerance_rad);
    EXPECT_EQ(sights->rows[0].slope_distance_m, 20.25);
}

TEST(Sights, face_words_are_taken_in_any_case) {
    const std::string row = "S1,H1,10,90,20,1.5,,,";
    for (const char* word : {"1", "one", "I", "i", "direct", "Direct"}) {
        LAYPROOF_READ(sights, read_sights(file(kHeader + row + word + ",,,,,\n")));
        EXPECT_EQ(sights->rows[0].face, measure::Face::one) << word;
    }
    for (const char* word : {"2", "two", "II", "reverse"}) {
        LAYPROOF_READ(sights, read_sights(file(kHeader + row + word + ",,,,,\n")));
        EXPECT_EQ(sights->rows[0].face, measure::Face::two) << word;
    }
}

TEST(Sights, zenith_of_face_two_and_nearly_full_circle_are_taken) {
    LAYPROOF_READ(
        sights, read_sights(file(std::string(kHeader) + "S1,H1,360,359-59-59.9,20,1.5,,,2,,,,,\n"
                                                        "S1,H1,-360,0-00-00.1,20,-1.5,,,,,,,,\n")));
    EXPECT_EQ(sights->rows[1].target_height_m, -1.5);
}

struct BadSight {
    const char* row;
    ErrorCode code;
    int column;
};

TEST(Sights, bad_rows_are_refused_at_their_cell) {
    const BadSight cases[]{
        {",H1,10,90,20,1.5,,,,,,,,", ErrorCode::value_missing, 1},
        {"S1,,10,90,20,1.5,,,,,,,,", ErrorCode::value_missing, 4},
        {"S1,H1,,,,1.5,,,,,,,,", ErrorCode::value_missing, 7},
        {"S1,H1,10,90,20,,,,,,,,,", ErrorCode::value_missing, 16},
        {"S1,H1,ten,90,20,1.5,,,,,,,,", ErrorCode::not_an_angle, 7},
        {"S1,H1,400,90,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 7},
        {"S1,H1,-361,90,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 7},
        {"S1,H1,10-60-00,90,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 7},
        {"S1,H1,10-00-60,90,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 7},
        {"S1,H1,10°60'00\",90,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 7},
        {"S1,H1,nan,90,20,1.5,,,,,,,,", ErrorCode::not_finite, 7},
        {"S1,H1,10,0,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 10},
        {"S1,H1,10,360,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 10},
        {"S1,H1,10,-90,20,1.5,,,,,,,,", ErrorCode::angle_out_of_range, 10},
        {"S1,H1,10,90,-20,1.5,,,,,,,,", ErrorCode::negative_distance, 13},
        {"S1,H1,10,90,0,1.5,,,,,,,,", ErrorCode::negative_distance, 13},
        {"S1,H1,10,90,1e6,1.5,,,,,,,,", ErrorCode::out_of_range, 13},
        {"S1,H1,10,90,inf,1.5,,,,,,,,", ErrorCode::not_finite, 13},
        {"S1,H1,10,90,2o,1.5,,,,,,,,", ErrorCode::not_a_number, 13},
        {"S1,H1,10,90,20,31,,,,,,,,", ErrorCode::out_of_range, 16},
        {"S1,H1,10,90,,1.5,20,,,,,,,", ErrorCode::out_of_range, 18},
        {"S1,H1,10,,20,1.5,20,,,,,,,", ErrorCode::out_of_range, 18},
        {"S1,H1,10,,,1.5,-20,,,,,,,", ErrorCode::negative_distance, 16},
        {"S1,H1,10,90,20,1.5,,07:45,,,,,,", ErrorCode::time_not_read, 21},
        {"S1,H1,10,90,20,1.5,,,3,,,,,", ErrorCode::word_unknown, 22},
        {"S1,H1,10,90,20,1.5,,,,Check,,,,", ErrorCode::word_unknown, 23},
        {"S1,H1,10,90,20,1.5,,,,backsight,,,,", ErrorCode::word_unknown, 23},
        {"S1,H1,10,90,20,1.5,,,,,1001,,,", ErrorCode::out_of_range, 24},
        {"S1,H1,10,90,20,1.5,,,,,,71,,", ErrorCode::out_of_range, 25},
        {"S1,H1,10,90,20,1.5,,,,,,warm,,", ErrorCode::not_a_number, 25},
        {"S1,H1,10,90,20,1.5,,,,,,,29.9,", ErrorCode::out_of_range, 26},
        {"S1,H1,10,90,20,1.5,,,,,,,", ErrorCode::row_too_short, 26},
    };
    for (const BadSight& bad : cases) {
        SCOPED_TRACE(bad.row);
        expect_refused(read_sights(file(std::string(kHeader) + bad.row + "\n")), bad.code, 2,
                       bad.column);
    }
}

TEST(Sights, columns_with_values_but_without_unit_are_asked_for) {
    const std::string start = "station,target,direction,zenith,";
    expect_refused(read_sights(file(start + "slope_distance,target_height [m]\nS,H,1,90,5,1\n")),
                   ErrorCode::unit_missing, 1, 33);
    // A rod is often read in another unit than the distance: nothing is taken over.
    expect_refused(read_sights(file(start + "slope_distance [m],target_height\nS,H,1,90,5,1\n")),
                   ErrorCode::unit_missing, 1, 52);
    const std::string lengths = "slope_distance [m],target_height [m],";
    expect_refused(read_sights(file(start + lengths + "prism_constant\nS,H,1,90,5,1,-0.03\n")),
                   ErrorCode::unit_missing, 1, 70);
    expect_refused(read_sights(file(start + lengths + "temperature\nS,H,1,90,5,1,20\n")),
                   ErrorCode::unit_missing, 1, 70);
    expect_refused(read_sights(file(start + lengths + "pressure\nS,H,1,90,5,1,1013\n")),
                   ErrorCode::unit_missing, 1, 70);
    expect_refused(read_sights(file(start + lengths + "temperature [m]\nS,H,1,90,5,1,20\n")),
                   ErrorCode::unit_unknown, 1, 70);
}

TEST(Sights, prism_constant_in_millimetres_by_mistake_is_refused) {
    expect_refused(read_sights(file("station,target,direction,zenith,slope_distance,target_height,"
                                    "prism_constant\nS,H,1,90,5,1,-34.4\n"),
                               {measure::LengthUnit::metre, nullptr}),
                   ErrorCode::out_of_range, 2, 14);
}

TEST(Sights, file_without_rows_has_no_sights) {
    expect_refused(read_sights(file(kHeader)), ErrorCode::no_sights, 0, 0);
}

}  // namespace
}  // namespace layproof::exchange
