#include "measure/length.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "base/random.hpp"
#include "support/reference.hpp"

namespace layproof::measure {
namespace {

constexpr double kInf = std::numeric_limits<double>::infinity();
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr LengthUnit kAllUnits[] = {LengthUnit::metre, LengthUnit::millimetre, LengthUnit::foot,
                                    LengthUnit::us_foot, LengthUnit::inch};

double feet(std::string_view text, LengthUnit unit = LengthUnit::foot) {
    const auto read = parse_length(text, unit, {});
    EXPECT_TRUE(read.ok()) << text;
    return read.ok() ? *read / metres_per(unit) : kNan;
}

ErrorCode refused(std::string_view text, LengthUnit unit = LengthUnit::foot) {
    const auto read = parse_length(text, unit, {});
    EXPECT_FALSE(read.ok()) << text;
    return read.ok() ? ErrorCode{} : read.refusal().code;
}

TEST(Feet, published_figures_of_both_feet) {
    const layproof::testing::Reference reference("us-survey-foot");
    const double metres = reference.number("cases.metres");
    reference.check("304800_m_in_us_ft", metres / kMetresPerUsFoot);
    reference.check("304800_m_in_ft", metres / kMetresPerFoot);
    reference.check("us_ft_in_m", metres_per(LengthUnit::us_foot));
    reference.check("us_ft_per_m", 1.0 / kMetresPerUsFoot);
    // A coordinate read in the wrong foot, as a file would bring it.
    const auto shift_ft = [](std::string_view text) {
        return (*parse_length(text, LengthUnit::us_foot, {}) -
                *parse_length(text, LengthUnit::foot, {})) /
               kMetresPerFoot;
    };
    reference.check("shift_north", shift_ft("2000000"));
    reference.check("shift_east", shift_ft("6000000"));
}

TEST(LengthUnit, words_go_there_and_back) {
    for (const auto unit : kAllUnits) EXPECT_EQ(length_unit_from_word(to_word(unit)), unit);
    for (const auto* word : {"", "M", "feet", "foot", "usft", "us_ft", " m", "ft "}) {
        EXPECT_FALSE(length_unit_from_word(word)) << word;
    }
}

TEST(ParseLength, plain_numbers_in_each_unit) {
    EXPECT_EQ(*parse_length("12.345", LengthUnit::metre, {}), 12.345);
    EXPECT_EQ(*parse_length("-3", LengthUnit::metre, {}), -3.0);
    EXPECT_EQ(*parse_length("+0.5", LengthUnit::metre, {}), 0.5);
    EXPECT_EQ(*parse_length("−3.5", LengthUnit::metre, {}), -3.5);
    EXPECT_EQ(*parse_length("1e-3", LengthUnit::metre, {}), 0.001);
    EXPECT_DOUBLE_EQ(*parse_length("1500", LengthUnit::millimetre, {}), 1.5);
    EXPECT_DOUBLE_EQ(*parse_length("10", LengthUnit::foot, {}), 3.048);
    EXPECT_DOUBLE_EQ(*parse_length("3937", LengthUnit::us_foot, {}), 1200.0);
    EXPECT_DOUBLE_EQ(*parse_length("10", LengthUnit::inch, {}), 0.254);
    EXPECT_TRUE(std::signbit(*parse_length("-0", LengthUnit::metre, {})));
}

TEST(ParseLength, own_unit_may_follow_and_no_other) {
    EXPECT_EQ(*parse_length("12.345 m", LengthUnit::metre, {}), 12.345);
    EXPECT_EQ(*parse_length("12.345m", LengthUnit::metre, {}), 12.345);
    EXPECT_NEAR(feet("40.5 us-ft", LengthUnit::us_foot), 40.5, 1e-13);
    EXPECT_EQ(refused("40.5 ft", LengthUnit::us_foot), ErrorCode::not_a_number);
    EXPECT_EQ(refused("40.5 us-ft", LengthUnit::foot), ErrorCode::not_a_number);
    EXPECT_EQ(refused("40.5 mm", LengthUnit::metre), ErrorCode::not_a_number);
    EXPECT_EQ(refused("m", LengthUnit::metre), ErrorCode::not_a_number);
    EXPECT_EQ(refused(" m", LengthUnit::metre), ErrorCode::not_a_number);
}

TEST(ParseLength, feet_and_inches_in_all_spellings) {
    for (const auto* text :
         {"6'-0 1/2\"", "6' 0-1/2\"", "6'-0.5\"", "6'-1/2\"", "6' 1/2\"", "6'0.5\"", "6′-0 1/2″",
          "6’-0 1/2”", "6' - 0 1/2\"", "6'-0 1/2", " 6'-0 1/2\" ", "6 ' 0 1/2 \"", "+6'-0 1/2\"",
          "6'-0 1/2''", "72 1/2\"", "72-1/2\"", "72.5\"", "6'-0 2/4\"", "6'-0 1/2\" ft"}) {
        EXPECT_NEAR(feet(text), 6.0 + 0.5 / 12.0, 1e-14) << text;
    }
    EXPECT_NEAR(feet("6'"), 6.0, 1e-15);
    EXPECT_NEAR(feet("6.5'"), 6.5, 1e-15);
    EXPECT_NEAR(feet("5 3/4\""), 5.75 / 12.0, 1e-15);
    EXPECT_NEAR(feet("3/4\""), 0.75 / 12.0, 1e-15);
    EXPECT_NEAR(feet("6'-11 63/64\""), 6.0 + (11.0 + 63.0 / 64.0) / 12.0, 1e-14);
    EXPECT_NEAR(feet("6'-0 1/2\"", LengthUnit::us_foot), 6.0 + 0.5 / 12.0, 1e-14);
}

TEST(ParseLength, sign_counts_for_feet_and_inches) {
    EXPECT_NEAR(feet("-0'-3\""), -0.25, 1e-15);
    EXPECT_NEAR(feet("-6'-6\""), -6.5, 1e-14);
    EXPECT_NEAR(feet("−6'-6\""), -6.5, 1e-14);
    EXPECT_NEAR(feet("-3\""), -0.25, 1e-15);
    EXPECT_TRUE(std::signbit(feet("-0'-0\"")));
}

TEST(ParseLength, inches_and_fractions_out_of_range_are_refused) {
    EXPECT_EQ(refused("6'-12\""), ErrorCode::out_of_range);
    EXPECT_EQ(refused("6'-13 1/2\""), ErrorCode::out_of_range);
    EXPECT_EQ(refused("6'-0 2/2\""), ErrorCode::out_of_range);
    EXPECT_EQ(refused("6'-0 3/2\""), ErrorCode::out_of_range);
    EXPECT_EQ(refused("6'-0 1/0\""), ErrorCode::out_of_range);
    EXPECT_NEAR(feet("15 1/2\""), 15.5 / 12.0, 1e-15);
}

TEST(ParseLength, what_is_not_a_length_is_refused) {
    for (const auto* text :
         {"abc",      "12,5",       "5 3/4",        "3/4",          "6'-",        "6.5'-3\"",
          "6'--3\"",  "6'-3\"x",    "6'-3'",        "6\"-3'",       "'",          "\"",
          "-",        "6'-1.5/2\"", "6'-1 1.5/2\"", "6'-1.5 1/2\"", "6'-1/2.5\"", "5 - 3\"",
          "6'-1 2\"", "1/2/3\"",    "--6'",         "1 000",        "1_000"}) {
        EXPECT_EQ(refused(text), ErrorCode::not_a_number) << text;
    }
    EXPECT_EQ(refused("6'-0 1/2\"", LengthUnit::metre), ErrorCode::not_a_number);
    EXPECT_EQ(refused("6'", LengthUnit::inch), ErrorCode::not_a_number);
}

TEST(ParseLength, missing_and_not_finite_are_told_apart) {
    for (const auto unit : kAllUnits) {
        EXPECT_EQ(refused("", unit), ErrorCode::value_missing);
        EXPECT_EQ(refused(" \t", unit), ErrorCode::value_missing);
        EXPECT_EQ(refused("nan", unit), ErrorCode::not_finite);
        EXPECT_EQ(refused("-inf", unit), ErrorCode::not_finite);
        EXPECT_EQ(refused("1e400", unit), ErrorCode::not_finite);
    }
    EXPECT_EQ(refused(std::string(400, '9') + "'-1\""), ErrorCode::not_finite);
}

TEST(ParseLength, refusal_says_where_what_and_what_instead) {
    const Place place{"marks.csv", 3, 7};
    const auto comma = parse_length("12,5", LengthUnit::metre, place);
    ASSERT_FALSE(comma.ok());
    EXPECT_EQ(comma.refusal().to_text(),
              "marks.csv:3:7: found \"12,5\", expected a length in m such as 12.345, with a "
              "decimal point [E110 not-a-number]");
    const auto foot = parse_length("x", LengthUnit::us_foot, place);
    EXPECT_NE(foot.refusal().expected.find("us-ft"), std::string::npos);
    EXPECT_NE(foot.refusal().expected.find("6'-0 1/2\""), std::string::npos);
}

TEST(FormatLength, each_style) {
    EXPECT_EQ(format_length(12.345, {}), "12.345 m");
    EXPECT_EQ(format_length(0.0123, {LengthUnit::millimetre}), "12.3 mm");
    EXPECT_EQ(format_length(40.5 * kMetresPerFoot, {LengthUnit::foot}), "40.500 ft");
    EXPECT_EQ(format_length(40.5 * kMetresPerUsFoot, {LengthUnit::us_foot}), "40.500 us-ft");
    EXPECT_EQ(format_length(0.3138, {LengthUnit::inch}), "12.35 in");
    const LengthStyle ft_in{LengthUnit::foot, true, 16};
    EXPECT_EQ(format_length((6.0 + 0.5 / 12.0) * kMetresPerFoot, ft_in), "6'-0 1/2\"");
    EXPECT_EQ(format_length(6.0 * kMetresPerFoot, ft_in), "6'-0\"");
    EXPECT_EQ(format_length(-0.25 * kMetresPerFoot, ft_in), "-0'-3\"");
    EXPECT_EQ(format_length(2.0 * kMetresPerUsFoot, {LengthUnit::us_foot, true, 16}),
              "2'-0\" us-ft");
}

TEST(FormatLength, carries_inches_into_feet) {
    const LengthStyle ft_in{LengthUnit::foot, true, 16};
    EXPECT_EQ(format_length((5.0 + 11.99 / 12.0) * kMetresPerFoot, ft_in), "6'-0\"");
    EXPECT_EQ(format_length((5.0 + (11.0 + 15.4 / 16.0) / 12.0) * kMetresPerFoot, ft_in),
              "5'-11 15/16\"");
}

TEST(FormatLength, zero_has_no_sign_and_odd_input_stays_readable) {
    const LengthStyle ft_in{LengthUnit::foot, true, 16};
    EXPECT_EQ(format_length(-0.0, {}), "0.000 m");
    EXPECT_EQ(format_length(-0.0001, {}), "0.000 m");
    EXPECT_EQ(format_length(-0.0001, ft_in), "0'-0\"");
    EXPECT_EQ(format_length(-0.0005001, {}), "-0.001 m");
    EXPECT_EQ(format_length(kNan, {}), "unknown");
    EXPECT_EQ(format_length(-kInf, ft_in), "unknown");
    EXPECT_EQ(format_small(kNan, ft_in), "unknown");
    EXPECT_EQ(format_length(0.3048 * 1.03125, {LengthUnit::foot, true, 0}), "1'-0 3/8\"");
    EXPECT_EQ(format_length(1e300, ft_in).find('\''), std::string::npos);
}

TEST(FormatSmall, each_style) {
    EXPECT_EQ(format_small(0.0032, {}), "3.2 mm");
    EXPECT_EQ(format_small(-0.0032, {LengthUnit::millimetre}), "-3.2 mm");
    EXPECT_EQ(format_small(-0.00001, {}), "0.0 mm");
    EXPECT_EQ(format_small(0.0032, {LengthUnit::foot}), "0.010 ft");
    EXPECT_EQ(format_small(0.0034, {LengthUnit::us_foot}), "0.011 us-ft");
    EXPECT_EQ(format_small(0.0032, {LengthUnit::inch}), "0.13 in");
}

TEST(FormatSmall, fractions_of_an_inch) {
    const LengthStyle ft_in{LengthUnit::foot, true, 16};
    EXPECT_EQ(format_small(0.0032, ft_in), "1/8 in");
    EXPECT_EQ(format_small(-0.0286, ft_in), "-1 1/8 in");
    EXPECT_EQ(format_small(0.0005, ft_in), "under 1/16 in");
    EXPECT_EQ(format_small(-0.0005, ft_in), "under 1/16 in");
    EXPECT_EQ(format_small(0.0, ft_in), "0 in");
    EXPECT_EQ(format_small(0.0254, ft_in), "1 in");
    EXPECT_EQ(format_small(0.0005, {LengthUnit::foot, true, 64}), "1/64 in");
    EXPECT_EQ(format_small(0.3048, ft_in), "1'-0\"");
    EXPECT_EQ(format_small(0.0032, {LengthUnit::metre, true, 16}), "1/8 in");
}

TEST(FormatLength, reads_back_within_half_the_last_place) {
    Random random(20240502);
    for (const auto unit : kAllUnits) {
        const double last = unit == LengthUnit::millimetre ? 0.1
                            : unit == LengthUnit::inch     ? 0.01
                                                           : 0.001;
        for (int i = 0; i < 500; ++i) {
            const double length_m = random.uniform(-700000.0, 700000.0);
            const std::string text = format_length(length_m, {unit});
            const auto back = parse_length(text, unit, {});
            ASSERT_TRUE(back.ok()) << text;
            EXPECT_NEAR(*back, length_m, 0.5 * last * metres_per(unit) + 5e-10) << text;
        }
    }
    for (const auto unit : {LengthUnit::foot, LengthUnit::us_foot}) {
        for (const int denominator : {2, 4, 8, 16, 32, 64}) {
            const LengthStyle style{unit, true, denominator};
            for (int i = 0; i < 300; ++i) {
                const double length_m = random.uniform(-100.0, 100.0);
                const std::string text = format_length(length_m, style);
                const auto back = parse_length(text, unit, {});
                ASSERT_TRUE(back.ok()) << text;
                EXPECT_NEAR(*back, length_m, 0.5 * metres_per(unit) / 12.0 / denominator + 1e-12)
                    << text;
                EXPECT_EQ(format_length(*back, style), text);
            }
        }
    }
}

TEST(ParseLength, random_bytes_never_surprise) {
    Random random(78);
    const std::string alphabet = "0123456789.-+ '\"/e,mft\xE2\x80\xB2";
    for (int i = 0; i < 20000; ++i) {
        std::string text;
        const int length = random.below(14);
        for (int j = 0; j < length; ++j) {
            text +=
                alphabet[static_cast<std::size_t>(random.below(static_cast<int>(alphabet.size())))];
        }
        const auto read = parse_length(text, LengthUnit::foot, {});
        if (read.ok()) {
            EXPECT_TRUE(std::isfinite(*read)) << text;
        } else {
            EXPECT_FALSE(read.refusal().expected.empty());
        }
    }
}

}  // namespace
}  // namespace layproof::measure
