#include "acts/plan/plan.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

namespace layproof::acts {
namespace {

exchange::Document example_file(const std::string& name) {
    std::ifstream in(std::string(LAYPROOF_SOURCE_DIR) + "/examples/invented-mill-hall/" + name);
    std::ostringstream text;
    text << in.rdbuf();
    return {name, text.str()};
}

PlanRequest hall() {
    PlanRequest request;
    request.marks = example_file("marks.csv");
    request.points = example_file("points.csv");
    request.instrument = example_file("instrument.toml");
    request.obstacles = {example_file("obstacles.csv")};
    request.no_go = {example_file("no-go.csv")};
    request.rod_m = 0.12;
    request.step_m = 1.0;
    request.advice = false;
    return request;
}

/// Four marks around a floor of 20 m, nine points, and what stands there.
PlanRequest small_floor(const std::string& obstacles) {
    PlanRequest request;
    request.marks = {"marks.csv",
                     "mark,east [m],north [m],height [m]\n"
                     "A,-5,-6,0.1\nB,25,-5,0.0\nC,26,25,0.2\nD,-6,24,0.1\n"};
    std::string points = "point,east [m],north [m],height [m],tolerance_plan [m]\n";
    for (int i = 0; i < 9; ++i)
        points += "P" + std::to_string(i) + "," + std::to_string(4 + 6 * (i % 3)) + "," +
                  std::to_string(4 + 6 * (i / 3)) + ",0,0.006\n";
    request.points = {"points.csv", points};
    if (!obstacles.empty())
        request.obstacles = {
            {"obstacles.csv",
             "obstacle,kind,east [m],north [m],east_2 [m],north_2 [m],width [m],thickness [m],"
             "bottom [m],top [m]\n" +
                 obstacles}};
    request.instrument = exchange::Document{
        "i.toml", "angle_sd_arcsec = 2\ndistance_sd_mm = 1\nbubble_arcmin = 3\n"};
    request.rod_m = 0.1;
    request.step_m = 1.0;
    request.advice = false;
    return request;
}

PlanAnswer answer_of(const PlanRequest& request) {
    auto answer = run_plan(request);
    EXPECT_TRUE(answer) << (answer ? "" : answer.refusal().to_text());
    return answer ? std::move(*answer) : PlanAnswer{};
}

TEST(plan_act, invented_hall_is_proven_with_few_set_ups) {
    const PlanAnswer a = answer_of(hall());
    EXPECT_EQ(a.verdict.word, station::Word::proven) << to_text(a);
    EXPECT_GE(a.counted, a.wanted);
    EXPECT_LE(a.setups.size(), 3U);
    EXPECT_GE(a.at_least, 1);
    EXPECT_LE(static_cast<std::size_t>(a.at_least), a.setups.size());
    for (const PlanSetup& s : a.setups) {
        EXPECT_GE(s.marks.size(), 2U);
        EXPECT_GT(s.nothing_wrong, 0.4);
        EXPECT_EQ(std::count(s.marks.begin(), s.marks.end(), s.check), 0);
    }
    EXPECT_TRUE(is_proven(a));
}

TEST(plan_act, answer_goes_out_as_json_text_svg_and_table) {
    const PlanAnswer a = answer_of(hall());
    const auto json = nlohmann::json::parse(to_json(a));
    EXPECT_EQ(json["act"], "plan");
    EXPECT_EQ(json["setups"].size(), a.setups.size());
    EXPECT_EQ(json["map"]["expected"].size(), a.map.size());
    EXPECT_EQ(json["point_reports"].size(), 40U);
    const std::string text = to_text(a);
    EXPECT_NE(text.find("PROVEN"), std::string::npos);
    EXPECT_NE(text.find("Next: Set up at P1"), std::string::npos);
    EXPECT_LT(std::count(text.begin(), text.end(), '\n'), 45) << "one screen";
    const std::string svg = to_svg(a);
    EXPECT_EQ(svg.rfind("<svg", 0), 0U);
    EXPECT_NE(svg.find("P1"), std::string::npos);
    EXPECT_EQ(svg.find("nan"), std::string::npos);
    const std::string csv = setups_csv(a);
    EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'),
              static_cast<std::ptrdiff_t>(a.setups.size() + 1));
}

TEST(plan_act, same_answer_again) {
    EXPECT_EQ(to_json(answer_of(hall())), to_json(answer_of(hall())));
}

TEST(plan_act, tripod_dragged_about_is_told_what_each_place_is_worth) {
    auto scene = open_plan(hall());
    ASSERT_TRUE(scene);
    const double ft = 0.3048;
    const PlanPlace place = plan_position(*scene, 5089.3 * ft, 10140.2 * ft);
    EXPECT_EQ(place.standing, plan::Standing::free);
    EXPECT_GE(place.marks.size(), 4U);
    EXPECT_GT(place.counted, 20);
    EXPECT_EQ(place.points.size(), place.chance.size());
    EXPECT_TRUE(place.sd_plan_m);
    EXPECT_NE(place.says.find("will be proven"), std::string::npos) << place.says;
    EXPECT_EQ(nlohmann::json::parse(to_json(place))["standing"], "free");
    EXPECT_EQ(plan_position(*scene, 5100.0 * ft, 10070.0 * ft).standing, plan::Standing::no_go);
    EXPECT_EQ(plan_position(*scene, 5071.0 * ft, 10062.0 * ft).standing,
              plan::Standing::inside_obstacle);
    EXPECT_EQ(plan_position(*scene, 5072.6 * ft, 10062.5 * ft).standing, plan::Standing::no_room);
    EXPECT_NE(plan_position(*scene, NAN, 0.0).says, "");
}

TEST(plan_act, walls_all_round_are_said) {
    const PlanRequest request = small_floor(
        "w1,wall,-3,-3,23,-3,,0.2,0,4\nw2,wall,23,-3,23,23,,0.2,0,4\n"
        "w3,wall,23,23,-3,23,,0.2,0,4\nw4,wall,-3,23,-3,-3,,0.2,0,4\n");
    const PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.verdict.word, station::Word::fails);
    EXPECT_NE(a.verdict.because.find("No mark is in sight from any place"), std::string::npos)
        << a.verdict.because;
    EXPECT_TRUE(a.setups.empty());
    auto scene = open_plan(request);
    ASSERT_TRUE(scene);
    EXPECT_NE(plan_position(*scene, 10.0, 10.0).says.find("No mark is in sight"),
              std::string::npos);
    EXPECT_NE(to_svg(a).find("Where to stand: fails"), std::string::npos);
}

