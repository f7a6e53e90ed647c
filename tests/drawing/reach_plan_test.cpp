#include "drawing/reach_plan.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <variant>
#include <vector>

#include "base/random.hpp"
#include "drawing/svg_canvas.hpp"
#include "drawing/svg_fault.hpp"

namespace layproof::drawing {
namespace {

constexpr double kReachNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kReachInf = std::numeric_limits<double>::infinity();

/// Shapes of one kind in the group of this word; of the whole picture without one.
template <class Kind>
std::vector<Kind> shapes_in(const Picture& picture, const std::string& group = "") {
    std::vector<Kind> out;
    std::string now;
    for (const Shape& one : picture.shapes) {
        if (const auto* begin = std::get_if<shape::BeginGroup>(&one)) now = begin->kind;
        if (std::holds_alternative<shape::EndGroup>(one)) now.clear();
        if (const auto* found = std::get_if<Kind>(&one); found != nullptr && now == group)
            out.push_back(*found);
    }
    return out;
}

const shape::Text* text_named(const Picture& picture, const std::string& content) {
    for (const Shape& one : picture.shapes)
        if (const auto* text = std::get_if<shape::Text>(&one);
            text != nullptr && text->content == content)
            return text;
    return nullptr;
}

bool has_number_that_is_none(const Picture& picture) {
    const std::string svg = to_svg(picture);
    return svg.find("nan") != std::string::npos || svg.find("inf") != std::string::npos;
}

/// 20 m by 10 m of places; from each as many points as it lies metres east.
ReachDrawing slope() {
    ReachDrawing d;
    d.title = "Where to stand";
    d.west_m = 100.0;
    d.south_m = 200.0;
    d.step_m = 1.0;
    d.columns = 21;
    d.rows = 11;
    for (int r = 0; r < d.rows; ++r)
        for (int c = 0; c < d.columns; ++c) d.proven.push_back(static_cast<float>(c));
    d.setups = {{"S1", 104.0, 203.0}, {"S2", 116.0, 208.0}};
    d.marks = {{"H1", 100.0, 200.0}, {"H2", 120.0, 210.0}};
    d.points = {{102.0, 202.0, true}, {118.0, 209.0, false}};
    return d;
}

TEST(reach_plan, east_is_right_and_north_is_up_to_one_scale) {
    const Picture picture = draw_reach(slope());
    const shape::Text* one = text_named(picture, "S1");
    const shape::Text* two = text_named(picture, "S2");
    ASSERT_NE(one, nullptr);
    ASSERT_NE(two, nullptr);
    // 12 m east, 5 m north.
    const double by_east = (two->at.x - one->at.x) / 12.0;
    const double by_north = (one->at.y - two->at.y) / 5.0;
    EXPECT_GT(by_east, 0.0);
    EXPECT_NEAR(by_east, by_north, 1e-9);
}

TEST(reach_plan, bands_cover_every_place_from_which_something_is_proven) {
    const ReachDrawing d = slope();
    const Picture picture = draw_reach(d);
    const auto bands = shapes_in<shape::Rectangle>(picture, "bands");
    ASSERT_FALSE(bands.empty());
    const shape::Text* one = text_named(picture, "S1");
    const shape::Text* two = text_named(picture, "S2");
    const double scale = (two->at.x - one->at.x) / 12.0;
    double area = 0.0;
    for (const auto& band : bands) {
        area += band.width * scale;  // rows overlap by a hair: each is one place high
        EXPECT_NEAR(band.height, scale, 0.31);
    }
    // The first column proves nothing.
    EXPECT_NEAR(area, 20.0 * 11.0 * scale * scale, 1e-6 * area);
    // Darker the more is proven: 5 bands of 4 points, told in the key.
    std::vector<std::string> fills;
    for (const auto& band : bands)
        if (fills.empty() || fills.back() != band.stroke.fill) fills.emplace_back(band.stroke.fill);
    ASSERT_GE(fills.size(), 5U);
    EXPECT_LT(fills[4], fills[0]);
    for (const char* words : {"1 to 5", "5 to 10", "10 to 15", "15 to 20", "20 and more"})
        EXPECT_NE(text_named(picture, words), nullptr) << words;
}

TEST(reach_plan, contours_run_where_the_number_is_reached) {
    const ReachDrawing d = slope();
    const Picture picture = draw_reach(d);
    const auto lines = shapes_in<shape::Line>(picture, "contours");
    // Levels 5, 10, 15 and 20 between ten rows; the values do not change northwards.
    ASSERT_FALSE(lines.empty());
    const shape::Text* one = text_named(picture, "S1");
    const shape::Text* two = text_named(picture, "S2");
    const double scale = (two->at.x - one->at.x) / 12.0;
    std::vector<double> east;
    for (const auto& line : lines) {
        EXPECT_NEAR(line.a.x, line.b.x, 1e-6);
        east.push_back((line.a.x - one->at.x) / scale);
    }
    std::sort(east.begin(), east.end());
    east.erase(std::unique(east.begin(), east.end(),
                           [](double a, double b) { return std::abs(a - b) < 1e-6; }),
               east.end());
    ASSERT_GE(east.size(), 3U);
    for (std::size_t i = 1; i < east.size(); ++i) EXPECT_NEAR(east[i] - east[i - 1], 5.0, 1e-6);
}

TEST(reach_plan, no_line_and_no_band_where_nobody_can_stand) {
    ReachDrawing d = slope();
    for (std::size_t i = 0; i < d.proven.size(); ++i)
        if (i % 21 > 8) d.proven[i] = -1.0F;
    const Picture picture = draw_reach(d);
    const shape::Text* one = text_named(picture, "S1");
    const shape::Text* two = text_named(picture, "S2");
    const double scale = (two->at.x - one->at.x) / 12.0;
    const double edge = one->at.x - 12.0 + 4.5 * scale;  // 108.5 m; names stand 12 px to the right
    for (const auto& band : shapes_in<shape::Rectangle>(picture, "bands"))
        EXPECT_LE(band.corner.x + band.width, edge + 1e-6);
    for (const auto& line : shapes_in<shape::Line>(picture, "contours"))
        EXPECT_LE(std::max(line.a.x, line.b.x), edge + 1e-6);
}

TEST(reach_plan, marks_far_from_the_floor_do_not_make_it_small) {
    ReachDrawing d = slope();
    const double before = draw_reach(d).height;
    d.marks.push_back({"far", 5000.0, 5000.0});
    const Picture picture = draw_reach(d);
    EXPECT_DOUBLE_EQ(picture.height, before);
    EXPECT_EQ(text_named(picture, "far"), nullptr);
    EXPECT_NE(text_named(picture, "H2"), nullptr);
}

TEST(reach_plan, set_ups_are_joined_in_their_order) {
    ReachDrawing d = slope();
    d.setups.push_back({"S3", 110.0, 201.0});
    std::vector<shape::Line> walk;
    for (const auto& line : shapes_in<shape::Line>(draw_reach(d)))
        if (line.stroke.dash == "2 4") walk.push_back(line);
    ASSERT_EQ(walk.size(), 2U);
    EXPECT_EQ(walk[0].b.x, walk[1].a.x);
    EXPECT_EQ(walk[0].b.y, walk[1].a.y);
}

TEST(reach_plan, kinds_of_obstacle_look_different_without_colour) {
    ReachDrawing d = slope();
    ReachOutline box;
    box.east_m = {105.0, 107.0, 107.0, 105.0};
    box.north_m = {205.0, 205.0, 206.0, 206.0};
    ReachOutline round;
    round.centre_east_m = 110.0;
    round.centre_north_m = 205.0;
    round.radius_m = 0.5;
    round.is_low = true;
    ReachOutline no_go = box;
    no_go.is_no_go = true;
    d.obstacles = {box, round, no_go};
    const Picture picture = draw_reach(d);
    const auto boxes = shapes_in<shape::Polygon>(picture, "obstacles");
    const auto circles = shapes_in<shape::Circle>(picture, "obstacles");
    ASSERT_EQ(boxes.size(), 2U);
    ASSERT_EQ(circles.size(), 1U);
    EXPECT_EQ(boxes[0].corners.size(), 4U);
    EXPECT_EQ(boxes[1].stroke.fill, "none");
    EXPECT_FALSE(boxes[1].stroke.dash.empty());
    EXPECT_NE(boxes[0].stroke.fill, circles[0].stroke.fill);
}

TEST(reach_plan, counted_points_are_filled_and_others_open) {
    std::vector<shape::Circle> dots;
    for (const auto& circle : shapes_in<shape::Circle>(draw_reach(slope())))
        if (circle.radius == 2.6) dots.push_back(circle);
    ASSERT_GE(dots.size(), 2U);
    EXPECT_EQ(dots[0].stroke.fill, dots[0].stroke.colour);
    EXPECT_EQ(dots[1].stroke.fill, ink::kPaper);
}

TEST(reach_plan, degenerate_input_is_a_good_sheet_without_nan) {
    std::vector<ReachDrawing> cases(9, slope());
    cases[0] = ReachDrawing{};
    cases[1].setups = {{"N", kReachNan, 1.0}, {"I", kReachInf, 2.0}, {"S", 104.0, 203.0}};
    cases[2].marks = {{"N", kReachNan, kReachNan}};
    cases[3].points = {{kReachNan, 1.0, true}, {1.0, -kReachInf, false}};
    cases[4].proven.assign(cases[4].proven.size(), std::numeric_limits<float>::quiet_NaN());
    cases[5].proven.pop_back();  // does not fit the places: no bands
    cases[6].step_m = kReachNan;
    cases[7].width_px = kReachNan;
    cases[8].obstacles.push_back({{kReachNan, 1.0}, {2.0}, kReachNan, 0.0, kReachInf, true, true});
    for (std::size_t i = 0; i < cases.size(); ++i) {
        const Picture picture = draw_reach(cases[i]);
        EXPECT_TRUE(std::isfinite(picture.width) && picture.width >= 320.0) << i;
        EXPECT_TRUE(std::isfinite(picture.height) && picture.height > 0.0) << i;
        EXPECT_LT(picture.height, 5000.0) << i;
        EXPECT_FALSE(has_number_that_is_none(picture)) << i;
        EXPECT_EQ(fault_in(to_svg(picture)), "") << i;
    }
}

TEST(reach_plan, names_of_any_bytes_are_good_text) {
    ReachDrawing d = slope();
    d.title = "<b>& \"quoted\"";
    d.setups[0].name = "\xff\xfe<";
    d.marks[0].name = "柱 عمود";
    d.cautions = {"a & b"};
    EXPECT_EQ(fault_in(to_svg(draw_reach(d))), "");
}

TEST(reach_plan, same_drawing_gives_same_text_whatever_the_size) {
    Random random(5);
    for (int i = 0; i < 20; ++i) {
        ReachDrawing d = slope();
        d.width_px = random.uniform(300.0, 2500.0);
        for (float& p : d.proven) p = static_cast<float>(random.uniform(-5.0, 60.0));
        const Picture picture = draw_reach(d);
        EXPECT_EQ(to_svg(picture), to_svg(draw_reach(d)));
        for (const auto& band : shapes_in<shape::Rectangle>(picture, "bands")) {
            EXPECT_GE(band.corner.x, 0.0);
            EXPECT_LE(band.corner.x + band.width, picture.width);
            EXPECT_LE(band.corner.y + band.height, picture.height);
        }
    }
}

}  // namespace
}  // namespace layproof::drawing
