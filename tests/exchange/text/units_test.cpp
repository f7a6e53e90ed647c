#include "exchange/text/units.hpp"

#include <gtest/gtest.h>

#include "exchange/exchange_support.hpp"
#include "measure/angle.hpp"

namespace layproof::exchange {
namespace {

using measure::kRadPerDeg;
using testing::expect_refused;

const Place kPlace{"f", 4, 5};
constexpr double kAngleTolerance_rad = 1e-14;

TEST(Units, words_are_known_only_in_columns_of_their_kind) {
    EXPECT_EQ(unit_from_word(CellKind::length, "US-FT"), CellUnit(measure::LengthUnit::us_foot));
    EXPECT_EQ(unit_from_word(CellKind::temperature, "°C"), CellUnit(TemperatureUnit::celsius));
    EXPECT_EQ(unit_from_word(CellKind::pressure, "mbar"), CellUnit(PressureUnit::hectopascal));
    EXPECT_EQ(unit_from_word(CellKind::angle, " gon "), CellUnit(AngleFormat::gon));
    for (const char* word : {"feet", "'", "cm", "gon", "C", ""}) {
        EXPECT_EQ(unit_from_word(CellKind::length, word), CellUnit()) << word;
    }
    EXPECT_EQ(unit_from_word(CellKind::angle, "rad"), CellUnit());
    EXPECT_EQ(unit_from_word(CellKind::text, "m"), CellUnit());
}

TEST(Units, packed_dms_is_split_into_two_digits_each) {
    const auto angle = [](std::string_view text) {
        const auto read = read_angle(text, AngleFormat::packed_dms, kPlace);
        EXPECT_TRUE(read.ok()) << (read.ok() ? "" : read.refusal().to_text());
        return read.ok() ? *read / kRadPerDeg : 0.0;
    };
    EXPECT_NEAR(angle("123.45067"), 123.0 + 45.0 / 60.0 + 6.7 / 3600.0, 1e-12);
    EXPECT_NEAR(angle("90"), 90.0, 1e-12);
    EXPECT_NEAR(angle("90.3"), 90.5, 1e-12);
    EXPECT_NEAR(angle("90.305"), 90.0 + 30.0 / 60.0 + 50.0 / 3600.0, 1e-12);
    EXPECT_NEAR(angle("-0.3"), -0.5, 1e-12);
    expect_refused(read_angle("12.60", AngleFormat::packed_dms, kPlace),
                   ErrorCode::angle_out_of_range, 4, 5);
    expect_refused(read_angle("12.3060", AngleFormat::packed_dms, kPlace),
                   ErrorCode::angle_out_of_range, 4, 5);
    for (const char* text : {"", "1.2.3", "12-30", "x", ".", "nan"}) {
        expect_refused(read_angle(text, AngleFormat::packed_dms, kPlace), ErrorCode::not_an_angle,
                       4, 5);
    }
}

TEST(Units, inch_columns_take_fractions_with_and_without_mark) {
    const auto inches = [](std::string_view text) {
        const auto read = read_length(text, measure::LengthUnit::inch, kPlace);
        EXPECT_TRUE(read.ok()) << text;
        return read.ok() ? *read / 0.0254 : 0.0;
    };
    EXPECT_NEAR(inches("0.125"), 0.125, 1e-14);
    EXPECT_NEAR(inches("1/8"), 0.125, 1e-14);
    EXPECT_NEAR(inches("1/8\""), 0.125, 1e-14);
    EXPECT_NEAR(inches("5 3/4"), 5.75, 1e-14);
    EXPECT_NEAR(inches("1'-2\""), 14.0, 1e-13);
    EXPECT_NEAR(inches("36"), 36.0, 1e-13);
    for (const char* text : {"x", "9/8", "1/0", "nan", ""}) {
        EXPECT_FALSE(read_length(text, measure::LengthUnit::inch, kPlace).ok()) << text;
    }
}

TEST(Units, gon_and_degrees_give_the_same_angle) {
    EXPECT_NEAR(*read_angle("100", AngleFormat::gon, kPlace),
                *read_angle("90-00-00", AngleFormat::degrees, kPlace), kAngleTolerance_rad);
}

TEST(Units, temperatures_become_kelvin_and_pressures_hectopascals) {
    EXPECT_NEAR(*read_temperature("20", TemperatureUnit::celsius, kPlace), 293.15, 1e-12);
    EXPECT_NEAR(*read_temperature("68", TemperatureUnit::fahrenheit, kPlace), 293.15, 1e-12);
    EXPECT_EQ(*read_temperature("293.15", TemperatureUnit::kelvin, kPlace), 293.15);
    // One standard atmosphere: 760 mmHg, 29.92126 inHg (NIST SP 811).
    EXPECT_NEAR(*read_pressure("760", PressureUnit::mm_mercury, kPlace), 1013.25, 5e-4);
    EXPECT_NEAR(*read_pressure("29.92126", PressureUnit::inch_mercury, kPlace), 1013.25, 5e-4);
    expect_refused(read_temperature("293", TemperatureUnit::celsius, kPlace),
                   ErrorCode::out_of_range, 4, 5);
    expect_refused(read_pressure("29.92", PressureUnit::hectopascal, kPlace),
                   ErrorCode::out_of_range, 4, 5);
}

}  // namespace
}  // namespace layproof::exchange
