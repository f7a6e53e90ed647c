#include "drawing/day_strip.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <limits>
#include <regex>
#include <string>

#include "base/random.hpp"
#include "drawing/svg_fault.hpp"

namespace layproof::drawing {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// An invented day: ten checks in five rounds, the fourth not good, forty points.
DayStrip invented_day() {
    DayStrip d;
    d.title = "Station S2, Tuesday";
    d.job_lines = {"Invented mill hall, row 4 to 9", "Crew B, invented"};
    d.remark = "In doubt: the instrument moved between 10:58 and 11:56 (97 %).";
    d.cautions = {"14 points are not proven."};
    d.sight_first = {"P27, laid 11:24: halves the doubt", "P31, laid 11:43", "mark M3"};
    const double start = 7.9 * 3600.0;
    d.setups.push_back({"S2", start, start + 5.3 * 3600.0});
    Random random(5);
    for (int k = 0; k < 5; ++k)
        for (int i = 0; i < 2; ++i)
            d.checks.push_back({"M" + std::to_string(1 + (2 * k + i) % 4),
                                start + (k + 1.0) * 3600.0 + 150.0 * i, k < 3, "11 mm off"});
    for (int p = 0; p < 40; ++p) {
        const double t = start + 600.0 + p * 450.0 + 200.0 * random.uniform();
        const double moved = t - (start + 3.6 * 3600.0);
        d.layings.push_back({"P" + std::to_string(p + 1), t,
                             moved < -2400.0  ? PlanWord::proven
                             : moved < 1300.0 ? PlanWord::in_doubt
                             : p % 3 == 0     ? PlanWord::in_doubt
                                              : PlanWord::fails});
    }
    d.resights = {{"P27", start + 5.1 * 3600.0}, {"P31", start + 5.2 * 3600.0}};
    d.bands = {{start + 3.0 * 3600.0 + 150.0, start + 4.0 * 3600.0, "moved in here: 97 %"}};
    d.next_check_s = start + 5.8 * 3600.0;
    return d;
}

std::size_t count(const std::string& text, const std::string& what) {
    std::size_t out = 0;
    for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + 1))
        ++out;
    return out;
}

TEST(day_strip, day_is_well_formed_and_says_everything_in_words) {
    const std::string svg = draw_day_strip_svg(invented_day());
    EXPECT_EQ(fault_in(svg), "");
    EXPECT_EQ(count(svg, "class=\"check\"") + count(svg, "data-kind=\"check\""), 10U);
    for (const char* text :
         {"moved in here: 97 %", "6 checks: good", "4 checks: not good", "next check due",
          "Sight first", "P27, laid 11:24", "points laid", "sighted again",
          "hatched: the instrument", "in doubt", "fails", "proven"})
        EXPECT_NE(svg.find(text), std::string::npos) << text;
    EXPECT_EQ(svg.find("nan"), std::string::npos);
    EXPECT_EQ(svg.find("inf"), std::string::npos);
}

TEST(day_strip, same_day_gives_the_same_text) {
    EXPECT_EQ(draw_day_strip_svg(invented_day()), draw_day_strip_svg(invented_day()));
}

TEST(day_strip, site_clock_is_used_for_every_time) {
    DayStrip d = invented_day();
    EXPECT_NE(draw_day_strip_svg(d).find(">09:00<"), std::string::npos);
    EXPECT_EQ(draw_day_strip_svg(d).find(">03:00<"), std::string::npos);
    d.utc_offset_s = -6.0 * 3600.0;
    EXPECT_NE(draw_day_strip_svg(d).find(">03:00<"), std::string::npos);
}

TEST(day_strip, every_width_keeps_all_text_on_the_sheet) {
    for (const double width : {320.0, 380.0, 700.0, 720.0, 960.0, 1600.0}) {
        DayStrip d = invented_day();
        d.width_px = width;
        const std::string svg = draw_day_strip_svg(d);
        EXPECT_EQ(fault_in(svg), "") << width;
        static const std::regex x_of("<text x=\"(-?[0-9.]+)\"");
        int seen = 0;
        for (std::sregex_iterator it(svg.begin(), svg.end(), x_of), end; it != end; ++it) {
            const double x = std::atof((*it)[1].str().c_str());
            EXPECT_GE(x, 0.0) << width;
            EXPECT_LE(x, width) << width;
            ++seen;
        }
        EXPECT_GT(seen, 15) << width;
    }
}

TEST(day_strip, empty_and_odd_days_are_drawn) {
    EXPECT_EQ(fault_in(draw_day_strip_svg({})), "");
    EXPECT_NE(draw_day_strip_svg({}).find("Nothing to draw."), std::string::npos);

    DayStrip d;
    d.width_px = kNan;
    d.layings = {{"A<&>\"'", 100.0, PlanWord::proven}, {"\xff\xfe", kNan, PlanWord::fails}};
    d.checks = {{"M", std::numeric_limits<double>::infinity(), false, ""}};
    d.bands = {{kNan, 5.0, "x"}, {100.0, 100.0, "<b>"}};
    d.next_check_s = kNan;
    d.utc_offset_s = kNan;
    const std::string svg = draw_day_strip_svg(d);
    EXPECT_EQ(fault_in(svg), "");
    EXPECT_NE(svg.find("4 entries without a usable time not drawn."), std::string::npos);
    EXPECT_EQ(svg.find("nan"), std::string::npos);
}

TEST(day_strip, tall_stacks_end_in_a_number) {
    DayStrip d;
    for (int i = 0; i < 300; ++i)
        d.layings.push_back({"P" + std::to_string(i), 1000.0 + 24.0 * i, PlanWord::proven});
    d.layings.insert(d.layings.end(), 20, {"Q", 4000.0, PlanWord::in_doubt});
    const std::string svg = draw_day_strip_svg(d);
    EXPECT_EQ(fault_in(svg), "");
    EXPECT_NE(svg.find(">+"), std::string::npos);
    EXPECT_NE(svg.find("300 points: proven"), std::string::npos);
    EXPECT_NE(svg.find("20 points: in doubt"), std::string::npos);
    EXPECT_LT(svg.size(), 400000U);
}

}  // namespace
}  // namespace layproof::drawing
