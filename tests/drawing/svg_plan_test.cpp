#include "drawing/svg_plan.hpp"

#include <gtest/gtest.h>

#include <cctype>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <regex>
#include <string>
#include <vector>

#include "base/random.hpp"
#include "drawing/svg_fault.hpp"

namespace layproof::drawing {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInf = std::numeric_limits<double>::infinity();

/// No number written as nan or inf in any attribute.
bool has_bad_number(const std::string& svg) {
    static const std::regex bad("[=\" (,](-?nan|-?inf)[\" ),]");
    return std::regex_search(svg, bad);
}

std::string group(const std::string& svg, const std::string& kind, std::size_t nth = 0) {
    std::size_t at = 0;
    for (std::size_t k = 0; k <= nth; ++k) {
        at = svg.find("<g data-kind=\"" + kind + "\">", k == 0 ? 0 : at + 1);
        if (at == std::string::npos) return "";
    }
    return svg.substr(at, svg.find("</g>", at) - at);
}

std::vector<double> numbers(const std::string& text, const std::string& pattern) {
    std::smatch match;
    std::vector<double> result;
    if (!std::regex_search(text, match, std::regex(pattern))) return result;
    for (std::size_t i = 1; i < match.size(); ++i) result.push_back(std::stod(match[i]));
    return result;
}

/// Length of the framed bar in a scale group.
double bar_length(const std::string& svg, const std::string& kind) {
    const auto n = numbers(group(svg, kind), "width=\"([0-9.]+)\" height=\"4\" fill=\"none\"");
    return n.empty() ? 0.0 : n[0];
}

int count(const std::string& text, const std::string& what) {
    int n = 0;
    for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) {
        ++n;
    }
    return n;
}

PlanDrawing small_site() {
    PlanDrawing d;
    d.title = "Set-up S1";
    d.job_lines = {"Invented hall, level 1"};
    d.remark = "Invented data";
    d.cautions = {"Two marks only: swapped names would not be seen."};
    d.marks = {{"H1", 0.0, 0.0, true, PlanVector{0.003, -0.004}, PlanEllipse{0.004, 0.002, 0.5}},
               {"H2", 60.0, 0.0, true, PlanVector{-0.001, 0.001}, std::nullopt},
               {"H3", 30.0, 50.0, false, std::nullopt, PlanEllipse{0.003, 0.003, 0.0}}};
    d.stations = {{"S1", 30.0, 20.0, PlanEllipse{0.002, 0.001, 1.0}}};
    d.sights = {{0, 0, PlanSightKind::control}, {0, 1, PlanSightKind::check}, {0, 99}, {7, 0}};
    d.points = {{"P1", 10.0, 10.0, PlanWord::proven, 0.98},
                {"P2", 20.0, 30.0, PlanWord::in_doubt, 0.7},
                {"P3", 40.0, 30.0, PlanWord::fails, 0.01},
                {"P4", 50.0, 10.0, PlanWord::to_lay, std::nullopt}};
    d.grid_lines = {{"A", -1000.0, 10.0, 1000.0, 10.0}, {"1", 10.0, -1000.0, 10.0, 1000.0}};
    return d;
}

TEST(SvgPlan, site_is_well_formed_and_says_everything_in_words) {
    for (const double width : {320.0, 390.0, 768.0, 1280.0}) {
        PlanDrawing d = small_site();
        d.width_px = width;
        const std::string svg = draw_plan_svg(d);
        EXPECT_EQ(fault_in(svg), "");
        EXPECT_FALSE(has_bad_number(svg));
        for (const char* words :
             {"Set-up S1", "Invented hall", "Invented data", "Caution: Two marks",
              "mark, set aside", "1 point: proven", "1 point: in doubt", "1 point: fails",
              "to lay, no verdict yet", "set aside", "control sight", "check sight", "95 % ellipse",
              ">N<"}) {
            EXPECT_NE(svg.find(words), std::string::npos) << words << " at " << width;
        }
        EXPECT_NE(svg.find("viewBox=\"0 0 " + std::to_string(static_cast<int>(width)) + " "),
                  std::string::npos);
    }
}

