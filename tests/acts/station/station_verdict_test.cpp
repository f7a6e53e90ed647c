// The verdict, its reason and the next thing to do.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/shared/invented_site.hpp"
#include "acts/station/station.hpp"

namespace layproof::acts {
namespace {

using station::Word;
using ::testing::Contains;
using testing::four_points;
using testing::good_instrument;
using ::testing::HasSubstr;
using testing::InventedSite;

StationReport first(const StationRequest& request) {
    auto answer = run_station(request);
    EXPECT_TRUE(answer.ok()) << (answer.ok() ? "" : answer.refusal().to_text());
    return answer.ok() ? answer->stations.at(0) : StationReport{};
}

std::vector<std::string> remarks(const StationReport& report) {
    std::vector<std::string> out;
    for (const RemarkReport& r : report.remarks) out.push_back(r.says);
    return out;
}

StationRequest good_request(const InventedSite& site) {
    auto request = site.request();
    request.instrument = good_instrument();
    request.points = four_points();
    return request;
}

TEST(station_verdict, five_good_marks_prove_the_points) {
    const StationReport report = first(good_request({}));
    EXPECT_EQ(report.verdict.word, Word::proven);
    EXPECT_GE(report.verdict.probability, 0.95);
    EXPECT_THAT(report.verdict.because, HasSubstr("All 4 points can be proven from here"));
    EXPECT_THAT(report.verdict.next, HasSubstr("60 minutes"));
    EXPECT_EQ(report.proven, 4);
    EXPECT_TRUE(report.aids.empty());
}

TEST(station_verdict, probability_is_that_of_the_weakest_point) {
    auto request = good_request({});
    request.points = four_points(",0.004,0.004");
    const StationReport report = first(request);
    double lowest = 1.0;
    for (const PointReport& p : report.points) lowest = std::min(lowest, p.forecast.probability);
    EXPECT_DOUBLE_EQ(report.verdict.probability, lowest);
}

TEST(station_verdict, tolerance_out_of_reach_fails) {
    auto request = good_request({});
    request.points = four_points(",0.0002,0.0002");
    const StationReport report = first(request);
    EXPECT_EQ(report.verdict.word, Word::fails);
    EXPECT_THAT(report.verdict.because, HasSubstr("None of the 4 points can be held"));
}

TEST(station_verdict, tight_tolerance_names_what_helps) {
    auto request = good_request({});
    request.instrument.reset();
    request.points = four_points(",0.006,0.010");
    const StationReport report = first(request);
    EXPECT_EQ(report.verdict.word, Word::in_doubt);
    ASSERT_FALSE(report.aids.empty());
    EXPECT_EQ(report.aids.front().aid, "short-rod") << "a rod of 1.5 m leans by 2.2 mm at 5'";
    EXPECT_EQ(report.aids.front().proven, 4);
    EXPECT_THAT(report.verdict.next, HasSubstr("Hold the rod short"));
    EXPECT_THAT(report.verdict.next, HasSubstr("4 of 4 points proven instead of 0"));
}

TEST(station_verdict, moved_mark_keeps_the_station_from_being_proven) {
    InventedSite site;
    auto request = good_request(site);
    site.marks[2].east_m += 0.040;
    request.marks.bytes = site.marks_csv();
    const StationReport report = first(request);
    EXPECT_EQ(report.verdict.word, Word::in_doubt);
    EXPECT_FALSE(report.global_test.passes);
    EXPECT_THAT(report.verdict.because + report.verdict.next, HasSubstr("A3"));
    EXPECT_EQ(report.points.size(), 4U);
    for (const PointReport& p : report.points) EXPECT_NE(p.forecast.word, Word::proven);
    EXPECT_EQ(report.proven, 0);
}

TEST(station_verdict, moved_mark_is_off_by_what_it_moved_once_set_aside) {
    InventedSite site;
    auto request = good_request(site);
    site.marks[2].east_m += 0.040;
    request.marks.bytes = site.marks_csv();
    request.set_aside = {{"S1", "A3", 0, "misfit"}};
    const StationReport report = first(request);
    EXPECT_EQ(report.verdict.word, Word::proven);
    EXPECT_NEAR(*report.marks[2].off_east_m, -0.040, 1e-5);
    EXPECT_NEAR(*report.marks[2].off_north_m, 0.0, 1e-5);
    EXPECT_THAT(report.if_kept_in, HasSubstr("would not fit the marks"));
}

TEST(station_verdict, two_marks_always_name_their_blind_spot) {
    InventedSite site;
    site.marks.resize(2);
    EXPECT_THAT(remarks(first(good_request(site))),
                Contains(HasSubstr("swapped names or swapped east and north")));
    // Without heights nothing tells swapped names from right ones.
    auto request = good_request(site);
    request.marks.bytes = site.marks_csv(false);
    const StationReport report = first(request);
    EXPECT_THAT(remarks(report), Contains(HasSubstr("swapped names or swapped east and north")));
    EXPECT_NE(report.verdict.word, Word::proven);
}

TEST(station_verdict, two_distances_leave_two_places) {
    InventedSite site;
    site.marks.resize(2);
    auto request = good_request(site);
    // One direction turns the circle, and turns with either place.
    std::string text = "station,target,direction,horizontal_distance [m],target_height [m]\n";
    for (std::size_t i = 0; i < 2; ++i) {
        const auto& m = site.marks[i];
        text += fmt::format("S1,{},{},{:.5f},1.5\n", m.name, i == 0 ? "0" : "",
                            std::hypot(m.east_m - site.east_m, m.north_m - site.north_m));
    }
    request.sights.bytes = text;
    const StationReport report = first(request);
    EXPECT_EQ(report.verdict.word, Word::in_doubt);
    ASSERT_EQ(report.others.size(), 1U);
    EXPECT_LE(report.verdict.probability, 0.501) << "either place is as good";
    EXPECT_THAT(report.verdict.because, HasSubstr("Two places fit these sights"));
    EXPECT_THAT(remarks(report), Contains(HasSubstr("Two places fit")));
}

TEST(station_verdict, three_directions_say_that_nothing_checks_them) {
    InventedSite site;
    site.marks.resize(3);
    auto request = good_request(site);
    std::string text = InventedSite::header("[m]");
    for (const auto& m : site.marks)
        text += fmt::format(
            "S1,{},{:.7f},,,1.5\n", m.name,
            measure::wrap_0_2pi(std::atan2(m.east_m - site.east_m, m.north_m - site.north_m)) /
                measure::kRadPerDeg);
    request.sights.bytes = text;
    const StationReport report = first(request);
    EXPECT_EQ(report.global_test.dof, 0);
    EXPECT_NE(report.verdict.word, Word::proven);
    EXPECT_THAT(report.fit, HasSubstr("Nothing is left over"));
    EXPECT_THAT(remarks(report), Contains(HasSubstr("The station has no height")));
    ASSERT_FALSE(report.points.empty());
    EXPECT_FALSE(report.points[0].forecast.sd_height_m.has_value());
    EXPECT_THAT(report.notices, Contains(HasSubstr("judged in plan only")));
}

TEST(station_verdict, marks_without_height_still_place_the_station_in_plan) {
    const InventedSite site;
    auto request = good_request(site);
    request.marks.bytes = site.marks_csv(false);
    const StationReport report = first(request);
    EXPECT_FALSE(report.pose.has_height);
    // Readings to 1 µm; the sheet gives no height, so slopes are reduced by zenith angles alone.
    EXPECT_NEAR(report.pose.position_m.x(), site.east_m, 1e-4);
    EXPECT_NEAR(report.pose.position_m.y(), site.north_m, 1e-4);
    EXPECT_EQ(report.marks.size(), site.marks.size());
    for (const MarkReport& m : report.marks) EXPECT_FALSE(m.off_height_m.has_value());
}

TEST(station_verdict, narrow_fan_is_named_with_its_width) {
    InventedSite site;
    site.marks = {
        {"F1", 560.0, 310.0, 31.0}, {"F2", 566.0, 303.0, 31.0}, {"F3", 556.0, 318.0, 31.0}};
    const StationReport report = first(good_request(site));
    EXPECT_THAT(remarks(report), Contains(HasSubstr("All marks lie within")));
}

TEST(station_verdict, marks_in_line_are_named_with_the_line) {
    InventedSite site;
    site.marks = {
        {"L1", 480.0, 300.0, 31.0}, {"L2", 520.0, 300.0, 31.5}, {"L3", 560.0, 300.0, 31.0}};
    const StationReport report = first(good_request(site));
    EXPECT_THAT(remarks(report),
                Contains(HasSubstr("L1, L2 and L3 lie in one line, east to west")));
}

TEST(station_verdict, next_sight_is_a_mark_not_sighted_yet) {
    InventedSite site;
    const InventedSite whole;
    site.marks.resize(3);
    auto request = site.request();
    request.marks.bytes = whole.marks_csv();
    request.points = four_points(",0.006,0.010");
    const StationReport report = first(request);
    ASSERT_TRUE(report.next_sight.has_value());
    EXPECT_TRUE(report.next_sight->target == "A4" || report.next_sight->target == "A5");
    EXPECT_GT(report.next_sight->gain, 0.0);
}

TEST(station_verdict, words_are_in_the_unit_to_show) {
    auto request = good_request({});
    request.points = four_points(",0.00635,0.0127");
    request.show = measure::LengthStyle{measure::LengthUnit::foot, true, 16};
    EXPECT_THAT(first(request).verdict.because, HasSubstr("within 1/4 in in plan and 1/2 in"));
}

}  // namespace
}  // namespace layproof::acts
