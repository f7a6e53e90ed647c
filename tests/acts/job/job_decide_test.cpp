// Decisions recorded in a job, two crews, and the moment as of which a job is read.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/job/job_test_support.hpp"
#include "acts/shared/invented_site.hpp"
#include "base/text/time.hpp"

namespace layproof::acts {
namespace {

using job::DecisionKind;
using testing::expect_value;
using ::testing::HasSubstr;
using testing::InventedSite;
using testing::loose_mill_hall;
using testing::station_of;
using testing::take_mill_hall;

class job_decide : public job::JobTest {
protected:
    job::Job mill_hall_job() {
        job::Job job = create("a.job");
        expect_value(take(job, take_mill_hall()));
        return job;
    }

    DecideRequest about(DecisionKind kind, const std::string& subject) {
        return {kind, subject, "hit by a loader", "AB", clock.time_ms};
    }

    int used(const StationReport& report, const std::string& target) {
        int out = 0;
        for (const SightReport& sight : report.sights)
            if (sight.target == target && sight.used) ++out;
        return out;
    }

    std::int64_t sound_facts(const std::string& name) {
        job::Job job = open(name, job::Mode::read);
        const auto report = expect_value(job.verify());
        EXPECT_TRUE(report.sound()) << job::findings_text(report);
        return report.facts;
    }
};

TEST_F(job_decide, set_aside_in_the_job_is_set_aside_by_option) {
    job::Job job = mill_hall_job();
    const DecideAnswer answer = expect_value(decide(job, about(DecisionKind::set_aside, "S1:H4")));
    ASSERT_FALSE(answer.decided.empty());
    EXPECT_EQ(answer.decided[0].what, "S1 to H4");
    StationRequest loose = loose_mill_hall();
    loose.set_aside = {{"S1", "H4", 0, "hit by a loader (AB)"}};
    StationAnswer from_files = expect_value(run_station(loose));
    StationAnswer from_job = station_of(job);
    EXPECT_EQ(used(from_job.stations.at(0), "H4"), 0);
    from_files.notices.clear();
    from_job.notices.clear();
    EXPECT_EQ(to_json(from_job), to_json(from_files));
}

TEST_F(job_decide, one_pointing_of_several_can_be_set_aside_and_put_back) {
    job::Job job = mill_hall_job();
    const int all = used(station_of(job).stations.at(0), "H4");
    ASSERT_GE(all, 2);
    EXPECT_EQ(expect_value(decide(job, about(DecisionKind::set_aside, "S1:H4#2"))).decided.size(),
              1U);
    StationRequest loose = loose_mill_hall();
    loose.set_aside = {{"S1", "H4", 2, "hit by a loader (AB)"}};
    StationAnswer from_files = expect_value(run_station(loose));
    StationAnswer from_job = station_of(job);
    from_files.notices.clear();
    from_job.notices.clear();
    EXPECT_EQ(to_json(from_job), to_json(from_files));
    EXPECT_TRUE(
        expect_value(decide(job, about(DecisionKind::set_aside, "S1:H4#2"))).decided.empty());
    EXPECT_EQ(expect_value(decide(job, about(DecisionKind::put_back, "S1:H4"))).decided.size(), 1U);
    EXPECT_EQ(used(station_of(job).stations.at(0), "H4"), all);
}

TEST_F(job_decide, what_is_not_there_or_has_no_reason_is_refused_and_nothing_added) {
    job::Job job = mill_hall_job();
    const auto before = facts_in("a.job");
    for (const char* subject : {"S1:H99", "S9:H1", "S1:H4#99", "S1", "S1:H4#0", "S1:", ":H4"}) {
        const auto refused = decide(job, about(DecisionKind::set_aside, subject));
        ASSERT_FALSE(refused) << subject;
        EXPECT_EQ(refused.refusal().code, ErrorCode::target_unknown) << subject;
    }
    EXPECT_EQ(decide(job, about(DecisionKind::mark_moved, "H99")).refusal().code,
              ErrorCode::target_unknown);
    EXPECT_EQ(decide(job, about(DecisionKind::accept, "0190163d-8694-739b-aea5-966c26f8ad91"))
                  .refusal()
                  .code,
              ErrorCode::fact_unknown);
    DecideRequest silent = about(DecisionKind::set_aside, "S1:H4");
    silent.reason.clear();
    EXPECT_EQ(decide(job, silent).refusal().code, ErrorCode::value_missing);
    DecideRequest unsigned_request = about(DecisionKind::set_aside, "S1:H4");
    unsigned_request.initials.clear();
    EXPECT_EQ(decide(job, unsigned_request).refusal().code, ErrorCode::value_missing);
    EXPECT_EQ(facts_in("a.job"), before);
}

TEST_F(job_decide, moved_mark_is_not_used_until_new_coordinates_come) {
    job::Job job = mill_hall_job();
    const int all = used(station_of(job).stations.at(0), "H4");
    ASSERT_TRUE(decide(job, about(DecisionKind::mark_moved, "H4")));
    const StationAnswer moved = station_of(job);
    EXPECT_EQ(used(moved.stations.at(0), "H4"), 0);
    EXPECT_THAT(moved.notices, ::testing::Contains(HasSubstr("Mark H4 was decided to have moved")));
    clock.time_ms += 60'000;
    TakeRequest again;
    again.marks = testing::mill_hall("marks.csv");
    again.unit = measure::LengthUnit::foot;
    again.revision = "B";
    ASSERT_TRUE(take(job, again));
    EXPECT_EQ(used(station_of(job).stations.at(0), "H4"), all);
}

TEST_F(job_decide, as_of_before_the_decision_the_sights_are_in) {
    job::Job job = mill_hall_job();
    const std::int64_t before_ms = clock.time_ms;
    const std::string then = to_json(station_of(job));
    clock.time_ms += 3'600'000;
    ASSERT_TRUE(decide(job, about(DecisionKind::set_aside, "S1:H4")));
    EXPECT_NE(to_json(station_of(job)), then);
    EXPECT_EQ(to_json(station_of(job, before_ms)), then);
    EXPECT_TRUE(expect_value(view_of(job, before_ms)).decisions.empty());
    EXPECT_EQ(facts_of(job, std::int64_t{1000}).refusal().code, ErrorCode::no_marks);
}

class job_crews : public job_decide {
protected:
    /// Two crews with one sheet of marks and a station each; `second` is the other crew's name for
    /// its station.
    void begin(const std::string& second) {
        const InventedSite site;
        InventedSite elsewhere;
        elsewhere.east_m += 6.0;
        job::Job a = create("a.job");
        TakeRequest request;
        request.marks = {"marks.csv", site.marks_csv()};
        request.sights = {"crew-a.csv", site.sights_csv("S1")};
        expect_value(take(a, request));
        job::Job b = create("b.job", a.id());
        request.sights = {"crew-b.csv", elsewhere.sights_csv(second)};
        expect_value(take(b, request));
    }
};

TEST_F(job_crews, merged_job_has_both_stations_and_the_marks_once) {
    begin("S2");
    job::Job a = open("a.job");
    expect_value(a.merge_from(folder / "b.job"));
    const StationAnswer answer = station_of(a);
    ASSERT_EQ(answer.stations.size(), 2U);
    const InventedSite site;
    EXPECT_NEAR(answer.stations[0].pose.position_m.x(), site.east_m, 2e-6);
    EXPECT_NEAR(answer.stations[1].pose.position_m.x(), site.east_m + 6.0, 2e-6);
    EXPECT_EQ(expect_value(facts_of(a)).marks.size(), site.marks.size());
}

TEST_F(job_crews, one_station_name_of_two_crews_is_refused_until_one_is_accepted) {
    begin("S1");
    job::Job a = open("a.job");
    expect_value(a.merge_from(folder / "b.job"));
    const auto refused = facts_of(a);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.refusal().code, ErrorCode::duplicate_setup);
    EXPECT_THAT(refused.refusal().found, HasSubstr("Two crews"));

