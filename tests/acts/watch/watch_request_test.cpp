// Days on the invented site, exact readings: quiet ones, bumped ones, and files that are refused.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "acts/lay/lay.hpp"
#include "acts/lay/lay_site.hpp"
#include "acts/prove/prove.hpp"
#include "acts/shared/null_fields.hpp"
#include "acts/watch/watch.hpp"

namespace layproof::acts {
namespace {

using ::testing::HasSubstr;
using testing::InventedDay;
using testing::point_at;

WatchAnswer run(const WatchRequest& request) {
    auto answer = run_watch(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? std::move(answer).value() : WatchAnswer{};
}

WatchRequest of(const InventedDay& day) {
    WatchRequest out;
    out.station = day.request();
    return out;
}

void check_all(InventedDay& day, int hour, int minute) {
    day.add("S1", day.site.marks[0], "check", hour, minute);
    day.add("S1", day.site.marks[2], "check", hour, minute + 1);
}

/// The readings of a point that the crew put where the readings are right.
void lay_by_reading(InventedDay& day, const std::string& name, int hour, int minute) {
    const testing::InventedSite moved = day.site;
    day.site = testing::InventedSite();
    day.add("S1", point_at(name), "lay", hour, minute);
    day.site = moved;
}

InventedDay quiet() {
    InventedDay day;
    day.set_up();
    lay_by_reading(day, "P1", 8, 0);
    check_all(day, 8, 30);
    lay_by_reading(day, "P2", 8, 40);
    check_all(day, 9, 30);
    return day;
}

/// The tripod is bumped at 10:00, between the checks of 9:30 and 10:30.
InventedDay bumped() {
    InventedDay day = quiet();
    lay_by_reading(day, "P3", 9, 45);
    day.site.east_m += 0.012;
    day.site.north_m -= 0.006;
    day.site.orientation_deg += 0.02;
    lay_by_reading(day, "P4", 10, 15);
    check_all(day, 10, 30);
    return day;
}

TEST(watch_request, quiet_day_is_proven) {
    const WatchAnswer answer = run(of(quiet()));
    const WatchStation& s = answer.stations.at(0);
    EXPECT_EQ(s.verdict.word, station::Word::proven) << s.verdict.because;
    EXPECT_EQ(s.report.points.size(), 2U);
    EXPECT_EQ(s.day.checks.size(), 4U);
    EXPECT_GT(s.holds, 0.95);
    EXPECT_TRUE(is_proven(answer));
}

TEST(watch_request, points_have_the_word_and_probability_that_lay_and_prove_give) {
    const WatchRequest request = of(bumped());
    const WatchStation s = run(request).stations.at(0);
    const LayAnswer lay = run_lay({request.station, {}, {}, {}}).value();
    const ProveAnswer prove = run_prove({request.station, {}, {}, {}}).value();
    ASSERT_EQ(s.report.points.size(), 4U);
    ASSERT_EQ(lay.laid.size(), 4U);
    ASSERT_EQ(prove.laid.size(), 4U);
    for (std::size_t i = 0; i < 4; ++i) {
        EXPECT_EQ(s.report.points[i].probability, lay.laid[i].figures.verdict.probability);
        EXPECT_EQ(s.report.points[i].probability, prove.laid[i].verdict.probability);
        EXPECT_EQ(s.report.points[i].word, lay.laid[i].figures.verdict.word);
        EXPECT_EQ(s.report.points[i].word, prove.laid[i].verdict.word);
    }
    EXPECT_EQ(s.holds, lay.stations.at(0).holds);
    EXPECT_EQ(s.holds, prove.setups.at(0).holds);
    // One rule gives the word of all three.
    EXPECT_EQ(s.verdict.word, lay.verdict->word);
    EXPECT_EQ(s.verdict.word, prove.verdict.word);
}

TEST(watch_request, bump_is_named_with_its_gap_and_its_points) {
    const WatchAnswer answer = run(of(bumped()));
    const WatchStation& s = answer.stations.at(0);
    EXPECT_NE(s.verdict.word, station::Word::proven);
    EXPECT_FALSE(is_proven(answer));
    EXPECT_THAT(s.verdict.because, HasSubstr("The tripod moved between 09:31 and 10:30"));
    ASSERT_EQ(s.report.points.size(), 4U);
    EXPECT_EQ(s.report.points[0].word, station::Word::proven);
    EXPECT_NE(s.report.points[3].word, station::Word::proven);
    ASSERT_FALSE(s.resights.empty());
    EXPECT_THAT(s.verdict.next, HasSubstr(s.resights.front().name));
    const std::string text = to_text(answer);
    EXPECT_THAT(text, HasSubstr("does not fit"));
    EXPECT_THAT(text, HasSubstr("UTC-05:00"));
}

TEST(watch_request, second_sight_to_a_point_is_a_resight) {
    InventedDay day = quiet();
    lay_by_reading(day, "P1", 9, 40);
    const WatchAnswer answer = run(of(day));
    const WatchStation& s = answer.stations.at(0);
    EXPECT_EQ(s.day.points.size(), 2U);
    ASSERT_EQ(s.day.resights.size(), 1U);
    EXPECT_EQ(s.report.points[0].resights, 1);
}

TEST(watch_request, check_without_a_time_is_refused_at_its_line) {
    InventedDay day = quiet();
    const std::string time = testing::day_time(9, 31);
    day.text.replace(day.text.find(time), time.size(), "");
    const auto answer = run_watch(of(day));
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::value_missing);
    EXPECT_EQ(answer.refusal().place.file, "sights.csv");
    EXPECT_EQ(answer.refusal().place.line, 17);
    EXPECT_THAT(answer.refusal().expected, HasSubstr("a time for every check"));
}

TEST(watch_request, laying_before_the_setup_was_finished_is_refused) {
    InventedDay day = quiet();
    lay_by_reading(day, "P3", 7, 31);
    const auto answer = run_watch(of(day));
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::out_of_range);
    EXPECT_EQ(answer.refusal().place.line, 18);
}

TEST(watch_request, interval_out_of_range_is_refused) {
    WatchRequest request = of(quiet());
    request.check_every_s = 10.0;
    const auto answer = run_watch(request);
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::out_of_range);
}

