#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "acts/lay/lay_site.hpp"
#include "acts/prove/prove.hpp"
#include "acts/shared/null_fields.hpp"
#include "acts/watch/watch.hpp"
#include "door/shapes.hpp"
#include "drawing/svg_fault.hpp"

namespace layproof::acts {
namespace {

using station::Word;
using testing::InventedDay;
using testing::point_at;

std::size_t at(int i) {
    return static_cast<std::size_t>(i);
}

ProveRequest quiet_job() {
    InventedDay day;
    day.set_up();
    day.add("S1", point_at("P1"), "lay", 8, 0);
    day.add("S1", point_at("P2", 0.004, 0.003), "lay", 8, 10);
    ProveRequest out;
    out.station = day.request();
    return out;
}

const ProvePoint& laid_named(const ProveAnswer& answer, const std::string& name) {
    for (const ProvePoint& point : answer.laid)
        if (answer.points[point.point].design.name == name) return point;
    ADD_FAILURE() << name;
    return answer.laid.front();
}

TEST(prove_request, points_are_judged_from_the_joint_adjustment) {
    const auto answer = run_prove(quiet_job());
    ASSERT_TRUE(answer) << answer.refusal().to_text();
    EXPECT_EQ(answer->laid.size(), 2U);
    const ProvePoint& second = laid_named(*answer, "P2");
    EXPECT_NEAR(second.verdict.deviation_m.x(), 0.004, 3e-4);
    EXPECT_NEAR(second.verdict.deviation_m.y(), 0.003, 3e-4);
    EXPECT_EQ(second.stations, std::vector<std::string>{"S1"});
    EXPECT_EQ(answer->marks.size(), InventedDay{}.site.marks.size());
    for (const ProveMark& mark : answer->marks) EXPECT_EQ(mark.word, Word::proven) << mark.name;
    EXPECT_TRUE(answer->moves.empty());
}

TEST(prove_request, job_is_proven_when_its_points_are_and_not_when_one_is_off) {
    InventedDay day;
    day.set_up();
    day.add("S1", point_at("P1"), "lay", 8, 0);
    ProveRequest good;
    good.station = day.request();
    const auto proven = run_prove(good);
    ASSERT_TRUE(proven) << proven.refusal().to_text();
    EXPECT_EQ(proven->proven, 1);
    EXPECT_TRUE(is_proven(*proven)) << proven->verdict.because;
    // Several times its tolerance.
    day.add("S1", point_at("P2", 0.03), "lay", 8, 10);
    ProveRequest bad;
    bad.station = day.request();
    const auto failed = run_prove(bad);
    ASSERT_TRUE(failed) << failed.refusal().to_text();
    EXPECT_EQ(failed->proven, 1);
    EXPECT_EQ(laid_named(*failed, "P2").verdict.word, Word::fails);
    EXPECT_FALSE(is_proven(*failed)) << failed->verdict.because;
}

TEST(prove_request, agrees_with_the_act_lay_on_one_set_up) {
    const ProveRequest request = quiet_job();
    const auto whole = run_prove(request);
    LayRequest alone;
    alone.station = request.station;
    const auto lay = run_lay(alone);
    ASSERT_TRUE(whole);
    ASSERT_TRUE(lay);
    ASSERT_EQ(lay->laid.size(), 2U);
    for (const LaidReport& report : lay->laid) {
        const ProvePoint& point = laid_named(*whole, report.figures.point);
        EXPECT_EQ(point.verdict.word, report.figures.verdict.word) << report.figures.point;
        // The same sights: places agree to what a lay sight of its own adds to its station.
        EXPECT_NEAR((point.verdict.deviation_m - report.figures.verdict.expected_m).norm(), 0.0,
                    2e-4);
    }
}

TEST(prove_request, json_is_of_its_shape_and_the_drawing_is_whole) {
    const auto answer = run_prove(quiet_job());
    ASSERT_TRUE(answer);
    const auto refusal = check_record("ProveAnswer", to_json(*answer));
    EXPECT_FALSE(refusal) << refusal->to_text();
    const std::string svg = to_svg(*answer);
    EXPECT_NE(svg.find("The whole job"), std::string::npos);
    EXPECT_NE(svg.find("P2"), std::string::npos);
    const std::string csv = prove_points_csv(*answer);
    EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'), 3);
}

TEST(prove_request, two_set_ups_hold_a_mark_that_one_alone_could_not_tell) {
    InventedDay day;
    day.set_up("S1");
    day.site.east_m += 12.0;
    day.set_up("S2");
    ProveRequest request;
    request.station = day.request();
    request.station.points.reset();
    const auto answer = run_prove(request);
    ASSERT_TRUE(answer) << answer.refusal().to_text();
    EXPECT_EQ(answer->setups.size(), 2U);
    EXPECT_EQ(answer->marks.size(), day.site.marks.size());
    for (const ProveMark& mark : answer->marks) EXPECT_EQ(mark.setups, 2) << mark.name;
}

TEST(prove_request, what_was_laid_from_a_set_up_that_moved_is_sighted_from_a_new_one) {
    InventedDay day;
    day.set_up();
    for (const int mark : {0, 2}) day.add("S1", day.site.marks[at(mark)], "check", 8, 30 + mark);
    day.site.east_m += 0.02;
    day.add("S1", point_at("P1", 0.02), "lay", 10, 0);
    for (const int mark : {0, 2}) day.add("S1", day.site.marks[at(mark)], "check", 10, 30 + mark);
    ProveRequest request;
    request.station = day.request();
    const auto answer = run_prove(request);
    ASSERT_TRUE(answer) << answer.refusal().to_text();
    const ProvePoint& point = laid_named(*answer, "P1");
    EXPECT_NE(point.verdict.word, Word::proven);
    EXPECT_NE(point.next.find("new set-up"), std::string::npos) << point.next;
    EXPECT_NE(answer->verdict.next.find("new set-up"), std::string::npos) << answer->verdict.next;
}

TEST(prove_request, levels_count_in_the_same_adjustment) {
    ProveRequest request = quiet_job();
    request.levels.push_back({"levels.csv", "from,to,rise [m]\nA1,A2,-1.155\n"});
    const auto answer = run_prove(request);
    ASSERT_TRUE(answer) << answer.refusal().to_text();
    ASSERT_EQ(answer->lines.size(), 1U);
    EXPECT_TRUE(answer->lines[0].used);
    EXPECT_NEAR(answer->lines[0].residual_m, 0.0, 0.002);
}

TEST(prove_request, null_stands_only_where_nothing_can_be_known) {
    const auto answer = run_prove(quiet_job());
    ASSERT_TRUE(answer);
    EXPECT_THAT(testing::null_fields(nlohmann::json::parse(to_json(*answer))),
                ::testing::UnorderedElementsAre(
                    "causes.from", "causes.to", "points.grid", "points.in_doubt_by", "setups.over",
                    "setups.probability_holds", "setups.sights.why_not_used", "setups.watch_says"));
}

}  // namespace
}  // namespace layproof::acts