TEST(plan_act, two_marks_are_said_to_be_too_few) {
    PlanRequest request = small_floor("");
    request.marks.bytes = "mark,east [m],north [m],height [m]\nA,-5,-6,0.1\nB,25,-5,0.0\n";
    const PlanAnswer a = answer_of(request);
    EXPECT_NE(a.verdict.because.find("two cannot check each other"), std::string::npos)
        << a.verdict.because;
    request.marks.bytes = "mark,east [m],north [m],height [m]\nA,-5,-6,0.1\n";
    EXPECT_NE(answer_of(request).verdict.because.find("one mark does not place a station"),
              std::string::npos);
}

TEST(plan_act, obstacle_over_a_mark_is_said) {
    const PlanAnswer a = answer_of(small_floor("container,column,-5,-6,,,2,,0,2.5\n"));
    EXPECT_EQ(a.marks[0].under, "container");
    EXPECT_NE(to_text(a).find("container stands over mark A"), std::string::npos);
}

TEST(plan_act, point_inside_an_obstacle_and_point_hidden_are_told_apart) {
    PlanRequest request = small_floor(
        "block,column,4,4,,,2,,0,3\n"
        "w1,wall,14,14,18,14,,0.2,0,4\nw2,wall,18,14,18,18,,0.2,0,4\n"
        "w3,wall,18,18,14,18,,0.2,0,4\nw4,wall,14,18,14,14,,0.2,0,4\n");
    const PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.point_reports[0].state, PlanPointState::in_obstacle);
    EXPECT_EQ(a.point_reports[0].why, PlanPointWhy::covered);
    EXPECT_EQ(a.point_reports[0].says, "block stands on it.");
    EXPECT_EQ(a.point_reports[8].state, PlanPointState::never_in_sight);
    EXPECT_EQ(a.point_reports[8].why, PlanPointWhy::hidden);
    EXPECT_EQ(a.verdict.word, station::Word::in_doubt);
    EXPECT_NE(a.verdict.because.find("1 point lies under an obstacle"), std::string::npos)
        << a.verdict.because;
    EXPECT_NE(a.verdict.because.find("1 point is hidden from every place for a tripod"),
              std::string::npos);
}