TEST(SvgPlan, sights_of_several_rounds_are_drawn_once_and_a_check_beside_them) {
    PlanDrawing d = small_site();
    d.sights = {{0, 0, PlanSightKind::control}};
    const std::string once = draw_plan_svg(d);
    d.sights.push_back({0, 0, PlanSightKind::control});
    EXPECT_EQ(draw_plan_svg(d), once);
    d.sights.push_back({0, 0, PlanSightKind::check});
    const std::string with_check = draw_plan_svg(d);
    const std::string pattern =
        "<line x1=\"([0-9.]+)\" y1=\"([0-9.]+)\" x2=\"([0-9.]+)\" y2=\"([0-9.]+)\" fill=\"none\" "
        "stroke=\"#8b96a1\" stroke-width=";
    const auto control = numbers(once, pattern + "\"1\"/>");
    const auto check = numbers(with_check, pattern + "\"1.2\" stroke-dasharray=\"2 4\"/>");
    ASSERT_EQ(control.size(), 4u);
    ASSERT_EQ(check.size(), 4u);
    EXPECT_NEAR(std::hypot(check[0] - control[0], check[1] - control[1]), 3.5, 0.02);
    EXPECT_NEAR(std::hypot(check[2] - control[2], check[3] - control[3]), 3.5, 0.02);
}

TEST(SvgPlan, word_shared_by_most_points_is_left_to_sign_and_key) {
    PlanDrawing d;
    for (int i = 0; i < 40; ++i) {
        d.points.push_back({"P" + std::to_string(i), 10.0 * (i % 8), 10.0 * (i / 8),
                            i < 3 ? PlanWord::fails : PlanWord::in_doubt, 0.5});
    }
    const std::string svg = draw_plan_svg(d);
    EXPECT_EQ(count(svg, ">in doubt, 50.0 % within</text>"), 0);
    EXPECT_EQ(count(svg, ">fails, 50.0 % within</text>"), 3);
    EXPECT_EQ(count(svg, ": in doubt, 50.0 % probable"), 37);  // in the titles still
    EXPECT_NE(svg.find("37 points: in doubt"), std::string::npos);
}

TEST(SvgPlan, same_data_give_the_same_text) {
    EXPECT_EQ(draw_plan_svg(small_site()), draw_plan_svg(small_site()));
}

TEST(SvgPlan, no_script_no_reference_no_id) {
    const std::string svg = draw_plan_svg(small_site());
    for (const char* word : {"<script", "href", "url(", "@import", " id=", "<style", "onload"}) {
        EXPECT_EQ(svg.find(word), std::string::npos) << word;
    }
}

TEST(SvgPlan, names_with_markup_are_escaped) {
    PlanDrawing d = small_site();
    const std::string nasty = "<&>\"'</text><script>";
    d.title = nasty;
    d.job_lines = {nasty};
    d.remark = nasty;
    d.cautions = {nasty};
    for (auto& m : d.marks) m.name = nasty;
    for (auto& s : d.stations) s.name = nasty;
    for (auto& p : d.points) p.name = nasty;
    for (auto& g : d.grid_lines) g.name = nasty;
    const std::string svg = draw_plan_svg(d);
    EXPECT_EQ(fault_in(svg), "");
    EXPECT_EQ(svg.find("<script"), std::string::npos);
    d.marks[0].name = "\xFF\x01 東";
    EXPECT_EQ(fault_in(draw_plan_svg(d)), "");
}

