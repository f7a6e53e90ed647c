// Long takes tell where they are, and leave the job as it was when they are stopped.

#include <gtest/gtest.h>

#include <fmt/format.h>

#include "acts/job/job_test_support.hpp"
#include "acts/shared/progress.hpp"

namespace layproof::acts {
namespace {

using layproof::testing::expect_value;

/// Asks to stop at the n-th look.
class StopAt final : public Progress {
public:
    explicit StopAt(int looks) : looks_(looks) {}
    void report(double fraction, std::string_view words) override {
        EXPECT_GE(fraction, last_);
        EXPECT_LE(fraction, 1.0);
        EXPECT_FALSE(words.empty());
        last_ = fraction;
        ++reports;
    }
    bool stop_requested() override { return --looks_ < 0; }
    int reports = 0;

private:
    int looks_;
    double last_ = 0.0;
};

class take_stopped : public job::JobTest {
protected:
    static TakeFile points(int count) {
        TakeFile out;
        out.document = {"points.csv", "point,east [m],north [m]\n"};
        for (int i = 0; i < count; ++i)
            out.document.bytes += fmt::format("P{},{},{}\n", i, i, 2 * i);
        out.role = "points";
        return out;
    }
};

TEST_F(take_stopped, at_any_look_the_job_is_as_it_was) {
    job::Job job = create("a.job");
    const auto before = facts_in("a.job");
    int looks = 0;
    for (;; ++looks) {
        StopAt progress(looks);
        const auto taken = take(job, {points(500)}, &progress);
        if (taken) {
            EXPECT_GT(progress.reports, 5);
            EXPECT_EQ(taken->documents[0].rows_new, 500);
            break;
        }
        EXPECT_EQ(taken.refusal().code, ErrorCode::stopped);
        EXPECT_EQ(facts_in("a.job"), before);
        ASSERT_LT(looks, 100);
    }
    EXPECT_GT(looks, 5);
    EXPECT_NE(facts_in("a.job"), before);
    EXPECT_TRUE(expect_value(job.verify()).sound());
}

TEST_F(take_stopped, without_progress_it_is_taken_as_ever) {
    job::Job job = create("a.job");
    EXPECT_EQ(expect_value(take(job, {points(200)})).documents[0].rows_new, 200);
}

}  // namespace
}  // namespace layproof::acts
