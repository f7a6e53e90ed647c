// How often the reading planted is the one named, and how often a healthy job is left alone.

#include <gtest/gtest.h>

#include "cause/shipped.hpp"
#include "network/readings_jobs.hpp"

namespace layproof::network {
namespace {

using testing::Planted;

struct Study {
    Planted planted;
    double least_right;
    double most_certain_and_wrong;
};

class readings_study : public ::testing::TestWithParam<Study> {};

TEST_P(readings_study, names_what_was_planted) {
    constexpr int kJobs = 200;
    int right = 0, certain_and_wrong = 0, left_alone = 0;
    double of_truth = 0.0;
    for (int i = 0; i < kJobs; ++i) {
        const testing::ReadingJob job =
            testing::draw_reading_job(20000 + static_cast<std::uint64_t>(i), GetParam().planted);
        const Readings told = read_otherwise(job.job.input, testing::shipped_table());
        const bool is_right = testing::says_planted(job, told.best());
        if (is_right) ++right;
        bool is_certain = !told.best().readings.empty();
        for (const Reading& one : told.best().readings) is_certain = is_certain && one.is_certain;
        if (is_certain && !is_right) ++certain_and_wrong;
        if (told.as_written >= 0.99) ++left_alone;
        for (const ReadingAlternative& one : told.alternatives)
            if (testing::says_planted(job, one)) of_truth += one.probability;
    }
    RecordProperty("right", right);
    RecordProperty("certain_and_wrong", certain_and_wrong);
    EXPECT_GE(right, GetParam().least_right * kJobs);
    EXPECT_LE(certain_and_wrong, GetParam().most_certain_and_wrong * kJobs);
    // The probability told of the truth is that with which it is named, within four standard
    // errors.
    EXPECT_NEAR(of_truth / kJobs, static_cast<double>(right) / kJobs, 0.03);
    if (GetParam().planted == Planted::none || GetParam().planted >= Planted::mark_kicked) {
        EXPECT_GE(left_alone, 0.995 * kJobs);
    }
}

INSTANTIATE_TEST_SUITE_P(
    all, readings_study,
    ::testing::Values(
        Study{Planted::none, 1.0, 0.0}, Study{Planted::axes, 0.99, 0.0},
        Study{Planted::feet_list, 0.99, 0.0}, Study{Planted::feet_distances, 0.99, 0.0},
        Study{Planted::swapped_on_sheet, 0.99, 0.0}, Study{Planted::swapped_in_field, 0.99, 0.0},
        Study{Planted::wrong_name, 0.96, 0.005}, Study{Planted::revision, 0.95, 0.02},
        Study{Planted::mistyped, 0.98, 0.0}, Study{Planted::mistyped_height, 0.95, 0.0},
        Study{Planted::mark_kicked, 0.99, 0.005}, Study{Planted::prism, 0.99, 0.005},
        Study{Planted::bump, 0.99, 0.005}, Study{Planted::leaned, 0.99, 0.005},
        Study{Planted::rod_height, 0.99, 0.005}, Study{Planted::scale, 0.99, 0.005}));

}  // namespace
}  // namespace layproof::network