TEST(watch_request, next_check_is_due_after_the_interval_at_the_latest) {
    WatchRequest request = of(quiet());
    request.check_every_s = 1800.0;
    const WatchAnswer answer = run(request);
    const WatchStation& s = answer.stations.at(0);
    const double last_s = s.day.checks.back().time_s;
    EXPECT_GT(s.next_check.due_s, last_s);
    EXPECT_LE(s.next_check.due_s, last_s + 1800.0);
}

TEST(watch_request, soil_holds_less_well_than_slab) {
    WatchRequest request = of(quiet());
    const double slab = run(request).stations.at(0).report.points.at(1).covariance.trace();
    request.ground = watch::Ground::soil;
    EXPECT_GT(run(request).stations.at(0).report.points.at(1).covariance.trace(), 1.05 * slab);
}

TEST(watch_request, day_without_a_check_says_so) {
    InventedDay day;
    day.set_up();
    lay_by_reading(day, "P1", 9, 0);
    const WatchAnswer answer = run(of(day));
    EXPECT_THAT(answer.stations.at(0).verdict.because, HasSubstr("No check"));
}

TEST(watch_request, json_holds_what_is_known_and_null_only_where_nothing_is) {
    const WatchAnswer answer = run(of(bumped()));
    const std::string text = to_json(answer);
    const auto json = nlohmann::json::parse(text);
    EXPECT_THAT(testing::null_fields(json),
                ::testing::UnorderedElementsAre("causes.from", "causes.to", "stations.events.dof",
                                                "stations.events.good", "stations.events.name",
                                                "stations.events.statistic",
                                                "stations.hypotheses.members.changes.amount",
                                                "stations.hypotheses.members.changes.from",
                                                "stations.hypotheses.members.changes.sd",
                                                "stations.hypotheses.members.changes.to"));
    EXPECT_EQ(json["act"], "watch");
    EXPECT_EQ(json["ground"], "slab");
    const auto& station = json["stations"][0];
    for (const char* key :
         {"station", "verdict", "set_up_finished", "probability_holds", "probability_moved",
          "hypotheses", "moves", "points", "resights", "next_check", "events"})
        EXPECT_TRUE(station.contains(key)) << key;
    EXPECT_EQ(station["set_up_finished"], testing::day_time(7, 39));
    double sum = station["hypotheses_others"].get<double>();
    for (const auto& h : station["hypotheses"]) sum += h["probability"].get<double>();
    EXPECT_NEAR(sum, 1.0, 1e-5);
    EXPECT_EQ(station["points"][0]["laid"], testing::day_time(8, 0));
}

TEST(watch_request, files_hold_every_point) {
    const WatchAnswer answer = run(of(bumped()));
    const std::string csv = day_csv(answer);
    EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'), 5);
    const auto strips = to_svg(answer);
    ASSERT_EQ(strips.size(), 1U);
    EXPECT_THAT(strips[0], HasSubstr("<svg"));
    EXPECT_THAT(strips[0], HasSubstr("moved in here"));
}

}  // namespace
}  // namespace layproof::acts