TEST(plan_act, point_under_what_the_rod_reaches_over_is_not_counted) {
    // The prism stands over the pallet, the rod's foot does not get to the point.
    PlanRequest request = small_floor("pallet,column,10,10,,,1.2,,0,0.4\n");
    request.rod_m = 0.6;
    PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.point_reports[4].why, PlanPointWhy::covered);
    EXPECT_EQ(a.point_reports[4].best, 0.0);
    // A point without a height is laid on top of it.
    request.points.bytes.replace(request.points.bytes.find("P4,10,10,0,"), 11, "P4,10,10,,");
    request.floor_m = 0.0;
    a = answer_of(request);
    EXPECT_EQ(a.point_reports[4].why, PlanPointWhy::none) << a.point_reports[4].says;
}

TEST(plan_act, mark_under_what_the_rod_reaches_over_is_not_sighted) {
    PlanRequest request = small_floor("pallet,column,-5,-6,,,1.2,,0,0.4\n");
    request.rod_m = 1.5;
    const PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.marks[0].under, "pallet");
    EXPECT_NEAR(a.marks[0].east_m, -5.0, 1e-12);
    auto scene = open_plan(request);
    ASSERT_TRUE(scene);
    const PlanPlace place = plan_position(*scene, 10.0, 10.0);
    EXPECT_EQ(place.marks, (std::vector<std::string>{"B", "C", "D"}));
}

TEST(plan_act, point_beyond_every_place_by_more_than_the_longest_sight_is_told_apart) {
    PlanRequest request = small_floor("");
    request.points.bytes += "far,60,10,0,0.006\nhigh,10,12,70,0.006\n";
    request.floor_m = 0.0;
    request.farthest_m = 20.0;
    request.no_go = {{"no-go.csv",
                      "obstacle,kind,east [m],north [m]\nroad,no-go,25,-10\nroad,no-go,90,-10\n"
                      "road,no-go,90,40\nroad,no-go,25,40\n"}};
    const PlanAnswer a = answer_of(request);
    ASSERT_EQ(a.point_reports.size(), 11U);
    EXPECT_EQ(a.point_reports[9].state, PlanPointState::out_of_reach);
    EXPECT_EQ(a.point_reports[9].why, PlanPointWhy::far);
    // The last column of places west of the road is within half a step of 25 m.
    EXPECT_NE(a.point_reports[9].says.find("the longest sight is 20.0 m"), std::string::npos)
        << a.point_reports[9].says;
    EXPECT_EQ(a.point_reports[10].why, PlanPointWhy::far);
    EXPECT_NE(a.point_reports[10].says.find("too steep"), std::string::npos)
        << a.point_reports[10].says;
}

