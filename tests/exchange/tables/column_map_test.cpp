#include "exchange/tables/column_map.hpp"

#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"
#include "exchange/tables/readers.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using measure::kRadPerDeg;
using testing::expect_refused;
using testing::file;

Document toml(std::string bytes) {
    return {"map.toml", std::move(bytes)};
}

TEST(ColumnMap, headerless_marks_in_north_east_order_are_read_by_number) {
    LAYPROOF_READ(map,
                  read_column_map(toml("table = \"marks\"\nheader = false\nunit = \"us-ft\"\n"
                                       "separator = \"space\"\n[columns]\nmark = 1\nnorth = 2\n"
                                       "east = 3\nheight = 4\nrole = 5\n")));
    LAYPROOF_READ(marks,
                  read_marks(file("101  2000.0 1000.0  10.5 CP extra\n102 2100 1000 11 CP\n"),
                             {measure::LengthUnit::metre, &*map}));
    ASSERT_EQ(marks->rows.size(), 2U);
    EXPECT_EQ(marks->rows[0].name, "101");
    EXPECT_NEAR(*marks->rows[0].north_m, 2000.0 * 1200.0 / 3937.0, 1e-10);
    EXPECT_NEAR(*marks->rows[0].east_m, 1000.0 * 1200.0 / 3937.0, 1e-10);
    EXPECT_EQ(marks->rows[0].role, "CP");
    EXPECT_EQ(marks->unit, measure::LengthUnit::us_foot);
}

