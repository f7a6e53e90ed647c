// Another crew's file taken over leaves a moment in the strip.

#include "acts/job/merge.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "acts/job/job_test_support.hpp"
#include "door/sheet.hpp"

namespace layproof::acts {
namespace {

using layproof::testing::expect_value;
using layproof::testing::take_mill_hall;
using ::testing::HasSubstr;

class job_merge : public job::JobTest {
protected:
    void SetUp() override {
        job::Job a = create("a.job");
        expect_value(take(a, take_mill_hall()));
        expect_value(a.copy_to(folder / "b.job"));
    }
    void decide_in(const char* file, const char* subject) {
        job::Job job = open(file, job::Mode::write);
        DecideRequest request;
        request.kind = job::DecisionKind::set_aside;
        request.subject = subject;
        request.reason = "rod leaned";
        request.initials = "AB";
        request.time_ms = clock.now_ms();
        expect_value(decide(job, request));
    }
    job::MergeReport merge_into(const char* file, const char* other) {
        job::Job job = open(file, job::Mode::write);
        return expect_value(merge(job, folder / other, {}, clock.now_ms()));
    }
    std::vector<Moment> moments(const char* file) {
        return expect_value(moments_of(open(file, job::Mode::read)));
    }
};

TEST_F(job_merge, leaves_a_moment_that_says_how_much_came_over) {
    decide_in("b.job", "S1:H3");
    const std::size_t before = moments("a.job").size();
    const job::MergeReport report = merge_into("a.job", "b.job");
    ASSERT_GT(report.facts_new, 0);
    const auto now = moments("a.job");
    ASSERT_GT(now.size(), before);
    EXPECT_EQ(now.back().what, "merge");
    EXPECT_THAT(now.back().says, HasSubstr("Merged b.job: "));
    EXPECT_THAT(now.back().says, HasSubstr(std::to_string(report.facts_new) + " entr"));
}

TEST_F(job_merge, of_nothing_new_leaves_no_moment) {
    decide_in("b.job", "S1:H3");
    merge_into("a.job", "b.job");
    const std::size_t after_one = moments("a.job").size();
    EXPECT_EQ(merge_into("a.job", "b.job").facts_new, 0);
    EXPECT_EQ(moments("a.job").size(), after_one);
}

TEST_F(job_merge, in_turn_comes_to_an_end) {
    decide_in("b.job", "S1:H3");
    merge_into("a.job", "b.job");
    merge_into("b.job", "a.job");
    merge_into("a.job", "b.job");
    merge_into("b.job", "a.job");
    const std::size_t a = moments("a.job").size();
    EXPECT_EQ(merge_into("a.job", "b.job").facts_new, 0);
    EXPECT_EQ(merge_into("b.job", "a.job").facts_new, 0);
    EXPECT_EQ(moments("a.job").size(), a);
}

}  // namespace
}  // namespace layproof::acts
