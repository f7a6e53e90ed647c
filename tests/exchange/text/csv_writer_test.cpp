#include "exchange/text/csv_writer.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "base/random.hpp"
#include "exchange/text/number.hpp"

namespace layproof::exchange {
namespace {

TEST(CsvWriter, fields_are_quoted_only_where_needed) {
    EXPECT_EQ(csv_field("H1"), "H1");
    EXPECT_EQ(csv_field("a b"), "a b");
    EXPECT_EQ(csv_field("a,b"), "\"a,b\"");
    EXPECT_EQ(csv_field("6'-0 1/2\""), "\"6'-0 1/2\"\"\"");
    EXPECT_EQ(csv_field("two\nlines"), "\"two\nlines\"");
    EXPECT_EQ(csv_field("#5"), "\"#5\"");
    EXPECT_EQ(csv_field(" a"), "\" a\"");
    EXPECT_EQ(csv_field(""), "");
}

TEST(CsvWriter, numbers_read_back_as_the_same_double_and_have_no_exponent) {
    EXPECT_EQ(plain_number(0.1), "0.1");
    EXPECT_EQ(plain_number(-3.0), "-3");
    EXPECT_EQ(plain_number(-0.0), "0");
    EXPECT_EQ(plain_number(1e-5), "0.00001");
    EXPECT_EQ(plain_number(-1.25e-12), "-0.00000000000125");
    EXPECT_EQ(plain_number(1e20), "100000000000000000000");
    EXPECT_EQ(plain_number(609601.2192), "609601.2192");
    Random random(20260304);
    for (int i = 0; i < 2000; ++i) {
        const double value = random.normal() * std::pow(10.0, random.below(40) - 20);
        const std::string text = plain_number(value);
        EXPECT_EQ(text.find('e'), std::string::npos) << text;
        EXPECT_EQ(*parse_number(text, {}), value) << text;
    }
}

TEST(CsvWriter, rows_are_separated_by_commas_and_lf) {
    CsvWriter writer;
    writer.text("a").text("b").end_row();
    writer.blank().number(1.25).number(2.0, 3).end_row();
    EXPECT_EQ(writer.str(), "a,b\n,1.25,2.000\n");
}

}  // namespace
}  // namespace layproof::exchange