TEST(ColumnMap, foreign_sights_with_names_constants_words_and_packed_angles_are_read) {
    LAYPROOF_READ(map, read_column_map(toml(R"(
table = "sights"
separator = "|"
decimal = ","
comment = "//"
skip_lines = 1
[columns]
station = { value = "S7" }
target = "Pt No"
direction = { from = "HA", unit = "packed-dms" }
zenith = { from = 3, unit = "gon" }
slope_distance = { from = "SD", unit = "ft" }
target_height = { value = 5.0, unit = "ft" }
purpose = "Code"
[words.purpose]
BS = "control"
CK = "check"
)")));
    LAYPROOF_READ(sights, read_sights(file("dump of a field book\n"
                                           "Pt No|HA|VA|SD|Code|Remark\n"
                                           "// a comment\n"
                                           "H1|10,3030|100,5|100,5|BS|windy\n"
                                           "H2|20,0000|100|50|CK|\n"),
                                      {std::nullopt, &*map}));
    ASSERT_EQ(sights->rows.size(), 2U);
    const measure::Sight& first = sights->rows[0];
    EXPECT_EQ(first.station, "S7");
    EXPECT_EQ(first.target, "H1");
    EXPECT_NEAR(*first.direction_rad, (10.0 + 30.5 / 60.0) * kRadPerDeg, 1e-14);
    EXPECT_NEAR(*first.zenith_rad, 90.45 * kRadPerDeg, 1e-14);
    EXPECT_NEAR(*first.slope_distance_m, 30.6324, 1e-12);
    EXPECT_NEAR(first.target_height_m, 1.524, 1e-12);
    EXPECT_EQ(first.purpose, measure::Purpose::control);
    EXPECT_EQ(first.note, "Remark=windy");
    EXPECT_EQ(sights->rows[1].purpose, measure::Purpose::check);
    EXPECT_EQ(first.place.line, 4);
}

TEST(ColumnMap, unit_in_the_foreign_header_is_taken_when_the_map_states_none) {
    LAYPROOF_READ(map, read_column_map(toml("table = \"points\"\n[columns]\npoint = \"Name\"\n"
                                            "east = \"X\"\nnorth = \"Y [ft]\"\n")));
    LAYPROOF_READ(points, read_points(file("Name,X [ft],Y [ft]\nP,1,2\n"), {std::nullopt, &*map}));
    EXPECT_EQ(points->rows[0].east_m, 0.3048);
    const auto refused = read_points(file("Name,X,Y [ft]\nP,1,2\n"), {std::nullopt, &*map});
    expect_refused(refused, ErrorCode::unit_missing, 1, 6);
    EXPECT_NE(refused.refusal().expected.find("column map, as unit = \"ft\""), std::string::npos);
}

TEST(ColumnMap, map_that_does_not_fit_the_file_is_refused) {
    LAYPROOF_READ(map, read_column_map(toml("table = \"points\"\nunit = \"m\"\n[columns]\n"
                                            "point = \"Name\"\neast = \"X\"\nnorth = 3\n")));
    const ReadOptions options{std::nullopt, &*map};
    const auto missing = read_points(file("Name,E,N\nP,1,2\n"), options);
    expect_refused(missing, ErrorCode::column_map_bad, 5, 1);
    EXPECT_EQ(missing.refusal().place.file, "map.toml");
    EXPECT_NE(missing.refusal().expected.find("\"Name\", \"E\" and \"N\""), std::string::npos);
    expect_refused(read_points(file("Name,X\nP,1\n"), options), ErrorCode::column_map_bad, 6, 1);
    expect_refused(read_marks(file("mark,east,north,height\nA,1,2,3\n"), options),
                   ErrorCode::column_map_bad, 0, 0);
    LAYPROOF_READ(headless, read_column_map(toml("table = \"points\"\nunit = \"m\"\n"
                                                 "header = false\n[columns]\npoint = 1\n"
                                                 "east = 2\nnorth = 3\n")));
    expect_refused(read_points(file("P,1,2\nQ,1\n"), {std::nullopt, &*headless}),
                   ErrorCode::row_too_short, 2, 4);
    LAYPROOF_READ(partial, read_column_map(toml("table = \"points\"\nunit = \"m\"\n"
                                                "[columns]\npoint = 1\n")));
    expect_refused(read_points(file("Name\nP\n"), {std::nullopt, &*partial}),
                   ErrorCode::column_map_bad, 0, 0);
}

TEST(ColumnMap, bad_constant_is_refused_in_the_map) {
    LAYPROOF_READ(map, read_column_map(toml("table = \"points\"\nunit = \"m\"\n[columns]\n"
                                            "point = 1\neast = { value = \"x\" }\nnorth = 2\n")));
    const auto points = read_points(file("a,b\nP,1\n"), {std::nullopt, &*map});
    expect_refused(points, ErrorCode::not_a_number, 5, 10);
    EXPECT_EQ(points.refusal().place.file, "map.toml");
}

struct BadMap {
    const char* text;
    ErrorCode code;
    int line;
    int column;
};

TEST(ColumnMap, bad_maps_are_refused_at_their_place) {
    const BadMap cases[]{
        {"", ErrorCode::empty_file, 1, 1},
        {"table = ", ErrorCode::not_toml, 1, 9},
        {"unit = \"m\"", ErrorCode::column_map_bad, 0, 0},
        {"table = \"mark\"", ErrorCode::column_map_bad, 1, 1},
        {"table = \"marks\"", ErrorCode::column_map_bad, 0, 0},
        {"table = \"marks\"\nseperator = \",\"", ErrorCode::key_unknown, 2, 1},
        {"table = \"marks\"\nseparator = \"ab\"", ErrorCode::column_map_bad, 2, 1},
        {"table = \"marks\"\nseparator = \"a\"", ErrorCode::column_map_bad, 2, 1},
        {"table = \"marks\"\ndecimal = \";\"", ErrorCode::column_map_bad, 2, 1},
        {"table = \"marks\"\nheader = 1", ErrorCode::column_map_bad, 2, 1},
        {"table = \"marks\"\ncomment = 1", ErrorCode::column_map_bad, 2, 1},
        {"table = \"marks\"\nskip_lines = -1", ErrorCode::column_map_bad, 2, 1},
        {"table = \"marks\"\nunit = \"feet\"", ErrorCode::unit_unknown, 2, 1},
        {"table = \"marks\"\n[columns]\nest = 1", ErrorCode::column_map_bad, 3, 1},
        {"table = \"marks\"\n[columns]\neast = 0", ErrorCode::column_map_bad, 3, 1},
        {"table = \"marks\"\n[columns]\neast = 1.5", ErrorCode::column_map_bad, 3, 1},
        {"table = \"marks\"\n[columns]\neast = \"\"", ErrorCode::column_map_bad, 3, 1},
        {"table = \"marks\"\nheader = false\n[columns]\neast = \"E\"", ErrorCode::column_map_bad, 4,
         1},
        {"table = \"marks\"\n[columns]\neast = { unit = \"m\" }", ErrorCode::column_map_bad, 3, 1},
        {"table = \"marks\"\n[columns]\neast = { from = 1, value = 2 }", ErrorCode::column_map_bad,
         3, 20},
        {"table = \"marks\"\n[columns]\neast = { form = 1 }", ErrorCode::key_unknown, 3, 10},
        {"table = \"marks\"\n[columns]\neast = { from = 1, unit = \"gon\" }",
         ErrorCode::unit_unknown, 3, 20},
        {"table = \"marks\"\n[columns]\neast = { value = true }", ErrorCode::column_map_bad, 3, 10},
        {"table = \"marks\"\nwords = 1\n[columns]\neast = 1", ErrorCode::column_map_bad, 0, 0},
        {"table = \"marks\"\n[columns]\neast = 1\n[words.east]\na = \"b\"",
         ErrorCode::column_map_bad, 4, 8},
        {"table = \"marks\"\n[columns]\neast = 1\n[words.role]\na = 1", ErrorCode::column_map_bad,
         5, 1},
    };
    for (const BadMap& bad : cases) {
        SCOPED_TRACE(bad.text);
        expect_refused(read_column_map(toml(bad.text)), bad.code, bad.line, bad.column);
    }
}

}  // namespace
}  // namespace layproof::exchange