TEST(SvgPlan, misfit_arrow_agrees_with_its_bar) {
    PlanDrawing d = small_site();
    const std::string svg = draw_plan_svg(d);
    // H1 is off by 5 mm: towards south-east, so its tip is right of and below the mark.
    const std::string mark = group(svg, "mark");
    const auto shaft = numbers(mark, "<line x1=\"([0-9.]+)\" y1=\"([0-9.]+)\"");
    const auto heads =
        numbers(mark.substr(mark.find("<line")), "<polygon points=\"([0-9.]+),([0-9.]+) ");
    ASSERT_EQ(shaft.size(), 2u);
    ASSERT_EQ(heads.size(), 2u);
    const double drawn = std::hypot(heads[0] - shaft[0], heads[1] - shaft[1]);
    EXPECT_NEAR((heads[0] - shaft[0]) / drawn, 0.6, 0.01);
    EXPECT_NEAR((heads[1] - shaft[1]) / drawn, 0.8, 0.01);
    const auto bar_mm = numbers(svg, ">([0-9.]+) mm for misfits and ellipses<");
    ASSERT_EQ(bar_mm.size(), 1u);
    EXPECT_NEAR(drawn / bar_length(svg, "misfit-bar"), 5.0 / bar_mm[0], 0.002);
    // The ellipse at its tip has the same scale.
    const auto ellipse = numbers(svg, "<ellipse rx=\"([0-9.]+)\" ry=\"([0-9.]+)\"");
    ASSERT_EQ(ellipse.size(), 2u);
    EXPECT_NEAR(ellipse[1] / ellipse[0], 2.0, 0.01);
}

TEST(SvgPlan, plan_bar_agrees_with_the_distance_of_two_marks) {
    for (const auto& style : {measure::LengthStyle{measure::LengthUnit::metre, false, 16},
                              measure::LengthStyle{measure::LengthUnit::foot, true, 16},
                              measure::LengthStyle{measure::LengthUnit::us_foot, false, 16}}) {
        PlanDrawing d = small_site();
        d.style = style;
        const std::string svg = draw_plan_svg(d);
        const auto x_of = [&](std::size_t nth) {
            return numbers(group(svg, "mark", nth), "<polygon points=\"([0-9.]+),")[0];
        };
        const auto bar = numbers(svg, ">([0-9.]+) (?:m|ft|us-ft) on the plan<");
        ASSERT_EQ(bar.size(), 1u);
        const double bar_m = bar[0] * measure::metres_per(style.unit);
        EXPECT_NEAR((x_of(1) - x_of(0)) / bar_length(svg, "plan-bar"), 60.0 / bar_m, 0.002);
    }
}

TEST(SvgPlan, words_have_shapes_of_their_own) {
    const std::string svg = draw_plan_svg(small_site());
    std::vector<std::string> shapes;
    for (std::size_t i = 0; i < 4; ++i) {
        std::string shape = group(svg, "point", i);
        // Element names and whether they are filled, without colour, place and text.
        shape = std::regex_replace(shape, std::regex("<title>.*</title>"), "");
        shape = std::regex_replace(shape, std::regex("\"#ffffff\""), "paper");
        shape = std::regex_replace(shape, std::regex("\"[^\"]*\""), "");
        shapes.push_back(shape);
        ASSERT_FALSE(shape.empty());
        for (std::size_t k = 0; k < i; ++k) EXPECT_NE(shapes[k], shapes[i]);
    }
}

TEST(SvgPlan, gross_misfit_is_cut_and_says_so) {
    PlanDrawing d = small_site();
    d.marks[0].misfit = PlanVector{12.0, 3.0};
    const std::string svg = draw_plan_svg(d);
    EXPECT_NE(svg.find(", cut"), std::string::npos);
    EXPECT_NE(svg.find("misfit, far longer"), std::string::npos);
    EXPECT_EQ(draw_plan_svg(small_site()).find(", cut"), std::string::npos);
}