    const JobView view = expect_value(view_of(a));
    ASSERT_EQ(view.conflicts.size(), 1U);
    ASSERT_EQ(view.conflicts[0].facts.size(), 2U);
    EXPECT_THAT(refused.refusal().expected, HasSubstr(view.conflicts[0].facts[0].to_text()));
    const InventedSite site;
    for (std::size_t i = 0; i < 2; ++i) {
        clock.time_ms += 1000;
        expect_value(decide(a, about(DecisionKind::accept, view.conflicts[0].facts[i].to_text())));
        const StationAnswer answer = station_of(a);
        ASSERT_EQ(answer.stations.size(), 1U);
        EXPECT_EQ(answer.stations[0].sights.size(), 5U);
        EXPECT_NEAR(answer.stations[0].pose.position_m.x(), site.east_m + (i == 0 ? 0.0 : 6.0),
                    2e-6);
        EXPECT_THAT(answer.notices, ::testing::Contains(HasSubstr("5 sights of another crew")));
    }
}

TEST_F(job_crews, accepted_set_up_brings_the_sights_of_its_crew) {
    const InventedSite site;
    const auto crew = [&](job::Job& job, const char* station_height) {
        TakeRequest request;
        request.marks = {"marks.csv", site.marks_csv()};
        request.setups = {"setups.csv", "station,kind,mark,instrument_height [m]\nS1,occupied,A1," +
                                            std::string(station_height) + "\n"};
        InventedSite over_mark = site;
        over_mark.east_m = site.marks[0].east_m;
        over_mark.north_m = site.marks[0].north_m;
        over_mark.height_m = site.marks[0].height_m + std::stod(station_height);
        over_mark.marks.erase(over_mark.marks.begin());
        request.sights = {"sights.csv", over_mark.sights_csv()};
        expect_value(take(job, request));
    };
    job::Job a = create("a.job");
    crew(a, "1.500");
    job::Job b = create("b.job", a.id());
    crew(b, "1.625");
    expect_value(a.merge_from(folder / "b.job"));
    ASSERT_FALSE(facts_of(a));
    EXPECT_EQ(facts_of(a).refusal().code, ErrorCode::duplicate_setup);
    const JobView view = expect_value(view_of(a));
    ASSERT_EQ(view.conflicts.size(), 1U);
    ASSERT_EQ(view.conflicts[0].facts.size(), 2U);
    for (std::size_t i = 0; i < 2; ++i) {
        clock.time_ms += 1000;
        expect_value(decide(a, about(DecisionKind::accept, view.conflicts[0].facts[i].to_text())));
        const JobFacts facts = expect_value(facts_of(a));
        ASSERT_EQ(facts.setups.size(), 1U);
        EXPECT_DOUBLE_EQ(facts.setups[0].instrument_height_m.value(), i == 0 ? 1.5 : 1.625);
        EXPECT_EQ(facts.sights.size(), 4U);
        // Sights of the other crew would be 125 mm off in height.
        const StationAnswer answer = station_of(a);
        EXPECT_NEAR(answer.stations[0].pose.position_m.z(),
                    site.marks[0].height_m + facts.setups[0].instrument_height_m.value(), 1e-5);
    }
}

TEST_F(job_crews, both_crews_taking_one_file_are_no_contradiction) {
    job::Job a = create("a.job");
    expect_value(take(a, take_mill_hall()));
    const std::string alone = to_json(station_of(a));
    job::Job b = create("b.job", a.id());
    expect_value(take(b, take_mill_hall()));
    expect_value(a.merge_from(folder / "b.job"));
    EXPECT_EQ(to_json(station_of(a)), alone);
    EXPECT_GT(sound_facts("a.job"), 0);
}

TEST_F(job_decide, view_text_and_json_say_what_is_there) {
    job::Job job = mill_hall_job();
    expect_value(decide(job, about(DecisionKind::set_aside, "S1:H4#1")));
    const JobView view = expect_value(view_of(job));
    const std::string text = to_text(view);
    for (const char* piece : {"Invented site", "Unit ft", "H4", "Station S1", "set-aside S1 to H4",
                              "hit by a loader (AB)", "crew a.job", "head "})
        EXPECT_THAT(text, HasSubstr(piece));
    const std::string json = to_json(view);
    for (const char* piece : {"\"unit\": \"ft\"", "\"station\": \"S1\"", "\"initials\": \"AB\""})
        EXPECT_THAT(json, HasSubstr(piece));
}

TEST_F(job_decide, time_of_day_is_written_in_utc) {
    EXPECT_EQ(utc_text(0), "1970-01-01 00:00:00Z");
    EXPECT_EQ(utc_text(951782400999), "2000-02-29 00:00:00Z");
}

}  // namespace
}  // namespace layproof::acts
