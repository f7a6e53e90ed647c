// The text a crew reads: verdict first, plain words, one screen.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "acts/shared/invented_site.hpp"
#include "acts/station/station.hpp"
#include "base/text/utf8.hpp"
#include "exchange/text/text.hpp"

namespace layproof::acts {
namespace {

using testing::four_points;
using testing::good_instrument;
using ::testing::HasSubstr;
using testing::InventedSite;
using ::testing::Not;
using ::testing::StartsWith;

std::string text_of(const StationRequest& request) {
    const auto answer = run_station(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? to_text(*answer) : "";
}

std::vector<std::string> lines_of(const std::string& text) {
    std::vector<std::string> out;
    std::istringstream in(text);
    for (std::string line; std::getline(in, line);) out.push_back(line);
    return out;
}

StationRequest good_request(const InventedSite& site = {}) {
    Random random(5);
    auto request = site.request(&random);
    request.instrument = good_instrument();
    request.points = four_points();
    return request;
}

TEST(station_text, verdict_stands_first_and_the_caution_last) {
    const std::string text = text_of(good_request());
    EXPECT_THAT(text, StartsWith("Station S1: PROVEN"));
    const auto lines = lines_of(text);
    ASSERT_GE(lines.size(), 2U);
    EXPECT_EQ(lines[lines.size() - 2] + " " + lines.back(),
              "Contractor's layout record, not a survey. Contract documents, local codes and the "
              "licensed surveyor decide.");
}

TEST(station_text, one_station_fits_one_screen) {
    InventedSite many;
    for (int i = 0; i < 20; ++i)
        many.marks.push_back({fmt::format("B{}", i), 450.0 + 7.0 * i, 330.0 - 3.0 * (i % 5), 31.0});
    auto request = many.request();
    std::string points = "point,east [m],north [m]\n";
    for (int i = 0; i < 60; ++i) points += fmt::format("P{},{},{}\n", i, 400 + 5 * i, 240 + i);
    request.points = exchange::Document{"points.csv", points};
    for (const auto& r : {good_request(), request}) {
        const auto lines = lines_of(text_of(r));
        EXPECT_LE(lines.size(), 46U) << text_of(r);
        for (const std::string& line : lines) EXPECT_LE(character_count(line), 100) << line;
    }
    EXPECT_LE(lines_of(text_of(good_request())).size(), 40U);
}

TEST(station_text, first_screen_is_free_of_the_words_of_statistics) {
    InventedSite moved;
    auto request = good_request();
    moved.marks[2].east_m += 0.040;
    request.marks.bytes = moved.marks_csv();
    for (const auto& r : {good_request(), request, InventedSite{}.request()}) {
        const std::string text = text_of(r);
        for (const char* word :
             {"posteriori", "datum", "w-test", "eigen", "hypothes", "posterior", "residual",
              "redundancy", "chi", "variance", "covariance", "significance"})
            EXPECT_THAT(text, Not(HasSubstr(word)));
    }
}

TEST(station_text, explain_adds_the_figures_and_every_point) {
    auto request = good_request();
    EXPECT_THAT(text_of(request), Not(HasSubstr("P3 ")));
    request.explain = true;
    const std::string text = text_of(request);
    for (const char* piece : {"residual", "standardised", "redundancy", "degrees of freedom",
                              "shift that shows", "P1 ", "P2 ", "P3 ", "P4 "})
        EXPECT_THAT(text, HasSubstr(piece));
}

TEST(station_text, lengths_carry_the_unit_of_the_marks_file) {
    EXPECT_THAT(text_of(good_request()), HasSubstr("512.34"));
    InventedSite feet;
    feet.unit_m = 0.3048;
    feet.bracket = "[ft]";
    const std::string text = text_of(feet.request());
    EXPECT_THAT(text, HasSubstr("1680.906 ft"));
    EXPECT_THAT(text, Not(HasSubstr(" mm  ")));
}

TEST(station_text, feet_and_inches_are_shown_when_asked_for) {
    auto request = good_request();
    request.show = measure::LengthStyle{measure::LengthUnit::foot, true, 16};
    const std::string text = text_of(request);
    EXPECT_THAT(text, HasSubstr("1680'-10 7/8\""));
    EXPECT_THAT(text, HasSubstr("814'-2"));
}

TEST(station_text, several_stations_give_all_verdicts_before_any_table) {
    const InventedSite site;
    auto request = good_request();
    std::string text = InventedSite::header("[m]");
    for (const char* station : {"S1", "S2"})
        for (const auto& mark : site.marks) text += site.sight(station, mark);
    request.sights.bytes = text;
    const std::string out = text_of(request);
    const auto second = out.find("Station S2: ");
    ASSERT_NE(second, std::string::npos);
    EXPECT_LT(second, out.find("standard deviation"));
}

TEST(station_text, mark_set_aside_shows_its_reason) {
    auto request = good_request();
    request.set_aside = {{"S1", "A3", 0, "kicked by a digger"}};
    EXPECT_THAT(text_of(request), HasSubstr("not used: set aside: kicked by a digger"));
}

TEST(station_text, plan_is_one_svg_per_station) {
    const auto answer = run_station(good_request());
    ASSERT_TRUE(answer.ok());
    const auto plans = to_svg(*answer);
    ASSERT_EQ(plans.size(), 1U);
    EXPECT_THAT(plans[0], StartsWith("<"));
    for (const char* piece : {"<svg", "A1", "S1", "P1", "</svg>"})
        EXPECT_THAT(plans[0], HasSubstr(piece));
}

}  // namespace
}  // namespace layproof::acts
