// One station, or some points, of a whole job.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "acts/job/job_test_support.hpp"
#include "acts/lay/lay_site.hpp"
#include "acts/watch/watch.hpp"

namespace layproof::acts {
namespace {

using ::testing::Contains;
using testing::expect_value;
using ::testing::HasSubstr;
using testing::InventedDay;
using ::testing::Not;
using testing::point_at;
using testing::take_mill_hall;

InventedDay two_stations() {
    InventedDay day;
    day.set_up("S1");
    day.add("S1", point_at("P1"), "lay", 8, 0);
    day.add("S1", point_at("P2"), "lay", 8, 5);
    day.set_up("S2");
    day.add("S2", point_at("P3", 0.030), "lay", 8, 10);
    return day;
}

StationRequest mill_hall_request(const job::Job& job,
                                 const std::optional<std::string>& station = {}) {
    StationRequest out;
    out.facts = expect_value(facts_of(job));
    out.only_station = station;
    return out;
}

class choice_of_station : public job::JobTest {};

TEST_F(choice_of_station, station_of_a_job_is_that_of_the_whole_job) {
    job::Job job = create("a.job");
    expect_value(take(job, take_mill_hall()));
    const StationAnswer all = expect_value(run_station(mill_hall_request(job)));
    ASSERT_GT(all.stations.size(), 1U);
    const std::string first_sight = all.stations[1].sights.at(0).target;
    expect_value(
        decide(job, {job::DecisionKind::set_aside, all.stations[1].station + ":" + first_sight,
                     "rod leaned", "AB", 1'900'000'000'000}));
    const auto whole =
        nlohmann::json::parse(to_json(expect_value(run_station(mill_hall_request(job)))));
    for (std::size_t k = 0; k < all.stations.size(); ++k) {
        const std::string name = all.stations[k].station;
        const StationAnswer read = expect_value(run_station(mill_hall_request(job, name)));
        ASSERT_EQ(read.stations.size(), 1U);
        EXPECT_EQ(nlohmann::json::parse(to_json(read))["stations"][0], whole["stations"][k]);
    }
}

TEST_F(choice_of_station, unknown_one_is_refused_by_name) {
    job::Job job = create("a.job");
    expect_value(take(job, take_mill_hall()));
    const auto facts = facts_of(job, {}, "S99");
    ASSERT_FALSE(facts.ok());
    EXPECT_EQ(facts.refusal().code, ErrorCode::target_unknown);
    EXPECT_THAT(facts.refusal().to_text(), HasSubstr("S99"));
    StationRequest request = two_stations().request();
    request.only_station = "S99";
    for (const auto code :
         {run_station(request).refusal().code, run_lay({request, {}, {}, {}}).refusal().code,
          run_watch({request, watch::Ground::slab, 3600.0}).refusal().code})
        EXPECT_EQ(code, ErrorCode::target_unknown);
}

TEST(choice_of_one, station_is_solved_alone_by_each_act) {
    StationRequest request = two_stations().request();
    request.only_station = "S1";
    const LayAnswer laid = expect_value(run_lay({request, {}, {}, {}}));
    ASSERT_EQ(laid.stations.size(), 1U);
    EXPECT_EQ(laid.stations[0].station.station, "S1");
    EXPECT_EQ(laid.laid.size(), 2U);
    EXPECT_EQ(laid.fails, 0);
    const WatchAnswer day = expect_value(run_watch({request, watch::Ground::slab, 3600.0}));
    ASSERT_EQ(day.stations.size(), 1U);
    EXPECT_EQ(day.stations[0].day.points.size(), 2U);
}

TEST(choice_of_points, station_judges_them_and_lay_sets_them_out) {
    StationRequest request = two_stations().request();
    request.only_points = {"P4", "P2"};
    const StationAnswer station = expect_value(run_station(request));
    ASSERT_EQ(station.stations.at(0).points.size(), 2U);
    EXPECT_EQ(station.stations[0].points[0].target.name, "P2");
    const LayAnswer answer = expect_value(run_lay({request, {}, {}, {}}));
    EXPECT_EQ(answer.points.size(), 4U);
    EXPECT_EQ(answer.laid.size(), 3U);
    for (const LayStation& one : answer.stations) {
        ASSERT_EQ(one.setting_out.size(), 2U);
        EXPECT_EQ(one.setting_out[0].point, 1U);
        EXPECT_EQ(one.setting_out[1].point, 3U);
        EXPECT_EQ(one.setting_out[1].figures->point, "P4");
    }
    ASSERT_FALSE(answer.tape.empty());
    for (const lay::TapeDistance& tape : answer.tape) {
        if (tape.is_diagonal) continue;
        EXPECT_TRUE(tape.from == 1 || tape.from == 3 || tape.to == 1 || tape.to == 3);
    }
}

TEST(choice_of_points, unknown_one_is_refused_by_name) {
    StationRequest request = two_stations().request();
    request.only_points = {"P1", "P77"};
    const auto answer = run_lay({request, {}, {}, {}});
    ASSERT_FALSE(answer.ok());
    EXPECT_EQ(answer.refusal().code, ErrorCode::target_unknown);
    EXPECT_THAT(answer.refusal().to_text(), HasSubstr("P77"));
}

/// 50,001 points from two stations are more figures than are given without a choice.
TEST(choice_left_open, long_job_has_figures_for_the_points_sighted) {
    StationRequest request = two_stations().request();
    std::string points = request.points->bytes;
    for (int i = 5; i <= 50'001; ++i)
        points += fmt::format("P{},{:.3f},{:.3f},30,0.010,0.010\n", i, 480.0 + 0.2 * (i % 250),
                              220.0 + 0.2 * (i / 250));
    request.points->bytes = points;
    LayAnswer answer = expect_value(run_lay({request, {}, {}, {}}));
    EXPECT_EQ(answer.points.size(), 50'001U);
    EXPECT_EQ(answer.stations.at(0).setting_out.size(), 2U);
    EXPECT_EQ(answer.stations.at(0).station.points.size(), 2U);
    EXPECT_EQ(answer.stations.at(1).setting_out.size(), 1U);
    EXPECT_EQ(answer.stations.at(1).setting_out.at(0).point, 2U);
    EXPECT_EQ(answer.laid.size(), 3U);
    EXPECT_LT(answer.tape.size(), 20U);
    EXPECT_THAT(answer.notices, Contains(HasSubstr("points sighted from it only")));
    request.only_points = {"P40000"};
    answer = expect_value(run_lay({request, {}, {}, {}}));
    EXPECT_EQ(answer.stations.at(1).setting_out.size(), 1U);
    EXPECT_THAT(answer.notices, Not(Contains(HasSubstr("points sighted from it only"))));
}

class job_of_lay : public job::JobTest {
protected:
    static TakeRequest invented() {
        const StationRequest loose = two_stations().request();
        TakeRequest out;
        out.marks = loose.marks;
        out.sights = loose.sights;
        out.points = loose.points;
        out.instrument = loose.instrument;
        return out;
    }
    static LayRequest of(const job::Job& job) {
        LayRequest out;
        out.station.facts = expect_value(facts_of(job));
        return out;
    }
    static exchange::Document grid(const std::string& line, const std::string& bracket) {
        return {"grid.csv",
                fmt::format("line,east_1{0},north_1{0},east_2{0},north_2{0}\n{1},500,255,530,255\n"
                            "{1}x,505,230,505,260\n",
                            bracket, line)};
    }
};

TEST_F(job_of_lay, grid_lines_taken_into_a_job_are_used_and_the_last_count) {
    job::Job job = create("a.job");
    TakeRequest request = invented();
    request.grid = grid("Q", " [m]");
    const TakeAnswer taken = expect_value(take(job, request));
    EXPECT_EQ(taken.documents.back().role, "grid");
    EXPECT_EQ(expect_value(run_lay(of(job))).laid.at(0).figures.design_grid->words, "Q/Qx");
    TakeRequest later;
    later.grid = grid("R", " [m]");
    expect_value(take(job, later));
    EXPECT_EQ(expect_value(run_lay(of(job))).laid.at(0).figures.design_grid->words, "R/Rx");
    LayRequest own = of(job);
    own.grid = grid("T", " [m]");
    EXPECT_EQ(expect_value(run_lay(own)).laid.at(0).figures.design_grid->words, "T/Tx");
}

TEST_F(job_of_lay, grid_lines_keep_the_unit_they_were_taken_with) {
    job::Job job = create("a.job");
    TakeRequest request = invented();
    request.grid = grid("Q", "");
    request.unit = measure::LengthUnit::metre;
    expect_value(take(job, request));
    EXPECT_EQ(expect_value(run_lay(of(job))).laid.at(0).figures.design_grid->words, "Q/Qx");
}

TEST_F(job_of_lay, bad_grid_lines_leave_the_job_as_it_was) {
    job::Job job = create("a.job");
    TakeRequest request = invented();
    request.grid = grid("Q", " [m]");
    request.grid->bytes += "Q,1,1,2,2\n";
    const std::size_t before = expect_value(job.summary()).kinds.size();
    EXPECT_FALSE(take(job, request).ok());
    EXPECT_EQ(expect_value(job.summary()).kinds.size(), before);
}

TEST_F(job_of_lay, instrument_taken_last_counts_unless_one_is_given) {
    job::Job job = create("a.job");
    TakeRequest request = invented();
    expect_value(take(job, request));
    TakeRequest later;
    later.instrument = exchange::Document{
        "other.toml", "name = \"Other\"\nangle_sd_arcsec = 20.0\ndistance_sd_mm = 10.0\n"};
    expect_value(take(job, later));
    LayRequest own = of(job);
    const LayAnswer last = expect_value(run_lay(own));
    EXPECT_THAT(last.notices, Contains(HasSubstr("holds 2 instruments")));
    own.station.instrument = testing::good_instrument();
    const LayAnswer good = expect_value(run_lay(own));
    EXPECT_THAT(good.notices, Not(Contains(HasSubstr("instruments"))));
    EXPECT_LT(good.stations.at(0).station.pose.covariance(0, 0) * 4.0,
              last.stations.at(0).station.pose.covariance(0, 0));
}

}  // namespace
}  // namespace layproof::acts
