// Files taken into a job, and the act "station" from it.

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/job/job_test_support.hpp"
#include "acts/shared/invented_site.hpp"

namespace layproof::acts {
namespace {

using testing::expect_value;
using testing::InventedSite;
using testing::loose_mill_hall;
using testing::station_of;
using testing::take_mill_hall;

class job_take : public job::JobTest {
protected:
    int count(const job::Job& job) {
        int out = 0;
        for (const auto& kind : expect_value(job.summary()).kinds)
            out += static_cast<int>(kind.facts);
        return out;
    }
};

TEST_F(job_take, station_from_the_job_is_the_station_from_the_files) {
    job::Job job = create("a.job");
    const TakeAnswer taken = expect_value(take(job, take_mill_hall()));
    EXPECT_EQ(taken.unit, measure::LengthUnit::foot);
    StationAnswer from_job = station_of(job);
    StationAnswer from_files = expect_value(run_station(loose_mill_hall()));
    ASSERT_FALSE(from_files.stations.empty());
    // What the readers remark about a file is said when it is taken, not at every answer.
    from_files.notices.clear();
    from_job.notices.clear();
    EXPECT_EQ(to_json(from_job), to_json(from_files));
    EXPECT_EQ(to_text(from_job), to_text(from_files));
}

TEST_F(job_take, every_row_is_counted_as_new_once) {
    job::Job job = create("a.job");
    const TakeAnswer first = expect_value(take(job, take_mill_hall()));
    const int facts = count(job);
    const TakeAnswer again = expect_value(take(job, take_mill_hall()));
    EXPECT_EQ(count(job), facts);
    ASSERT_EQ(first.documents.size(), 5U);
    ASSERT_EQ(again.documents.size(), 5U);
    for (std::size_t i = 0; i < 5; ++i) {
        EXPECT_GT(first.documents[i].rows_new, 0) << first.documents[i].name;
        EXPECT_EQ(first.documents[i].rows_known, 0);
        EXPECT_FALSE(first.documents[i].is_known);
        EXPECT_EQ(again.documents[i].rows_new, 0);
        EXPECT_EQ(again.documents[i].rows_known, first.documents[i].rows_new);
        EXPECT_TRUE(again.documents[i].is_known);
    }
}

TEST_F(job_take, same_bytes_under_another_name_add_nothing) {
    job::Job job = create("a.job");
    TakeRequest request = take_mill_hall();
    request.note = "by mail";
    ASSERT_TRUE(take(job, request));
    const int facts = count(job);
    request.marks->name = "sent again/sheet 4.csv";
    request.note.clear();
    const TakeAnswer again = expect_value(take(job, request));
    EXPECT_EQ(count(job), facts);
    EXPECT_EQ(again.documents[0].name, "marks.csv");
}

TEST_F(job_take, two_equal_rows_of_one_sheet_are_two_sights) {
    const InventedSite site;
    job::Job job = create("a.job");
    TakeRequest request;
    request.marks = {"marks.csv", site.marks_csv()};
    request.sights = {"sights.csv", site.sights_csv() + site.sight("S1", site.marks[0])};
    const TakeAnswer taken = expect_value(take(job, request));
    EXPECT_EQ(taken.documents[1].rows_new, 6);
    EXPECT_EQ(station_of(job).stations.at(0).sights.size(), 6U);
}

TEST_F(job_take, sights_file_that_grew_brings_its_new_rows_only) {
    const InventedSite site;
    std::string text = InventedSite::header("[m]", ",time");
    const auto row = [&](std::size_t mark, const char* time) {
        return site.sight("S1", site.marks[mark], nullptr,
                          fmt::format(",2031-03-04T{}:00-05:00", time));
    };
    for (std::size_t i = 0; i < 4; ++i) text += row(i, "10:00");
    job::Job job = create("a.job");
    TakeRequest request;
    request.marks = {"marks.csv", site.marks_csv()};
    request.sights = {"morning.csv", text};
    ASSERT_TRUE(take(job, request));
    request.sights = {"noon.csv", text + row(4, "11:00") + row(0, "12:00")};
    const TakeAnswer grown = expect_value(take(job, request));
    EXPECT_EQ(grown.documents[1].rows_new, 2);
    EXPECT_EQ(grown.documents[1].rows_known, 4);
    EXPECT_EQ(station_of(job).stations.at(0).sights.size(), 6U);
}

TEST_F(job_take, equal_sights_without_time_are_taken_and_said) {
    const InventedSite site;
    job::Job job = create("a.job");
    TakeRequest request;
    request.marks = {"marks.csv", site.marks_csv()};
    request.sights = {"morning.csv", site.sights_csv()};
    EXPECT_TRUE(expect_value(take(job, request)).notices.empty());
    request.sights = {"noon.csv", site.sights_csv() + site.sight("S1", site.marks[0])};
    const TakeAnswer grown = expect_value(take(job, request));
    EXPECT_EQ(grown.documents[1].rows_new, 6);
    EXPECT_THAT(grown.notices,
                ::testing::Contains(::testing::HasSubstr("6 of its sights read exactly")));
}

TEST_F(job_take, refused_document_leaves_the_job_as_it_was) {
    job::Job job = create("a.job");
    ASSERT_TRUE(take(job, take_mill_hall()));
    const auto before = facts_in("a.job");
    TakeRequest request;
    const InventedSite site;
    request.marks = {"more.csv", site.marks_csv()};
    request.sights = {"sights.csv", InventedSite::header("[m]") + "S9,A1,abc,90,20,1.5\n"};
    const auto refused = take(job, request);
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.refusal().code, ErrorCode::not_an_angle);
    EXPECT_EQ(facts_in("a.job"), before);
}

TEST_F(job_take, nothing_to_take_is_refused) {
    job::Job job = create("a.job");
    const auto refused = take(job, TakeRequest{});
    ASSERT_FALSE(refused);
    EXPECT_EQ(refused.refusal().code, ErrorCode::value_missing);
}

TEST_F(job_take, first_unit_stated_stays_the_unit_of_the_job) {
    const InventedSite site;
    InventedSite feet;
    feet.unit_m = 0.3048;
    feet.bracket = "[ft]";
    job::Job job = create("a.job");
    TakeRequest first;
    first.marks = {"marks.csv", site.marks_csv()};
    EXPECT_EQ(expect_value(take(job, first)).unit, measure::LengthUnit::metre);
    TakeRequest second;
    second.sights = {"sights.csv", feet.sights_csv()};
    EXPECT_EQ(expect_value(take(job, second)).unit, measure::LengthUnit::metre);
    EXPECT_EQ(station_of(job).unit, measure::LengthUnit::metre);
}

TEST_F(job_take, job_without_marks_or_sights_is_refused) {
    const InventedSite site;
    job::Job job = create("a.job");
    EXPECT_EQ(facts_of(job).refusal().code, ErrorCode::no_marks);
    TakeRequest request;
    request.marks = {"marks.csv", site.marks_csv()};
    ASSERT_TRUE(take(job, request));
    EXPECT_EQ(facts_of(job).refusal().code, ErrorCode::no_sights);
}

TEST_F(job_take, later_revision_of_the_sheet_counts_and_the_earlier_stays_readable) {
    InventedSite site;
    job::Job job = create("a.job");
    TakeRequest request;
    request.marks = {"marks-a.csv", site.marks_csv()};
    request.sights = {"sights.csv", site.sights_csv()};
    request.revision = "A";
    ASSERT_TRUE(take(job, request));
    const std::int64_t before_ms = clock.time_ms;
    const double east_m = site.marks[0].east_m;
    clock.time_ms += 60'000;
    site.marks[0].east_m += 0.5;
    TakeRequest later;
    later.marks = {"marks-b.csv", site.marks_csv()};
    later.revision = "B";
    ASSERT_TRUE(take(job, later));
    const auto east_of_a1 = [&](const job::AsOf& as_of) {
        const JobFacts facts = expect_value(facts_of(job, as_of));
        for (const auto& mark : facts.marks)
            if (mark.name == "A1") return *mark.east_m;
        return 0.0;
    };
    EXPECT_DOUBLE_EQ(east_of_a1({}), east_m + 0.5);
    EXPECT_DOUBLE_EQ(east_of_a1(before_ms), east_m);
}

TEST_F(job_take, causes_taken_are_those_of_the_station) {
    job::Job job = create("a.job");
    TakeRequest request = take_mill_hall();
    ASSERT_TRUE(take(job, request));
    const auto p_before = station_of(job).stations.at(0).causes;
    TakeRequest causes;
    causes.causes = {"causes.toml",
                     "[nothing-wrong]\nfrequency = 0.9\n"
                     "[mark-moved]\nfrequency = 0.1\nsizes_mm = [5, 20, 60]\n"};
    ASSERT_TRUE(take(job, causes));
    StationRequest loose = loose_mill_hall();
    loose.causes = causes.causes;
    const StationAnswer from_files = expect_value(run_station(loose));
    const StationAnswer from_job = station_of(job);
    ASSERT_EQ(from_job.stations[0].causes.size(), from_files.stations[0].causes.size());
    for (std::size_t i = 0; i < from_files.stations[0].causes.size(); ++i)
        EXPECT_DOUBLE_EQ(from_job.stations[0].causes[i].probability,
                         from_files.stations[0].causes[i].probability);
    EXPECT_NE(from_job.stations[0].causes.size(), p_before.size());
}

}  // namespace
}  // namespace layproof::acts
