#include <gtest/gtest.h>

#include "acts/shared/text_table.hpp"
#include "acts/shared/words.hpp"
#include "measure/angle.hpp"

namespace layproof::acts::internal {
namespace {

const measure::LengthStyle kMetres;
const measure::LengthStyle kFeet{measure::LengthUnit::foot, false, 16};
const measure::LengthStyle kFeetInches{measure::LengthUnit::foot, true, 16};

TEST(compass, names_the_nearest_of_eight) {
    const double deg = measure::kRadPerDeg;
    EXPECT_EQ(compass(0.0), "north");
    EXPECT_EQ(compass(44.0 * deg), "north-east");
    EXPECT_EQ(compass(-90.0 * deg), "west");
    EXPECT_EQ(compass(359.0 * deg), "north");
    EXPECT_EQ(compass_line(0.0), "north to south");
    EXPECT_EQ(compass_line(225.0 * deg), "north-east to south-west");
    EXPECT_EQ(compass_line(179.0 * deg), "north to south");
    EXPECT_EQ(compass_line(135.0 * deg), "south-east to north-west");
}

TEST(tolerance, is_shown_as_it_was_agreed) {
    EXPECT_EQ(tolerance(0.00635, kMetres), "6.35 mm");
    EXPECT_EQ(tolerance(0.010, kMetres), "10 mm");
    EXPECT_EQ(tolerance(0.00635, kFeetInches), "1/4 in");
}

TEST(signed_small, has_a_sign_unless_it_is_zero) {
    EXPECT_EQ(signed_small(0.0012, kMetres), "+1.2 mm");
    EXPECT_EQ(signed_small(-0.0012, kMetres), "-1.2 mm");
    EXPECT_EQ(signed_small(0.00001, kMetres), "0.0 mm");
    EXPECT_EQ(signed_small(0.0061, kFeet), "+0.020 ft");
    EXPECT_EQ(signed_small(0.0032, kFeetInches), "+1/8 in");
    EXPECT_EQ(signed_small(0.0001, kFeetInches), "under 1/16 in");
}

TEST(listed, joins_and_cuts) {
    EXPECT_EQ(listed({}), "");
    EXPECT_EQ(listed({"A"}), "A");
    EXPECT_EQ(listed({"A", "B"}), "A and B");
    EXPECT_EQ(listed({"A", "B", "C"}), "A, B and C");
    EXPECT_EQ(listed({"A", "B", "C", "D"}, 2), "A, B and 2 more");
}

TEST(count, has_its_plural) {
    EXPECT_EQ(count(1, "point"), "1 point");
    EXPECT_EQ(count(0, "point"), "0 points");
}

TEST(wrapped, keeps_the_width_and_a_figure_with_its_unit) {
    std::string text;
    for (int i = 0; i < 60; ++i) text += "word 12.5 mm ";
    std::size_t from = 0;
    const std::string out = wrapped(text, 2);
    while (from < out.size()) {
        const std::size_t to = out.find('\n', from);
        const std::string line = out.substr(from, to - from);
        EXPECT_LE(line.size(), kTextWidth);
        EXPECT_NE(line.substr(2, 2), "mm") << line;
        from = to + 1;
    }
}

TEST(text_table, aligns_by_characters_not_bytes) {
    TextTable table({"Mark", "off"});
    table.add({"Ä1", "1.0 mm"});
    table.add({"B22", "10.0 mm"});
    EXPECT_EQ(table.to_text(),
              "  Mark      off\n"
              "  Ä1     1.0 mm\n"
              "  B22   10.0 mm\n");
}

}  // namespace
}  // namespace layproof::acts::internal