TEST(plan_act, point_seen_only_where_too_few_marks_are_is_told_apart) {
    // Walls round the building, marks inside, one point outside.
    PlanRequest request = small_floor(
        "w1,wall,-1,-1,21,-1,,0.2,0,4\nw2,wall,21,-1,21,21,,0.2,0,4\n"
        "w3,wall,21,21,-1,21,,0.2,0,4\nw4,wall,-1,21,-1,-1,,0.2,0,4\n");
    request.marks.bytes =
        "mark,east [m],north [m],height [m]\nA,1,1,0.1\nB,19,1,0\nC,19,19,0.2\nD,1,19,0.1\n";
    request.points.bytes += "out,35,10,0,0.006\n";
    const PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.point_reports[9].why, PlanPointWhy::few_marks) << a.point_reports[9].says;
    EXPECT_EQ(a.point_reports[9].state, PlanPointState::in_doubt);
    EXPECT_EQ(a.provable, 9);
}

TEST(plan_act, whole_floor_barred_is_said) {
    PlanRequest request = small_floor("");
    request.no_go = {{"no-go.csv",
                      "obstacle,kind,east [m],north [m]\nall,no-go,-20,-20\nall,no-go,40,-20\n"
                      "all,no-go,40,40\nall,no-go,-20,40\n"}};
    const PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.free_places, 0);
    EXPECT_NE(a.verdict.because.find("no place on the floor where a tripod may stand"),
              std::string::npos);
}

TEST(plan_act, advice_says_what_a_short_rod_and_a_new_mark_would_bring) {
    PlanRequest request = small_floor("");
    request.rod_m = 2.0;
    request.instrument->bytes = "angle_sd_arcsec = 5\ndistance_sd_mm = 2\nbubble_arcmin = 5\n";
    request.advice = true;
    const PlanAnswer a = answer_of(request);
    EXPECT_EQ(a.provable, 0);
    ASSERT_FALSE(a.advice.empty());
    EXPECT_EQ(a.advice.front().gained, a.advice.front().provable);
    EXPECT_TRUE(std::any_of(a.advice.begin(), a.advice.end(),
                            [](const auto& d) { return d.aid == "short-rod"; }));
    PlanRequest few = small_floor("");
    few.marks.bytes = "mark,east [m],north [m],height [m]\nA,-5,-6,0.1\nB,25,-5,0.0\n";
    few.advice = true;
    const PlanAnswer b = answer_of(few);
    ASSERT_FALSE(b.advice.empty());
    EXPECT_EQ(b.advice.front().aid, "new-mark");
    EXPECT_GT(b.advice.front().gained, 0);
    EXPECT_EQ(b.verdict.next, b.advice.front().says);
}

TEST(plan_act, figures_that_make_no_sense_are_refused) {
    const auto code = [](const PlanRequest& request) {
        const auto answer = run_plan(request);
        return answer ? ErrorCode{} : answer.refusal().code;
    };
    PlanRequest request = small_floor("");
    request.share = 0.0;
    EXPECT_EQ(code(request), ErrorCode::out_of_range);
    request = small_floor("");
    request.step_m = NAN;
    EXPECT_EQ(code(request), ErrorCode::out_of_range);
    request = small_floor("");
    request.points.bytes = "point,east [m],north [m]\n";
    EXPECT_EQ(code(request), ErrorCode::value_missing);
    request.points.bytes = "point,east [m],north [m]\nP,0,0\nQ,90000,0\n";
    EXPECT_EQ(code(request), ErrorCode::out_of_range);
}

class StopAtOnce : public Progress {
public:
    void report(double, std::string_view) override {}
    bool stop_requested() override { return true; }
};

TEST(plan_act, wish_to_stop_is_heeded) {
    PlanRequest request = small_floor("");
    StopAtOnce stop;
    request.progress = &stop;
    const auto answer = run_plan(request);
    ASSERT_FALSE(answer);
    EXPECT_EQ(answer.refusal().code, ErrorCode::stopped);
}

}  // namespace
}  // namespace layproof::acts
