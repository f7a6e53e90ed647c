// What is typed into a phone, as it is understood or refused.

#include "door/typed.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "base/random.hpp"
#include "measure/angle.hpp"

namespace layproof::acts {
namespace {

using measure::LengthUnit;
using ::testing::HasSubstr;

// Reading and writing of one number: a few units of the last place.
constexpr double kRounding = 1e-14;

double degrees(const char* text) {
    const auto value = read_typed("direction", text, {});
    return value ? value->value / measure::kRadPerDeg : std::nan("");
}

double metres(const char* text, std::optional<LengthUnit> unit,
              const char* field = "slope_distance") {
    const auto value = read_typed(field, text, unit);
    return value ? value->value : std::nan("");
}

ErrorCode code(const char* field, const char* text, std::optional<LengthUnit> unit = {}) {
    const auto value = read_typed(field, text, unit);
    return value ? ErrorCode{} : value.refusal().code;
}

TEST(typed, angles_as_the_display_shows_them) {
    constexpr double kExpected = 123.0 + 45.0 / 60.0 + 6.0 / 3600.0;
    for (const char* text :
         {"123-45-06", "123.45.06", "123 45 06", "123\u00B045'06\"", " 123-45-06 ",
          "123\u00B045\u203206\u2033", "123 45 06.0", "123.45.06.0"})
        EXPECT_NEAR(degrees(text), kExpected, 360 * kRounding) << text;
}

TEST(typed, plain_decimals_are_degrees_where_that_is_clear) {
    EXPECT_NEAR(degrees("123.75"), 123.75, 360 * kRounding);
    EXPECT_NEAR(degrees("90"), 90.0, 360 * kRounding);
    EXPECT_NEAR(degrees("90.0000"), 90.0, 360 * kRounding);
    EXPECT_NEAR(degrees("123.7567"), 123.7567, 360 * kRounding) << "75 minutes there are not";
    EXPECT_NEAR(degrees("123.4567"), 123.4567, 360 * kRounding) << "67 seconds there are not";
    EXPECT_NEAR(degrees("123.4506\u00B0"), 123.4506, 360 * kRounding);
    EXPECT_NEAR(degrees("123.4506 deg"), 123.4506, 360 * kRounding);
    EXPECT_NEAR(degrees("137.1256 gon"), 137.1256 * 0.9, 360 * kRounding);
}

TEST(typed, angle_that_may_be_two_is_refused_with_both) {
    const auto value = read_typed("direction", "123.4506", {});
    ASSERT_FALSE(value);
    EXPECT_EQ(value.refusal().code, ErrorCode::not_an_angle);
    EXPECT_THAT(value.refusal().expected, HasSubstr("123.45.06"));
    EXPECT_THAT(value.refusal().expected, HasSubstr("123.4506\u00B0"));
}

TEST(typed, angles_that_are_none_are_refused) {
    EXPECT_EQ(code("direction", "abc"), ErrorCode::not_an_angle);
    EXPECT_EQ(code("direction", "123-75-00"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(code("direction", "400"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(code("zenith", "0"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(code("direction", "1.2.3.4.5"), ErrorCode::not_an_angle);
    EXPECT_EQ(code("direction", "nan"), ErrorCode::not_finite);
    EXPECT_EQ(code("direction", "123,45"), ErrorCode::not_an_angle);
}

TEST(typed, feet_and_inches_as_crews_type_them) {
    const double expected = (12.0 + 3.5 / 12.0) * 0.3048;
    for (const char* text : {"12-3 1/2", "12 3 1/2", "12'3-1/2\"", "12'-3 1/2\"", "12-3.5",
                             "12' 3 1/2\"", "12\u20323 1/2\u2033", "12-3-1/2", "12'3.5\""})
        EXPECT_NEAR(metres(text, LengthUnit::foot), expected, 4 * kRounding) << text;
    EXPECT_NEAR(metres("12-3", LengthUnit::foot), 12.25 * 0.3048, 4 * kRounding);
    EXPECT_NEAR(metres("12.25", LengthUnit::foot), 12.25 * 0.3048, 4 * kRounding);
    EXPECT_NEAR(metres("12-3 1/2", LengthUnit::us_foot),
                (12.0 + 3.5 / 12.0) * measure::kMetresPerUsFoot, 4 * kRounding);
    EXPECT_NEAR(metres("-0-6", LengthUnit::foot, "height"), -0.1524, kRounding);
    EXPECT_NEAR(metres("12'-3\"", LengthUnit::metre), 12.25 * 0.3048, 4 * kRounding);
}

TEST(typed, lengths_with_their_unit_need_no_other) {
    EXPECT_NEAR(metres("3.2 m", {}), 3.2, kRounding);
    EXPECT_NEAR(metres("3.2m", LengthUnit::foot), 3.2, kRounding);
    EXPECT_NEAR(metres("3200 mm", {}), 3.2, kRounding);
    EXPECT_NEAR(metres("10 ft", LengthUnit::metre), 3.048, kRounding);
    EXPECT_NEAR(metres("10 us-ft", {}), 10 * measure::kMetresPerUsFoot, kRounding);
    EXPECT_NEAR(metres("10 in", {}), 0.254, kRounding);
    EXPECT_EQ(code("slope_distance", "3.2"), ErrorCode::unit_missing);
}

TEST(typed, lengths_that_are_none_are_refused) {
    EXPECT_EQ(code("slope_distance", "12 1/2", LengthUnit::foot), ErrorCode::not_a_number)
        << "feet or inches?";
    EXPECT_EQ(code("slope_distance", "12-13", LengthUnit::foot), ErrorCode::out_of_range);
    EXPECT_EQ(code("slope_distance", "-3", LengthUnit::metre), ErrorCode::negative_distance);
    EXPECT_EQ(code("slope_distance", "0", LengthUnit::metre), ErrorCode::negative_distance);
    EXPECT_EQ(code("slope_distance", "1e9", LengthUnit::metre), ErrorCode::out_of_range);
    EXPECT_EQ(code("slope_distance", "inf", LengthUnit::metre), ErrorCode::not_finite);
    EXPECT_EQ(code("target_height", "50", LengthUnit::metre), ErrorCode::out_of_range);
    EXPECT_EQ(code("east", "12.3.4", LengthUnit::metre), ErrorCode::not_a_number);
}

TEST(typed, air_and_time_say_what_they_are) {
    EXPECT_NEAR(read_typed("temperature", "68 F", {})->value, 293.15, 1e-9);
    EXPECT_NEAR(read_typed("temperature", "20\u00B0C", {})->value, 293.15, 1e-9);
    EXPECT_EQ(code("temperature", "20"), ErrorCode::unit_missing);
    EXPECT_NEAR(read_typed("pressure", "1013 hPa", {})->value, 1013.0, 1e-9);
    EXPECT_EQ(code("pressure", "5 hPa"), ErrorCode::out_of_range);
    EXPECT_EQ(read_typed("time", "2031-05-14T07:46:00-05:00", {})->value, 1936529160.0);
    EXPECT_EQ(code("time", "07:46"), ErrorCode::time_not_read);
    EXPECT_EQ(code("rubbish", "1"), ErrorCode::out_of_range);
}

TEST(typed, shown_says_how_it_was_understood) {
    EXPECT_EQ(read_typed("direction", "123.45.06", {})->shown, "123\u00B045'06\"");
    EXPECT_EQ(read_typed("slope_distance", "12-3 1/2", LengthUnit::foot)->shown, "12'-3 1/2\"");
    EXPECT_EQ(read_typed("slope_distance", "3.2 m", LengthUnit::foot)->shown,
              "3.200 m = 10.499 ft");
}

TEST(typed, empty_field_is_no_mistake) {
    const ReadField field = read_field("zenith", "  ", {});
    EXPECT_FALSE(field.ok);
    EXPECT_EQ(field.says, "");
    EXPECT_NE(field.hint, "");
}

TEST(typed, whatever_is_typed_is_finite_or_refused) {
    const std::string alphabet = "0123456789.-'\"/ ,emftn\u00B0";
    Random random(20260304);
    for (int i = 0; i < 4000; ++i) {
        std::string text;
        const std::uint64_t length = random.bits() % 12;
        for (std::uint64_t k = 0; k < length; ++k)
            text += alphabet[random.bits() % alphabet.size()];
        for (const char* field :
             {"direction", "zenith", "slope_distance", "east", "time", "temperature"}) {
            const auto value = read_typed(field, text, LengthUnit::foot);
            if (value) {
                EXPECT_TRUE(std::isfinite(value->value)) << field << ": " << text;
            } else {
                EXPECT_NE(value.refusal().expected, "") << field << ": " << text;
            }
        }
    }
}

}  // namespace
}  // namespace layproof::acts
