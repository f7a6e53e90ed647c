// What the act lay makes of the files.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "acts/lay/lay_site.hpp"
#include "acts/shared/null_fields.hpp"

namespace layproof::acts {
namespace {

using ::testing::HasSubstr;
using testing::InventedDay;
using testing::InventedMark;
using testing::point_at;

LayAnswer run(const LayRequest& request) {
    auto answer = run_lay(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? std::move(answer).value() : LayAnswer{};
}

LayRequest of(const InventedDay& day) {
    LayRequest out;
    out.station = day.request();
    return out;
}

InventedDay set_up() {
    InventedDay day;
    day.set_up();
    return day;
}

std::size_t lines(const std::string& text) {
    return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

TEST(lay_request, setting_out_is_the_rooms_own) {
    LayRequest request = of(set_up());
    request.rod_height_m = 2.0;
    const LayAnswer answer = run(request);
    ASSERT_EQ(answer.points.size(), 4U);
    const LayStation& one = answer.stations.at(0);
    EXPECT_EQ(one.rod_height_m, 2.0);
    for (std::size_t p = 0; p < 4; ++p) {
        const auto own =
            lay::setting_out({one.station.pose, 2.0, 1.0, 0.13}, answer.points[p].design);
        ASSERT_TRUE(own && one.setting_out[p].figures);
        EXPECT_EQ(one.setting_out[p].point, p);
        EXPECT_EQ(one.setting_out[p].figures->direction_rad, own->direction_rad);
        EXPECT_EQ(one.setting_out[p].figures->slope_m, own->slope_m);
        EXPECT_EQ(one.setting_out[p].figures->height_difference_m, own->height_difference_m);
    }
}

TEST(lay_request, setting_out_brings_the_crew_to_the_point) {
    const InventedDay day = set_up();
    const LayAnswer answer = run(of(day));
    const lay::SettingOut& s = *answer.stations.at(0).setting_out.at(0).figures;
    const double azimuth = *s.direction_rad + day.site.orientation_deg * measure::kRadPerDeg;
    EXPECT_NEAR(day.site.east_m + s.horizontal_m * std::sin(azimuth), 505.0, 1e-5);
    EXPECT_NEAR(day.site.north_m + s.horizontal_m * std::cos(azimuth), 255.0, 1e-5);
    EXPECT_NEAR(day.site.height_m + *s.height_difference_m, 30.0, 1e-5);
}

TEST(lay_request, nothing_laid_is_no_failure) {
    const LayAnswer answer = run(of(set_up()));
    EXPECT_FALSE(answer.verdict);
    EXPECT_TRUE(is_proven(answer));
    EXPECT_THAT(to_text(answer), HasSubstr("As laid: nothing yet"));
    EXPECT_TRUE(nlohmann::json::parse(to_json(answer))["verdict"].is_null());
}

TEST(lay_request, deviation_is_where_the_point_was_put) {
    InventedDay day = set_up();
    day.add("S1", point_at("P1", 0.003, -0.001, 0.002), "lay", 8, 0);
    const LayAnswer answer = run(of(day));
    ASSERT_EQ(answer.laid.size(), 1U);
    const lay::PointVerdict& v = answer.laid[0].figures.verdict;
    EXPECT_NEAR(v.deviation_m.x(), 0.003, 1e-5);
    EXPECT_NEAR(v.deviation_m.y(), -0.001, 1e-5);
    EXPECT_NEAR(v.deviation_m.z(), 0.002, 1e-5);
    EXPECT_EQ(answer.stations[0].laid, 1);
}

TEST(lay_request, points_on_the_mark_are_proven_and_one_far_off_fails) {
    InventedDay day = set_up();
    for (const char* name : {"P1", "P2", "P3"}) day.add("S1", point_at(name), "lay", 8, 0);
    EXPECT_TRUE(is_proven(run(of(day))));
    day.add("S1", point_at("P4", 0.020), "lay", 8, 5);
    const LayAnswer answer = run(of(day));
    ASSERT_TRUE(answer.verdict);
    EXPECT_EQ(answer.verdict->word, station::Word::fails);
    EXPECT_EQ(answer.proven, 3);
    EXPECT_EQ(answer.fails, 1);
    EXPECT_THAT(answer.verdict->next, HasSubstr("P4"));
    EXPECT_FALSE(is_proven(answer));
}

TEST(lay_request, points_of_a_station_that_moved_are_not_proven_as_a_whole) {
    InventedDay day = set_up();
    for (const char* name : {"P1", "P2"}) day.add("S1", point_at(name), "lay", 8, 0);
    day.add("S1", day.site.marks[0], "check", 8, 30);
    day.add("S1", day.site.marks[2], "check", 8, 31);
    EXPECT_TRUE(is_proven(run(of(day))));
    day.site.east_m += 0.015;
    day.add("S1", day.site.marks[0], "check", 9, 30);
    day.add("S1", day.site.marks[2], "check", 9, 31);
    const LayAnswer answer = run(of(day));
    EXPECT_EQ(answer.proven, 2);
    ASSERT_TRUE(answer.stations[0].holds);
    EXPECT_LT(*answer.stations[0].holds, 0.95);
    EXPECT_FALSE(is_proven(answer));
    EXPECT_THAT(answer.verdict->because,
                HasSubstr("The tripod of S1 was disturbed between 08:31 and 09:30"));
}

TEST(lay_request, point_unknown_is_refused_at_its_sight) {
    InventedDay day = set_up();
    day.add("S1", InventedMark{"P9", 505.0, 255.0, 30.0}, "lay", 8, 0);
    const auto answer = run_lay(of(day));
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::target_unknown);
    EXPECT_EQ(answer.refusal().place.file, "sights.csv");
    EXPECT_EQ(answer.refusal().place.line, 12);
}

TEST(lay_request, rod_out_of_range_is_refused) {
    LayRequest request = of(set_up());
    request.rod_height_m = -0.1;
    const auto answer = run_lay(request);
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::out_of_range);
}

TEST(lay_request, ground_as_found_gives_cut) {
    InventedDay day = set_up();
    day.add("S1", point_at("P1", 0.0, 0.0, 0.250), "other", 8, 0);
    const LayAnswer answer = run(of(day));
    const auto& s = *answer.stations[0].setting_out[0].figures;
    ASSERT_TRUE(s.earthwork);
    EXPECT_EQ(s.earthwork->word, lay::Earthwork::cut);
    EXPECT_NEAR(s.earthwork->amount_m, 0.250, 1e-5);
    EXPECT_FALSE(answer.stations[0].setting_out[1].figures->earthwork);
}

TEST(lay_request, sights_of_two_places_disagree_aloud) {
    InventedDay day = set_up();
    day.add("S1", point_at("P1"), "lay", 8, 0);
    day.add("S1", point_at("P1", 0.030), "lay", 8, 2);
    EXPECT_THAT(run(of(day)).notices, ::testing::Contains(HasSubstr("to P1 disagree")));
}

TEST(lay_request, point_from_two_stations_has_one_place) {
    InventedDay day = set_up();
    day.set_up("S2");
    day.add("S1", point_at("P1", 0.002), "lay", 8, 0);
    day.add("S2", point_at("P1", 0.002), "lay", 8, 1);
    const LayAnswer answer = run(of(day));
    ASSERT_EQ(answer.laid.size(), 1U);
    EXPECT_EQ(answer.laid[0].figures.laid.sights, 2);
    EXPECT_NEAR(answer.laid[0].figures.verdict.deviation_m.x(), 0.002, 1e-5);
    EXPECT_FALSE(answer.laid[0].figures.verdict.is_widened);
}

TEST(lay_request, bolts_of_a_group_are_judged_between_each_other) {
    InventedDay day = set_up();
    LayRequest request = of(day);
    request.station.points =
        exchange::Document{"points.csv",
                           "point,east [m],north [m],height [m],element,tolerance_plan [m]\n"
                           "P1,505,255,30,AR1: G1,0.010\nP2,519,255,30,AR1: G1,0.010\n"
                           "P3,519,241,30,AR1: G2,0.010\n"};
    for (const char* name : {"P1", "P3"}) day.add("S1", point_at(name), "lay", 8, 0);
    day.add("S1", point_at("P2", 0.005), "lay", 8, 3);
    request.station.sights.bytes = day.text;
    const LayAnswer answer = run(request);
    ASSERT_EQ(answer.rules.size(), 1U);
    const lay::RuleVerdict& rule = answer.rules[0].figures;
    EXPECT_EQ(rule.tolerance_id, "AR1");
    EXPECT_NEAR(rule.verdict.deviation_m, 0.005, 1e-5);
    EXPECT_NE(rule.verdict.word, station::Word::proven);
    EXPECT_FALSE(is_proven(answer));
    EXPECT_THAT(rule.source_words, HasSubstr("AISC 303"));
}

TEST(lay_request, limit_from_memory_says_so) {
    InventedDay day = set_up();
    LayRequest request = of(day);
    request.station.points = exchange::Document{
        "points.csv", "point,east [m],north [m],height [m],element\nP1,505,255,30,AR10\n"};
    day.add("S1", point_at("P1"), "lay", 8, 0);
    request.station.sights.bytes = day.text;
    const LayAnswer answer = run(request);
    EXPECT_NEAR(*answer.laid.at(0).figures.verdict.tolerance.plan_m, 0.010, 1e-12);
    EXPECT_THAT(to_text(answer), HasSubstr("from memory"));
}

TEST(lay_request, grid_names_the_place_and_the_move) {
    InventedDay day = set_up();
    day.add("S1", point_at("P1", 0.004, -0.003), "lay", 8, 0);
    LayRequest request = of(day);
    request.grid =
        exchange::Document{"grid.csv",
                           "line,east_1 [m],north_1 [m],east_2 [m],north_2 [m]\nA,500,255,530,255\n"
                           "B,500,241,530,241\n1,505,230,505,260\n2,519,230,519,260\n"};
    const LayAnswer answer = run(request);
    EXPECT_EQ(answer.laid.at(0).figures.design_grid->words, "A/1");
    EXPECT_THAT(answer.laid[0].figures.move.words, HasSubstr("toward A"));
    EXPECT_THAT(answer.laid[0].figures.move.words, HasSubstr("4 mm toward 1"));
}

TEST(lay_request, json_holds_what_is_known_and_null_only_where_nothing_is) {
    InventedDay day = set_up();
    day.add("S1", point_at("P1"), "lay", 8, 0);
    const LayAnswer answer = run(of(day));
    const std::string text = to_json(answer);
    const auto json = nlohmann::json::parse(text);
    EXPECT_THAT(testing::null_fields(json),
                ::testing::UnorderedElementsAre(
                    "causes.from", "causes.to", "laid.grid", "laid.tolerance.height_source.id",
                    "laid.tolerance.plan_source.id", "stations.probability_holds",
                    "stations.setting_out.earthwork", "stations.setting_out.grid"));
    EXPECT_EQ(json["act"], "lay");
    for (const char* key : {"version", "unit", "confidence", "verdict", "laid", "rules", "stations",
                            "tape", "notices", "points_proven"})
        EXPECT_TRUE(json.contains(key)) << key;
    for (const char* key : {"point", "word", "probability", "because", "next", "deviation", "move",
                            "tolerance", "lines"})
        EXPECT_TRUE(json["laid"][0].contains(key)) << key;
    EXPECT_EQ(json["stations"][0]["setting_out"].size(), 4U);
    EXPECT_NEAR(json["laid"][0]["probability"].get<double>(),
                answer.laid[0].figures.verdict.probability, 1e-6);
}

TEST(lay_request, lists_have_a_row_for_every_point) {
    InventedDay day = set_up();
    day.add("S1", point_at("P1"), "lay", 8, 0);
    const LayAnswer answer = run(of(day));
    EXPECT_EQ(lines(setting_out_csv(answer, answer.stations[0])), 5U);
    EXPECT_EQ(lines(as_laid_csv(answer)), 2U);
    EXPECT_EQ(to_svg(answer).size(), 1U);
}

TEST(lay_request, landxml_has_the_time_of_the_latest_lay_sight_or_the_first_day) {
    InventedDay day = set_up();
    EXPECT_THAT(as_laid_landxml(run(of(day))), HasSubstr("date=\"1970-01-01\" time=\"00:00:00\""));
    day.add("S1", point_at("P2"), "lay", 20, 15);
    day.add("S1", point_at("P1"), "lay", 9, 30);
    // 20:15 five hours behind is the next day in UTC.
    EXPECT_THAT(as_laid_landxml(run(of(day))), HasSubstr("date=\"2026-03-05\" time=\"01:15:00\""));
}

}  // namespace
}  // namespace layproof::acts
