#include "exchange/tables/level_readers.hpp"

#include <gtest/gtest.h>

#include <string>

#include "exchange/tables/writers.hpp"

namespace layproof::exchange {
namespace {

ReadOptions in_metres() {
    ReadOptions out;
    out.unit = measure::LengthUnit::metre;
    return out;
}

constexpr const char* kHeader =
    "run,point,backsight,intermediate,foresight,backsight_distance,foresight_distance,sd_km,"
    "sd_turn,time\n";

Result<Table<network::LevelReading>> read(const std::string& rows) {
    return read_level_runs({"levels.csv", kHeader + rows}, in_metres());
}

TEST(level_runs, a_book_in_feet_is_read_with_its_turns_distances_and_time) {
    const Document book{"book.csv",
                        "Run,Point,Backsight [ft],Foresight,Backsight distance "
                        "[ft],Foresight distance,SD km [mm],time,crew\n"
                        "R1,BM1,4.32,,100,,1.5,2031-05-15T07:30-05:00,AB\n"
                        "R1,,5.10,3.17,90,98,,,\n"
                        "R1,H2,,2.96,,88,,,\n"};
    const auto table = read_level_runs(book);
    ASSERT_TRUE(table) << table.refusal().to_text();
    ASSERT_EQ(table->rows.size(), 3U);
    EXPECT_EQ(table->unit, measure::LengthUnit::foot);
    EXPECT_NEAR(*table->rows[0].backsight_m, 4.32 * 0.3048, 1e-12);
    EXPECT_FALSE(table->rows[0].foresight_m);
    EXPECT_NEAR(*table->rows[0].sd_km_m, 0.0015, 1e-12);
    EXPECT_TRUE(table->rows[0].time_s);
    EXPECT_EQ(table->rows[0].note, "crew=AB");
    EXPECT_EQ(table->rows[1].point, "");
    EXPECT_NEAR(*table->rows[1].foresight_distance_m, 98 * 0.3048, 1e-12);
    EXPECT_EQ(table->rows[2].place.line, 4);
    const auto runs = network::level_runs_of(table->rows);
    ASSERT_EQ(runs.size(), 1U);
    const auto reduced = network::reduce_run(runs[0]);
    EXPECT_NEAR(reduced.rise_m / 0.3048, 4.32 - 3.17 + 5.10 - 2.96, 1e-4);
}

TEST(level_runs, several_runs_stand_one_after_the_other) {
    const auto table = read(
        "R1,A,1.5,,,,,,,\nR1,B,,,1.2,,,,,\n"
        "R2,B,1.4,,,,,,,\nR2,C,,1.1,,,,,,\nR2,A,,,1.7,,,,,\n");
    ASSERT_TRUE(table) << table.refusal().to_text();
    EXPECT_EQ(network::level_runs_of(table->rows).size(), 2U);
}

TEST(level_runs, each_bad_cell_is_refused_with_its_place) {
    struct Bad {
        const char* rows;
        ErrorCode code;
        int line, column;
    };
    const Bad cases[] = {
        {",A,1.5,,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::value_missing, 2, 1},
        {"R1,,1.5,,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::value_missing, 2, 4},
        {"R1,A,abc,,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::not_a_number, 2, 6},
        {"R1,A,15,,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 6},
        {"R1,A,,,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::value_missing, 2, 6},
        {"R1,A,1.5,,,,,,,\nR1,C,,-11,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 3, 7},
        {"R1,A,1.5,,,,,,,\nR1,C,,x,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::not_a_number, 3, 7},
        {"R1,A,1.5,,,,,,,\nR1,,,1.0,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::value_missing, 3, 4},
        {"R1,A,1.5,,,,,,,\nR1,C,1.1,1.0,,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 3, 6},
        {"R1,A,1.5,,,,,,,\nR1,B,,,nan,,,,,\n", ErrorCode::not_finite, 3, 8},
        {"R1,A,1.5,,1.2,,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 11},
        {"R1,A,1.5,,,,,,,\nR1,B,1.3,,,,,,,\nR1,C,,,1,,,,,\n", ErrorCode::value_missing, 3, 11},
        {"R1,A,1.5,,,,,,,\nR1,B,1.3,,1.2,,,,,\n", ErrorCode::out_of_range, 3, 6},
        {"R1,A,1.5,,,,,,,\nR1,B,,,1.2,,,,,\nR1,C,,,1.0,,,,,\n", ErrorCode::value_missing, 3, 6},
        {"R1,A,1.5,,,,,,,\n", ErrorCode::value_missing, 2, 11},
        {"R1,A,1.5,,,0,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 12},
        {"R1,A,1.5,,,2000,,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 12},
        {"R1,A,1.5,,,,9,,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 13},
        {"R1,A,1.5,,,,,,,\nR1,B,,,1.2,9,,,,\n", ErrorCode::out_of_range, 3, 12},
        {"R1,A,1.5,,,,,,,\nR1,B,,,1.2,,far,,,\n", ErrorCode::not_a_number, 3, 13},
        {"R1,A,1.5,,,,,2,,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 14},
        {"R1,A,1.5,,,,,,0,\nR1,B,,,1.2,,,,,\n", ErrorCode::out_of_range, 2, 15},
        {"R1,A,1.5,,,,,,,noon\nR1,B,,,1.2,,,,,\n", ErrorCode::time_not_read, 2, 16},
        {"R1,A,1.5,,,,,,,\nR1,B,,,1.2,,,,,\nR2,B,1.5,,,,,,,\nR2,A,,,1.2,,,,,\nR1,A,1,,,,,,,\n",
         ErrorCode::out_of_range, 6, 1},
        {"R1,A,1.5,,,,,,,\nR1,TP3,,,1.2,,,,,\n", ErrorCode::out_of_range, 3, 4},
        {"", ErrorCode::value_missing, 1, 1},
        {"R1,A,1.5\n", ErrorCode::row_too_short, 2, 9},
    };
    for (const Bad& bad : cases) {
        const auto table = read(bad.rows);
        ASSERT_FALSE(table) << bad.rows;
        const Refusal& refusal = table.refusal();
        EXPECT_EQ(refusal.code, bad.code) << bad.rows << refusal.to_text();
        EXPECT_EQ(refusal.place.file, "levels.csv");
        EXPECT_EQ(refusal.place.line, bad.line) << bad.rows << refusal.to_text();
        EXPECT_EQ(refusal.place.column, bad.column) << bad.rows << refusal.to_text();
        EXPECT_FALSE(refusal.found.empty());
        EXPECT_FALSE(refusal.expected.empty());
    }
}

TEST(level_runs, the_unit_is_asked_for_and_never_guessed) {
    const std::string rows = "R1,A,1.5,\nR1,B,,1.2\n";
    const auto table = read_level_runs({"l.csv", "run,point,backsight,foresight\n" + rows});
    ASSERT_FALSE(table);
    EXPECT_EQ(table.refusal().code, ErrorCode::unit_missing);
    EXPECT_TRUE(read_level_runs({"l.csv", "run,point,backsight [m],foresight\n" + rows}));
    // Lengths of sights do not take the rod's unit.
    EXPECT_FALSE(read_level_runs({"l.csv",
                                  "run,point,backsight [m],foresight,backsight_distance\n"
                                  "R1,A,1.5,,30\nR1,B,,1.2,\n"}));
}

TEST(any_levels, columns_tell_the_two_kinds_apart) {
    const auto rises = read_any_levels({"a.csv", "from,to,rise [m]\nA,B,0.25\n"});
    ASSERT_TRUE(rises) << rises.refusal().to_text();
    EXPECT_EQ(rises->rises.size(), 1U);
    EXPECT_TRUE(rises->readings.empty());
    const auto runs =
        read_any_levels({"b.csv", "run,point,backsight [m],foresight\nR1,A,1.5,\nR1,B,,1.2\n"});
    ASSERT_TRUE(runs) << runs.refusal().to_text();
    EXPECT_TRUE(runs->rises.empty());
    EXPECT_EQ(runs->readings.size(), 2U);
    const auto bad =
        read_any_levels({"b.csv", "run,point,backsight [m],foresight\nR1,A,x,\nR1,B,,1.2\n"});
    ASSERT_FALSE(bad);
    EXPECT_EQ(bad.refusal().code, ErrorCode::not_a_number);
    const auto half = read_any_levels({"b.csv", "run,point,backsight [m]\nR1,A,1\n"});
    ASSERT_FALSE(half);
    EXPECT_NE(half.refusal().expected.find("foresight"), std::string::npos);
    const auto neither = read_any_levels({"c.csv", "from,to,height [m]\nA,B,1\n"});
    ASSERT_FALSE(neither);
    EXPECT_EQ(neither.refusal().code, ErrorCode::column_missing);
    EXPECT_NE(neither.refusal().expected.find("rise"), std::string::npos);
    EXPECT_NE(neither.refusal().expected.find("backsight"), std::string::npos);
}

TEST(level_writers, what_is_written_reads_back) {
    const auto table = read(
        "R1,A,1.5,,,20,,,0.001,2031-05-15T07:30-05:00\nR1,,1.25,,1.0,21,22.5,,,\n"
        "R1,C,,0.75,,,11,,,\nR1,B,,,1.2,,19,,,\n");
    ASSERT_TRUE(table) << table.refusal().to_text();
    for (const auto unit : {measure::LengthUnit::metre, measure::LengthUnit::foot}) {
        const std::string text = write_level_runs(network::level_runs_of(table->rows), unit);
        const auto again = read_level_runs({"again.csv", text});
        ASSERT_TRUE(again) << again.refusal().to_text() << text;
        ASSERT_EQ(again->rows.size(), 4U);
        for (std::size_t i = 0; i < 4; ++i) {
            EXPECT_EQ(again->rows[i].point, table->rows[i].point);
            EXPECT_EQ(again->rows[i].time_text, table->rows[i].time_text);
            for (const auto member :
                 {&network::LevelReading::backsight_m, &network::LevelReading::intermediate_m,
                  &network::LevelReading::foresight_m, &network::LevelReading::backsight_distance_m,
                  &network::LevelReading::foresight_distance_m,
                  &network::LevelReading::sd_turn_m}) {
                ASSERT_EQ((again->rows[i].*member).has_value(),
                          (table->rows[i].*member).has_value());
                if (again->rows[i].*member) {
                    EXPECT_NEAR(*(again->rows[i].*member), *(table->rows[i].*member), 1e-12);
                }
            }
        }
    }
    const auto rises = read_any_levels({"a.csv", "from,to,rise [m],sd [mm]\nA,B,0.25,2\n"});
    const auto back =
        read_any_levels({"b.csv", write_levels(rises->rises, measure::LengthUnit::us_foot)});
    ASSERT_TRUE(back) << back.refusal().to_text();
    EXPECT_NEAR(back->rises.at(0).rise_m, 0.25, 1e-12);
    EXPECT_NEAR(back->rises.at(0).sd_m, 0.002, 1e-12);
}

}  // namespace
}  // namespace layproof::exchange
