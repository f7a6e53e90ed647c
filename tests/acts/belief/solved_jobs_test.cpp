#include "acts/belief/solved_jobs.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <thread>
#include <vector>

#include "cause/shipped.hpp"
#include "network/site_jobs.hpp"

namespace layproof::acts {
namespace {

SolvedJobQuestion question_of(std::uint64_t seed) {
    SolvedJobQuestion out;
    testing::SiteJobOptions options;
    options.setups = 3;
    out.input = testing::draw_site_job(seed, options).input;
    out.causes = testing::shipped_table();
    return out;
}

/// Wants the work to end when asked for the n-th time.
class StopsAt final : public Progress {
public:
    explicit StopsAt(int n) : left_(n) {}
    void report(double fraction, std::string_view words) override {
        EXPECT_GE(fraction, 0.0);
        EXPECT_LE(fraction, 1.0);
        EXPECT_FALSE(words.empty());
    }
    bool stop_requested() override { return --left_ <= 0; }

private:
    std::atomic<int> left_;
};

TEST(solved_jobs, the_same_question_is_solved_once) {
    SolvedJobs jobs;
    const auto first = jobs.get(question_of(1), nullptr);
    const auto again = jobs.get(question_of(1), nullptr);
    ASSERT_TRUE(first);
    ASSERT_TRUE(again);
    EXPECT_EQ(*first, *again);
    EXPECT_TRUE((*first)->network.is_solved);
    EXPECT_TRUE((*first)->diagnosis.is_usable);
}

TEST(solved_jobs, one_figure_that_differs_is_another_question) {
    SolvedJobs jobs;
    const auto first = jobs.get(question_of(1), nullptr);
    SolvedJobQuestion other = question_of(1);
    *other.input.setups.front().sights.front().direction_rad += 1e-6;
    const auto moved = jobs.get(other, nullptr);
    other = question_of(1);
    other.causes.of(cause::Cause::mark_moved).frequency *= 2.0;
    const auto doubted = jobs.get(other, nullptr);
    other = question_of(1);
    other.units.marks = measure::LengthUnit::metre;
    const auto in_metres = jobs.get(other, nullptr);
    ASSERT_TRUE(first && moved && doubted && in_metres);
    EXPECT_NE(*first, *moved);
    EXPECT_NE(*first, *doubted);
    EXPECT_NE(*first, *in_metres);
    EXPECT_NE((*first)->network.global_test.statistic, (*moved)->network.global_test.statistic);
}

TEST(solved_jobs, what_was_asked_longest_ago_goes_first) {
    SolvedJobs jobs;
    const auto kept = jobs.get(question_of(0), nullptr);
    std::weak_ptr<const SolvedJob> gone = *jobs.get(question_of(100), nullptr);
    for (std::uint64_t seed = 1; seed < SolvedJobs::kMostKept; ++seed) {
        ASSERT_TRUE(jobs.get(question_of(seed), nullptr));
        ASSERT_TRUE(jobs.get(question_of(0), nullptr));
    }
    EXPECT_TRUE(gone.expired());
    EXPECT_EQ(*jobs.get(question_of(0), nullptr), *kept);
}

TEST(solved_jobs, ends_between_any_two_steps_and_is_not_kept) {
    for (int n = 1; n <= 4; ++n) {
        SolvedJobs jobs;
        StopsAt progress(n);
        const auto ended = jobs.get(question_of(1), &progress);
        ASSERT_FALSE(ended) << n;
        EXPECT_EQ(ended.refusal().code, ErrorCode::stopped);
        EXPECT_TRUE(jobs.get(question_of(1), nullptr));
    }
    SolvedJobs jobs;
    StopsAt never(1000);
    EXPECT_TRUE(jobs.get(question_of(1), &never));
}

TEST(solved_jobs, a_job_that_cannot_be_solved_says_why_each_time) {
    SolvedJobs jobs;
    SolvedJobQuestion nothing;
    nothing.causes = testing::shipped_table();
    for (int i = 0; i < 2; ++i) {
        const auto refused = jobs.get(nothing, nullptr);
        ASSERT_FALSE(refused);
        EXPECT_EQ(refused.refusal().code, ErrorCode::no_sights);
    }
}

TEST(solved_jobs, threads_that_ask_at_once_get_one_answer) {
    SolvedJobs jobs;
    std::vector<std::shared_ptr<const SolvedJob>> got(8);
    std::vector<std::thread> threads;
    for (auto& one : got)
        threads.emplace_back([&] {
            if (auto solved = jobs.get(question_of(2), nullptr)) one = *solved;
        });
    for (std::thread& one : threads) one.join();
    for (const auto& one : got) {
        ASSERT_NE(one, nullptr);
        EXPECT_EQ(one, got.front());
    }
}

}  // namespace
}  // namespace layproof::acts
