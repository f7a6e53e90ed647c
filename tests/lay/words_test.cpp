// Building grid, moves, and what they are called in the field.

#include <gtest/gtest.h>

#include "base/random.hpp"
#include "lay/building_grid.hpp"
#include "lay/field_length.hpp"
#include "lay/lay_support.hpp"
#include "lay/move_words.hpp"

namespace layproof::lay {
namespace {

using Eigen::Vector2d;
using measure::LengthStyle;
using measure::LengthUnit;

constexpr double kIn = 0.0254;
constexpr double kFt = 0.3048;

LengthStyle inches() {
    return {LengthUnit::foot, true, 16};
}

frame::GridLine line(std::string name, double e1, double n1, double e2, double n2,
                     std::string family = "") {
    frame::GridLine out;
    out.name = std::move(name);
    out.family = std::move(family);
    out.start_m << e1, n1;
    out.end_m << e2, n2;
    return out;
}

/// A, B, C run north at 0, 10, 20 m east; 3, 4, 5 run east at 0, 8, 16 m north.
BuildingGrid grid() {
    return BuildingGrid({line("A", 0, 0, 0, 16), line("B", 10, 0, 10, 16), line("C", 20, 0, 20, 16),
                         line("3", 0, 0, 20, 0), line("4", 0, 8, 20, 8), line("5", 20, 16, 0, 16)});
}

std::string move_words(const Vector2d& laid, const Vector2d& design, const LengthStyle& style,
                       const BuildingGrid& g = grid()) {
    MoveQuestion q;
    q.laid_m = laid;
    q.design_m = design;
    q.grid = &g;
    q.style = style;
    return move_of(q).words;
}

TEST(BuildingGrid, crossing_has_the_names_of_both_lines) {
    EXPECT_EQ(grid().position({10, 8}, {})->words, "B/4");
    EXPECT_EQ(grid().position({10.0002, 7.9998}, {})->words, "B/4");
}

TEST(BuildingGrid, place_off_the_lines_is_told_toward_the_next) {
    const LengthStyle style = inches();
    EXPECT_EQ(grid().position({10 + 14.5 * kIn, 8 + 3 * kFt}, style)->words,
              "1'-2 1/2\" from B toward C, 3'-0\" from 4 toward 5");
    EXPECT_EQ(grid().position({10, 8 - 3 * kFt}, style)->words, "on B, 3'-0\" from 4 toward 3");
    EXPECT_EQ(grid().position({20.5, 16}, {})->words, "on 5, 0.500 m from C east");
    EXPECT_EQ(grid().position({19, -0.25}, {})->words,
              "1.000 m from C toward B, 0.250 m from 3 south");
}

TEST(BuildingGrid, families_are_told_by_direction_unless_stated) {
    EXPECT_EQ(grid().family(0), grid().family(2));
    EXPECT_EQ(grid().family(3), grid().family(5));
    EXPECT_NE(grid().family(0), grid().family(3));
    const BuildingGrid stated({line("A", 0, 0, 0, 9, "x"), line("B", 5, 0, 5, 9, "y")});
    EXPECT_NE(stated.family(0), stated.family(1));
    EXPECT_FALSE(stated.position({1, 1}, {}).has_value());  // they do not cross
}

TEST(BuildingGrid, without_lines_nothing_is_said) {
    EXPECT_TRUE(BuildingGrid{}.is_empty());
    EXPECT_FALSE(BuildingGrid{}.position({1, 1}, {}).has_value());
    EXPECT_TRUE(BuildingGrid{}.offsets({1, 1}).empty());
    const BuildingGrid broken({line("A", 1, 1, 1, 1), line("B", testing::kNan, 0, 1, 1)});
    EXPECT_TRUE(broken.is_empty());
    EXPECT_TRUE(grid().offsets({testing::kNan, 0}).empty());
    EXPECT_EQ(grid().find("B"), 1);
    EXPECT_EQ(grid().find("Z"), -1);
}

TEST(BuildingGrid, side_of_an_outer_line_is_a_compass_word) {
    EXPECT_EQ(grid().side_name(0, {-1, 0}), "west");
    EXPECT_EQ(grid().side_name(0, {1, 0}), "toward B");
    EXPECT_EQ(compass_word({1, 1}), "north-east");
    EXPECT_EQ(compass_word({-0.1, 1}), "north");
    EXPECT_EQ(compass_word({-1, -1}), "south-west");
    EXPECT_EQ(compass_word({0, 0}), "north");
}

TEST(Move, is_the_opposite_of_the_deviation_in_fractions) {
    // Laid 1/4 in past B and 1/8 in past 4: both back.
    EXPECT_EQ(move_words({10 + kIn / 4, 8 + kIn / 8}, {10, 8}, inches()),
              "1/4 in toward B, 1/8 in toward 4");
    EXPECT_EQ(move_words({10 - kIn / 4, 8}, {10, 8}, inches()), "1/4 in toward B");
}

TEST(Move, away_from_a_line_is_named_by_the_next_one) {
    // Design 2 ft east of B, laid 1/2 in too near: away from B is toward C.
    EXPECT_EQ(move_words({10 + 2 * kFt - kIn / 2, 8}, {10 + 2 * kFt, 8}, inches()),
              "1/2 in toward C");
    // No line further east of C.
    EXPECT_EQ(move_words({20 + 2 * kFt - kIn / 2, 8}, {20 + 2 * kFt, 8}, inches()),
              "1/2 in away from C");
    EXPECT_EQ(move_words({20, 8}, {20.004, 8}, {}), "4 mm east");
}

TEST(Move, below_half_a_fraction_is_on_the_mark) {
    EXPECT_EQ(move_words({10 + kIn / 33, 8 - kIn / 33}, {10, 8}, inches()), "on the mark");
    EXPECT_EQ(move_words({10 + kIn / 31, 8}, {10, 8}, inches()), "1/16 in toward B");
    LengthStyle eighths = inches();
    eighths.denominator = 8;
    EXPECT_EQ(move_words({10 + kIn / 17, 8}, {10, 8}, eighths), "on the mark");
    EXPECT_EQ(move_words({10.0004, 8}, {10, 8}, {}), "on the mark");
}

TEST(Move, without_grid_is_told_as_the_instrument_looks) {
    MoveQuestion q;
    q.instrument_m = Vector2d(0, 0);
    q.design_m << 0, 20;
    q.laid_m << -0.003, 19.994;  // 6 mm short, 3 mm left
    EXPECT_EQ(move_of(q).words,
              "6 mm away from the instrument, 3 mm right as the instrument looks");
    q.laid_m << 0.003, 20.006;
    EXPECT_EQ(move_of(q).words, "6 mm toward the instrument, 3 mm left as the instrument looks");
    q.raise_m = -0.012;
    EXPECT_NE(move_of(q).words.find("12 mm down"), std::string::npos);
    q.instrument_m.reset();
    q.raise_m.reset();
    EXPECT_EQ(move_of(q).words, "6 mm south, 3 mm west");
    // Over the instrument no line of sight says where right is.
    q.instrument_m = Vector2d(0, 20);
    EXPECT_EQ(move_of(q).words, "6 mm south, 3 mm west");
}

TEST(Move, not_finite_is_unknown) {
    MoveQuestion q;
    q.laid_m << testing::kNan, 0;
    const Move move = move_of(q);
    EXPECT_EQ(move.words, "unknown");
    EXPECT_FALSE(move.is_on_the_mark);
}

// Following the words as written must end on the design place, also where lines cross askew.
TEST(Move, parts_followed_along_the_lines_reach_the_design) {
    const BuildingGrid skew({line("B", 0, 0, 0, 30), line("C", 12, 0, 12, 30),
                             line("1", 0, 0, 20, 12), line("2", 0, 9, 20, 21)});
    Random random(7);
    for (int i = 0; i < 200; ++i) {
        const Vector2d design(random.uniform(0.0, 12.0), random.uniform(5.0, 12.0));
        const Vector2d laid = design + 0.02 * Vector2d(random.normal(), random.normal());
        MoveQuestion q;
        q.laid_m = laid;
        q.design_m = design;
        q.grid = &skew;
        const auto position = skew.position(design, {});
        ASSERT_TRUE(position.has_value());
        Vector2d at = laid;
        for (const MovePart& part : move_of(q).parts) {
            // "toward X along Y"
            const auto along = part.toward.find(" along ");
            ASSERT_NE(along, std::string::npos) << part.toward;
            const auto& runs =
                skew.lines()[static_cast<std::size_t>(skew.find(part.toward.substr(along + 7)))];
            const std::string lead = part.toward.substr(0, along);
            Vector2d direction = frame::direction_of(runs);
            double sign = 1.0;
            if (lead.starts_with("toward ") || lead.starts_with("away from ")) {
                const bool away = lead.starts_with("away");
                const auto& to =
                    skew.lines()[static_cast<std::size_t>(skew.find(lead.substr(away ? 10 : 7)))];
                const Vector2d foot = frame::foot_on(to, laid);
                sign = direction.dot(foot - laid) * (away ? -1.0 : 1.0) > 0.0 ? 1.0 : -1.0;
            } else {
                const bool east = lead.find("east") != std::string::npos;
                const bool west = lead.find("west") != std::string::npos;
                const bool south = lead.find("south") != std::string::npos;
                const Vector2d compass(east   ? 1
                                       : west ? -1
                                              : 0,
                                       lead.find("north") != std::string::npos ? 1
                                       : south                                 ? -1
                                                                               : 0);
                sign = direction.dot(compass) > 0.0 ? 1.0 : -1.0;
            }
            at += sign * part.length_m * direction;
        }
        // Parts below half a millimetre are left out.
        EXPECT_LT((at - design).norm(), 0.0012) << move_of(q).words;
    }
}

TEST(FieldLength, steps_follow_the_unit) {
    EXPECT_EQ(field_length(-kIn * 3 / 8, inches()), "3/8 in");
    EXPECT_EQ(field_length(0.0064, {}), "6 mm");
    EXPECT_EQ(field_length(1.2504, {}), "1.250 m");
    EXPECT_EQ(field_length(0.0151 * kFt, {LengthUnit::foot, false, 16}), "0.015 ft");
    EXPECT_EQ(field_length(0.26 * kIn, {LengthUnit::inch, false, 16}), "0.25 in");
    EXPECT_EQ(field_length(testing::kNan, {}), "unknown");
    EXPECT_TRUE(rounds_to_zero(testing::kNan, {}));
    EXPECT_FALSE(rounds_to_zero(-0.0006, {}));
    LengthStyle odd = inches();
    odd.denominator = 7;
    EXPECT_DOUBLE_EQ(step_of(odd), kIn / 16);
}

}  // namespace
}  // namespace layproof::lay
