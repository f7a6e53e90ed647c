#include "drawing/label_layout_internal.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

namespace layproof::drawing {
namespace {

TEST(LabelLayout, first_label_stands_right_of_its_symbol) {
    LabelLayout layout({0, 0, 200, 200});
    layout.block({92, 92, 108, 108}, Cover::symbol, 1);
    const auto placed = layout.place({100, 100, 6, 1}, 30, 12, 1);
    ASSERT_TRUE(placed);
    EXPECT_GT(placed->box.left, 105.0);
    EXPECT_DOUBLE_EQ(placed->box.top + placed->box.bottom, 200.0);  // centred on the symbol
    EXPECT_FALSE(placed->needs_leader);
}

TEST(LabelLayout, label_above_is_centred_on_its_symbol) {
    // Lines on both sides leave a lane that is as wide as the label.
    LabelLayout layout({0, 0, 200, 200});
    layout.block({0, 0, 80, 200}, Cover::line);
    layout.block({120, 0, 200, 200}, Cover::line);
    const auto placed = layout.place({100, 100, 6, 1}, 38, 12, 1);
    ASSERT_TRUE(placed);
    EXPECT_DOUBLE_EQ(placed->box.left + placed->box.right, 200.0);
}

TEST(LabelLayout, placed_labels_never_overlap_and_stay_inside) {
    const Box frame{0, 0, 300, 200};
    LabelLayout layout(frame);
    std::vector<Box> boxes;
    for (int i = 0; i < 60; ++i) {
        const double x = 10.0 + 37.0 * (i % 8);
        const double y = 10.0 + 23.0 * (i / 8);
        const auto placed = layout.place({x, y, 4, -1}, 34, 12, 5);
        if (placed) boxes.push_back(placed->box);
    }
    EXPECT_GT(boxes.size(), 30u);
    for (std::size_t i = 0; i < boxes.size(); ++i) {
        EXPECT_GE(boxes[i].left, frame.left);
        EXPECT_LE(boxes[i].right, frame.right);
        EXPECT_GE(boxes[i].top, frame.top);
        EXPECT_LE(boxes[i].bottom, frame.bottom);
        for (std::size_t j = 0; j < i; ++j) EXPECT_FALSE(boxes[i].overlaps(boxes[j]));
    }
}

TEST(LabelLayout, full_frame_gives_nothing_and_place_anyway_the_least_harm) {
    LabelLayout layout({0, 0, 100, 40});
    layout.block({0, 0, 100, 40}, Cover::line);
    layout.block({50, 0, 100, 40}, Cover::label);
    EXPECT_FALSE(layout.place({50, 20, 2, -1}, 20, 10, 3));
    const PlacedLabel forced = layout.place_anyway({50, 20, 2, -1}, 20, 10, 3);
    EXPECT_LE(forced.box.right, 50.0);  // over the line rather than over the label
}

TEST(LabelLayout, leader_does_not_cross_a_strange_symbol) {
    LabelLayout layout({0, 0, 400, 400});
    // Lines take everything near, and a wall of symbols stands on the right.
    layout.block({180, 180, 220, 220}, Cover::line);
    layout.block({225, 100, 235, 300}, Cover::symbol, 7);
    const auto placed = layout.place({200, 200, 4, 1}, 20, 10, 7);
    ASSERT_TRUE(placed);
    EXPECT_LE(placed->box.right, 225.0);
}

TEST(TextWidth, grows_with_size_and_wide_letters) {
    EXPECT_LT(text_width("iii", 12.0), text_width("WWW", 12.0));
    EXPECT_DOUBLE_EQ(text_width("abc", 24.0), 2.0 * text_width("abc", 12.0));
    EXPECT_GT(text_width("東", 12.0), 11.0);
    EXPECT_EQ(text_width("", 12.0), 0.0);
}

TEST(WrapText, lines_fit_and_lose_nothing) {
    const std::string text =
        "Sight H4 again with the rod on its bipod and averyverylongwordwithoutblanks";
    const auto lines = wrap_text(text, 12.0, 90.0);
    EXPECT_GT(lines.size(), 3u);
    std::string joined;
    for (const auto& line : lines) {
        EXPECT_LE(text_width(line, 12.0), 90.0) << line;
        for (const char c : line) {
            if (c != ' ') joined += c;
        }
    }
    std::string expected;
    for (const char c : text) {
        if (c != ' ') expected += c;
    }
    EXPECT_EQ(joined, expected);
    EXPECT_TRUE(wrap_text("   ", 12.0, 90.0).empty());
    EXPECT_EQ(wrap_text("W", 12.0, 1.0).size(), 1u);  // narrower than a letter: still ends
}

}  // namespace
}  // namespace layproof::drawing