TEST(SvgPlan, misfits_and_ellipses_stay_on_the_sheet) {
    Random random(51);
    for (int run = 0; run < 60; ++run) {
        PlanDrawing d = small_site();
        d.width_px = random.uniform(320.0, 1400.0);
        for (auto& m : d.marks) {
            m.misfit = PlanVector{0.01 * random.normal(), 0.01 * random.normal()};
            m.ellipse_95 = PlanEllipse{0.006, 0.003, random.uniform(0.0, 3.0)};
        }
        const std::string svg = draw_plan_svg(d);
        const auto frame = numbers(svg,
                                   "<rect x=\"([0-9.]+)\" y=\"([0-9.]+)\" width=\"([0-9.]+)\" "
                                   "height=\"([0-9.]+)\" fill=\"#f3f5f4\"/>");
        ASSERT_EQ(frame.size(), 4u);
        static const std::regex tip("translate\\(([0-9.-]+) ([0-9.-]+)\\)");
        for (std::sregex_iterator it(svg.begin(), svg.end(), tip), last; it != last; ++it) {
            const double x = std::stod((*it)[1]);
            const double y = std::stod((*it)[2]);
            if (x > frame[0] + frame[2] || y > frame[1] + frame[3]) continue;  // in the key
            EXPECT_GT(x, frame[0]);
            EXPECT_GT(y, frame[1]);
        }
        EXPECT_GE(count(svg, "translate("), 5);
    }
}

TEST(SvgPlan, coordinates_of_two_million_feet_keep_their_distances) {
    PlanDrawing near_origin = small_site();
    PlanDrawing far = near_origin;
    const double east = 609600.0;
    const double north = 1219200.0;
    for (auto& m : far.marks) m.east_m += east, m.north_m += north;
    for (auto& s : far.stations) s.east_m += east, s.north_m += north;
    for (auto& p : far.points) p.east_m += east, p.north_m += north;
    for (auto& g : far.grid_lines) {
        g.from_east_m += east;
        g.to_east_m += east;
        g.from_north_m += north;
        g.to_north_m += north;
    }
    const std::string a = draw_plan_svg(near_origin);
    const std::string b = draw_plan_svg(far);
    for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_EQ(group(a, "mark", i), group(b, "mark", i));
    }
}

TEST(SvgPlan, empty_and_single_and_coinciding_drawings_are_fine) {
    EXPECT_EQ(fault_in(draw_plan_svg({})), "");
    EXPECT_NE(draw_plan_svg({}).find("Nothing to draw"), std::string::npos);

    PlanDrawing one;
    one.marks.push_back({"H1", 5.0, 5.0, true, std::nullopt, std::nullopt});
    EXPECT_EQ(fault_in(draw_plan_svg(one)), "");
    EXPECT_FALSE(has_bad_number(draw_plan_svg(one)));

    for (int i = 0; i < 50; ++i) one.points.push_back({"P", 5.0, 5.0, PlanWord::proven, 1.0});
    one.stations.push_back({"S", 5.0, 5.0, PlanEllipse{0.0, 0.0, 0.0}});
    one.sights.push_back({0, 0, PlanSightKind::control});
    one.marks[0].misfit = PlanVector{0.0, 0.0};
    EXPECT_EQ(fault_in(draw_plan_svg(one)), "");
    EXPECT_FALSE(has_bad_number(draw_plan_svg(one)));

    PlanDrawing lines;
    lines.grid_lines.push_back({"A", 0.0, 0.0, 0.0, 0.0});
    lines.grid_lines.push_back({"B", 0.0, 0.0, 5.0, 0.0});
    EXPECT_EQ(fault_in(draw_plan_svg(lines)), "");
}

TEST(SvgPlan, numbers_that_are_not_finite_never_reach_the_sheet) {
    for (const double bad : {kNan, kInf, -kInf, 1e300}) {
        PlanDrawing d = small_site();
        d.marks[0].east_m = bad;
        d.marks[1].misfit = PlanVector{bad, 0.0};
        d.marks[2].ellipse_95 = PlanEllipse{bad, 0.0, 0.0};
        d.stations[0].ellipse_95 = PlanEllipse{0.001, 0.001, bad};
        d.points[0].north_m = bad;
        d.points[1].probability = bad;
        d.grid_lines[0].to_east_m = bad;
        d.width_px = bad;
        const std::string svg = draw_plan_svg(d);
        EXPECT_EQ(fault_in(svg), "");
        EXPECT_FALSE(has_bad_number(svg)) << bad;
        EXPECT_NE(svg.find("2 entries without a usable position"), std::string::npos);
    }
}

