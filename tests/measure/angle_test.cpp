#include "measure/angle.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "base/random.hpp"

namespace layproof::measure {
namespace {

constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
// A few last places of an angle of up to 360°.
constexpr double kTight = 2e-15;

double degrees(std::string_view text) {
    const auto read = parse_angle(text, AngleUnit::degree, {});
    EXPECT_TRUE(read.ok()) << text;
    return read.ok() ? *read / kRadPerDeg : kNan;
}

ErrorCode refused(std::string_view text, AngleUnit unit = AngleUnit::degree) {
    const auto read = parse_angle(text, unit, {});
    EXPECT_FALSE(read.ok()) << text;
    return read.ok() ? ErrorCode{} : read.refusal().code;
}

TEST(Wrap, inside_the_range_is_exact) {
    Random random(1);
    for (int i = 0; i < 1000; ++i) {
        const double angle = random.uniform(0.0, kTwoPi);
        EXPECT_EQ(wrap_0_2pi(angle), angle);
        const double half = random.uniform(-kPi, kPi);
        EXPECT_EQ(wrap_pi(half), half);
    }
    EXPECT_EQ(wrap_pi(kPi), kPi);
}

TEST(Wrap, ends_of_the_range_stay_inside) {
    EXPECT_EQ(wrap_0_2pi(-1e-18), 0.0);
    EXPECT_EQ(wrap_0_2pi(kTwoPi), 0.0);
    EXPECT_EQ(wrap_0_2pi(-kTwoPi), 0.0);
    EXPECT_LT(wrap_0_2pi(std::nextafter(kTwoPi, 0.0)), kTwoPi);
    EXPECT_EQ(wrap_pi(-kPi), kPi);
    EXPECT_EQ(wrap_pi(3.0 * kPi), kPi);
    EXPECT_EQ(wrap_pi(std::nextafter(-kPi, 0.0)), std::nextafter(-kPi, 0.0));
}

TEST(Wrap, any_turns_stay_inside_and_agree) {
    Random random(2);
    for (int i = 0; i < 10000; ++i) {
        const double angle = random.uniform(-100.0, 100.0);
        const double full = wrap_0_2pi(angle);
        const double half = wrap_pi(angle);
        EXPECT_GE(full, 0.0);
        EXPECT_LT(full, kTwoPi);
        EXPECT_GT(half, -kPi);
        EXPECT_LE(half, kPi);
        // 16 turns, each short of a true turn by 2.4e-16, and one rounding of 100.
        EXPECT_NEAR(std::sin(full), std::sin(angle), 3e-14);
        EXPECT_NEAR(std::cos(half), std::cos(angle), 3e-14);
    }
}

TEST(Wrap, zero_sign) {
    EXPECT_FALSE(std::signbit(wrap_0_2pi(-0.0)));
    EXPECT_TRUE(std::signbit(wrap_pi(-0.0)));
    EXPECT_FALSE(std::signbit(wrap_pi(0.0)));
}

TEST(Wrap, not_finite_gives_nan) {
    EXPECT_TRUE(std::isnan(wrap_0_2pi(kNan)));
    EXPECT_TRUE(std::isnan(wrap_0_2pi(kInf)));
    EXPECT_TRUE(std::isnan(wrap_pi(-kInf)));
}

TEST(ParseAngle, all_spellings_of_one_angle_agree) {
    const double expected = 123.0 + 45.0 / 60.0 + 6.7 / 3600.0;
    for (const auto* text : {"123-45-06.7", "123-45-6.7", "123°45'06.7\"", "123°45'06.7",
                             "123 45 06.7", "123º45′06.7″", "123°45’06.7”", "123° 45' 06.7\"",
                             "  123-45-06.7  ", "+123-45-06.7", "123°45'06.7''",
                             "123\xC2\xA0"
                             "45\xC2\xA0"
                             "06.7",
                             "123 - 45 - 06.7"}) {
        EXPECT_NEAR(degrees(text), expected, 1e-13) << text;
    }
    EXPECT_NEAR(degrees("123.75186111111111"), expected, 1e-13);
    EXPECT_NEAR(degrees("123°45.1116666666666667'"), expected, 1e-13);
}

TEST(ParseAngle, degrees_alone_and_with_minutes) {
    EXPECT_NEAR(degrees("123.4567"), 123.4567, 1e-13);
    EXPECT_NEAR(degrees("123.4567°"), 123.4567, 1e-13);
    EXPECT_EQ(degrees("0"), 0.0);
    EXPECT_NEAR(degrees("90°"), 90.0, 1e-13);
    EXPECT_NEAR(degrees("12-30"), 12.5, 1e-13);
    EXPECT_NEAR(degrees("12°30'"), 12.5, 1e-13);
    EXPECT_NEAR(degrees("12 30.5"), 12.0 + 30.5 / 60.0, 1e-13);
    EXPECT_NEAR(degrees("1.5e1"), 15.0, 1e-13);
    EXPECT_NEAR(degrees(".5"), 0.5, 1e-15);
}

TEST(ParseAngle, sign_counts_for_all_parts) {
    EXPECT_NEAR(degrees("-0.5"), -0.5, 1e-15);
    EXPECT_NEAR(degrees("-0-30-00"), -0.5, 1e-15);
    EXPECT_NEAR(degrees("-0°30'00\""), -0.5, 1e-15);
    EXPECT_NEAR(degrees("−12 30 00"), -12.5, 1e-14);
    EXPECT_NEAR(degrees("-12-30-00"), -12.5, 1e-14);
    EXPECT_TRUE(std::signbit(degrees("-0")));
    EXPECT_TRUE(std::signbit(degrees("-0-0-0")));
}

TEST(ParseAngle, limits_are_included) {
    EXPECT_NEAR(degrees("360"), 360.0, 1e-12);
    EXPECT_NEAR(degrees("360-00-00"), 360.0, 1e-12);
    EXPECT_NEAR(degrees("-360"), -360.0, 1e-12);
    EXPECT_EQ(refused("360.0001"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(refused("360-00-00.1"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(refused("-361"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(refused("12-60-00"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(refused("12-00-60"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(refused("12°75'"), ErrorCode::angle_out_of_range);
    EXPECT_EQ(refused("400.1", AngleUnit::gon), ErrorCode::angle_out_of_range);
    EXPECT_NEAR(*parse_angle("400", AngleUnit::gon, {}), kTwoPi, kTight);
}

TEST(ParseAngle, gon_is_a_plain_number) {
    EXPECT_NEAR(*parse_angle("100", AngleUnit::gon, {}), kPi / 2.0, kTight);
    EXPECT_NEAR(*parse_angle("-50.0", AngleUnit::gon, {}), -kPi / 4.0, kTight);
    EXPECT_EQ(refused("100-50-00", AngleUnit::gon), ErrorCode::not_an_angle);
    EXPECT_EQ(refused("100°", AngleUnit::gon), ErrorCode::not_an_angle);
}

TEST(ParseAngle, what_is_not_an_angle_is_refused) {
    for (const auto* text : {"abc",
                             "123,45",
                             "12-",
                             "12--30",
                             "12-30-",
                             "--5",
                             "+-5",
                             "12.5-30-00",
                             "12-30.5-10",
                             "12-30 10",
                             "12 30-10",
                             "12°30-10",
                             "12-30-10-5",
                             "12°30'10\"x",
                             "12°30'-5\"",
                             "1e",
                             "°",
                             "'",
                             "\"",
                             "-",
                             "+",
                             ".",
                             "12:30:10",
                             "12 30 10 N",
                             "\x01"
                             "30",
                             "12\x01"
                             "30",
                             "0x10",
                             "1_000",
                             "12\xB0"
                             "30"}) {
        EXPECT_EQ(refused(text), ErrorCode::not_an_angle) << text;
    }
}

TEST(ParseAngle, missing_and_not_finite_are_told_apart) {
    EXPECT_EQ(refused(""), ErrorCode::value_missing);
    EXPECT_EQ(refused("   "), ErrorCode::value_missing);
    EXPECT_EQ(refused("nan"), ErrorCode::not_finite);
    EXPECT_EQ(refused("inf"), ErrorCode::not_finite);
    EXPECT_EQ(refused("-Infinity"), ErrorCode::not_finite);
    EXPECT_EQ(refused("1e999"), ErrorCode::not_finite);
    EXPECT_EQ(refused("nan", AngleUnit::gon), ErrorCode::not_finite);
}

TEST(ParseAngle, refusal_says_where_what_and_what_instead) {
    const Place place{"sights.csv", 4, 3};
    const auto comma = parse_angle("123,45", AngleUnit::degree, place);
    ASSERT_FALSE(comma.ok());
    EXPECT_EQ(comma.refusal().place, place);
    EXPECT_EQ(comma.refusal().found, "\"123,45\"");
    EXPECT_NE(comma.refusal().expected.find("with a decimal point"), std::string::npos);
    const auto gon = parse_angle("x", AngleUnit::gon, place);
    EXPECT_NE(gon.refusal().expected.find("gon"), std::string::npos);
    const auto nothing = parse_angle("", AngleUnit::degree, place);
    EXPECT_EQ(nothing.refusal().found, "nothing");
    const std::string longest(1000, '\xC3');
    EXPECT_LT(parse_angle(longest, AngleUnit::degree, place).refusal().found.size(), 60U);
}

TEST(ParseAngle, long_text_is_cut_between_characters) {
    std::string text = "x";
    for (int i = 0; i < 40; ++i) text += "é";  // two bytes each, so byte 40 lies inside one
    std::string kept = "\"x";
    for (int i = 0; i < 19; ++i) kept += "é";
    EXPECT_EQ(parse_angle(text, AngleUnit::degree, {}).refusal().found, kept + "...\"");
}

TEST(FormatDms, carries_instead_of_showing_sixty) {
    const auto dms = [](double d, double m, double s) {
        return (d * 3600.0 + m * 60.0 + s) * kRadPerArcsec;
    };
    EXPECT_EQ(format_dms(dms(123, 45, 6.7), 1), "123°45'06.7\"");
    EXPECT_EQ(format_dms(dms(12, 34, 59.96), 1), "12°35'00.0\"");
    EXPECT_EQ(format_dms(dms(12, 59, 59.96), 1), "13°00'00.0\"");
    EXPECT_EQ(format_dms(dms(359, 59, 59.96), 1), "360°00'00.0\"");
    EXPECT_EQ(format_direction(dms(359, 59, 59.96), 1), "0°00'00.0\"");
    EXPECT_EQ(format_direction(dms(-10, 0, 0), 0), "350°00'00\"");
    EXPECT_EQ(format_dms(dms(12, 34, 59.94), 1), "12°34'59.9\"");
    EXPECT_EQ(format_dms(dms(0, 0, 5), 0), "0°00'05\"");
    EXPECT_EQ(format_dms(dms(1, 2, 3.00456), 4), "1°02'03.0046\"");
}

TEST(FormatDms, sign_stands_in_front_and_zero_has_none) {
    EXPECT_EQ(format_dms(-0.5 * kRadPerDeg, 1), "-0°30'00.0\"");
    EXPECT_EQ(format_dms(-0.0, 1), "0°00'00.0\"");
    EXPECT_EQ(format_dms(-0.01 * kRadPerArcsec, 1), "0°00'00.0\"");
}

TEST(FormatDms, odd_input_stays_readable) {
    EXPECT_EQ(format_dms(kNan, 1), "unknown");
    EXPECT_EQ(format_dms(kInf, 1), "unknown");
    EXPECT_EQ(format_direction(-kInf, 1), "unknown");
    EXPECT_EQ(format_dms(kRadPerDeg, -3), "1°00'00\"");
    EXPECT_EQ(format_dms(kRadPerDeg, 40), "1°00'00.000000000\"");
    EXPECT_EQ(format_dms(1e300, 1).find("nan"), std::string::npos);
}

TEST(FormatDms, reads_back_within_half_the_last_decimal) {
    Random random(20240501);
    double step = 1.0;
    for (int decimals = 0; decimals <= 6; ++decimals, step /= 10.0) {
        for (int i = 0; i < 500; ++i) {
            const double angle = random.uniform(-kTwoPi, kTwoPi) * 0.999999;
            const std::string text = format_dms(angle, decimals);
            const auto back = parse_angle(text, AngleUnit::degree, {});
            ASSERT_TRUE(back.ok()) << text;
            EXPECT_NEAR(*back, angle, 0.5 * step * kRadPerArcsec + kTight) << text;
            EXPECT_EQ(format_dms(*back, decimals), text);
        }
    }
}

TEST(ParseAngle, random_bytes_never_surprise) {
    Random random(77);
    const std::string alphabet = "0123456789.-+ '\"°e,x\xE2\x80\xB2";
    for (int i = 0; i < 20000; ++i) {
        std::string text;
        const int length = random.below(14);
        for (int j = 0; j < length; ++j) {
            text +=
                alphabet[static_cast<std::size_t>(random.below(static_cast<int>(alphabet.size())))];
        }
        const auto read = parse_angle(text, AngleUnit::degree, {});
        if (read.ok()) {
            EXPECT_LE(std::abs(*read), kTwoPi) << text;
        } else {
            EXPECT_FALSE(read.refusal().expected.empty());
        }
    }
}

}  // namespace
}  // namespace layproof::measure