TEST(SvgPlan, extents_from_millimetres_to_a_thousand_kilometres_are_fine) {
    for (double size = 1e-3; size < 2e6; size *= 10.0) {
        PlanDrawing d = small_site();
        for (auto& m : d.marks) m.east_m *= size / 60.0, m.north_m *= size / 60.0;
        for (auto& s : d.stations) s.east_m *= size / 60.0, s.north_m *= size / 60.0;
        for (auto& p : d.points) p.east_m *= size / 60.0, p.north_m *= size / 60.0;
        const std::string svg = draw_plan_svg(d);
        EXPECT_EQ(fault_in(svg), "") << size;
        EXPECT_FALSE(has_bad_number(svg)) << size;
    }
}

TEST(SvgPlan, two_thousand_points_are_drawn_and_their_names_thinned) {
    PlanDrawing d;
    Random random(61);
    for (int i = 0; i < 2000; ++i) {
        d.points.push_back({"P" + std::to_string(i), random.uniform(0.0, 120.0),
                            random.uniform(0.0, 60.0),
                            i % 50 == 0 ? PlanWord::fails : PlanWord::proven, 0.9});
    }
    d.stations.push_back({"S1", 60.0, 30.0, std::nullopt});
    const std::string svg = draw_plan_svg(d);
    EXPECT_EQ(count(svg, "<g data-kind=\"point\">"), 2000);
    EXPECT_NE(svg.find("of 2000 point names are shown"), std::string::npos);
    EXPECT_NE(svg.find(">S1</text>"), std::string::npos);
    EXPECT_LT(svg.size(), 600000u);
    EXPECT_FALSE(has_bad_number(svg));
}

TEST(SvgPlan, every_mark_and_station_keeps_its_name_however_crowded) {
    PlanDrawing d;
    d.width_px = 320.0;
    for (int i = 0; i < 60; ++i) {
        d.marks.push_back({"M" + std::to_string(i), 0.1 * i, 0.05 * i, i % 2 == 0,
                           PlanVector{0.001, 0.002}, PlanEllipse{0.003, 0.002, 1.0}});
    }
    const std::string svg = draw_plan_svg(d);
    for (int i = 0; i < 60; ++i) {
        EXPECT_NE(svg.find(">M" + std::to_string(i) + "</text>"), std::string::npos) << i;
    }
}

TEST(SvgPlan, probability_is_cut_and_never_rounded_up_to_a_verdict) {
    PlanDrawing d = small_site();
    d.points[1].probability = 0.94999;
    EXPECT_NE(draw_plan_svg(d).find("94.9 %"), std::string::npos);
    d.points[1].probability = 1.0;
    EXPECT_NE(draw_plan_svg(d).find("over 99.9 %"), std::string::npos);
    d.points[1].probability = 0.0;
    EXPECT_NE(draw_plan_svg(d).find("under 0.1 %"), std::string::npos);
}

TEST(FaultIn, finds_planted_faults) {
    EXPECT_NE(fault_in("<a><b></a></b>"), "");
    EXPECT_NE(fault_in("<a x=\"1\" x=\"2\"/>"), "");
    EXPECT_NE(fault_in("<a>&nbsp;</a>"), "");
    EXPECT_NE(fault_in("<a>"), "");
    EXPECT_NE(fault_in("<a/><a/>"), "");
    EXPECT_EQ(fault_in("<a x=\"1\"><b/>t &amp; u</a>"), "");
    EXPECT_TRUE(has_bad_number("<a x=\"nan\"/>"));
}

}  // namespace
}  // namespace layproof::drawing
