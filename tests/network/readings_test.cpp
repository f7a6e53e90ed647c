#include "network/readings.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "cause/shipped.hpp"
#include "network/readings_jobs.hpp"

namespace layproof::network {
namespace {

using testing::Planted;
using testing::ReadingJob;

Readings read_job(const ReadingJob& job, const FileUnits& units = {}) {
    return read_otherwise(job.job.input, testing::shipped_table(), units);
}

double sum_of(const Readings& told) {
    double sum = 0.0;
    for (const ReadingAlternative& one : told.alternatives) sum += one.probability;
    return sum;
}

struct Rates {
    int right = 0, certain_and_wrong = 0, jobs = 0;
    double as_written = 0.0;  ///< least
};

Rates rates_of(Planted planted, std::uint64_t first_seed, int jobs) {
    Rates out;
    out.as_written = 1.0;
    for (int i = 0; i < jobs; ++i) {
        const std::uint64_t seed = first_seed + static_cast<std::uint64_t>(i);
        const ReadingJob job = testing::draw_reading_job(seed, planted);
        const Readings told = read_job(job);
        EXPECT_NEAR(sum_of(told), 1.0, 1e-12) << seed;
        const bool is_right = testing::says_planted(job, told.best());
        bool is_certain = !told.best().readings.empty();
        for (const Reading& one : told.best().readings) is_certain = is_certain && one.is_certain;
        ++out.jobs;
        if (is_right) ++out.right;
        if (is_certain && !is_right) ++out.certain_and_wrong;
        out.as_written = std::min(out.as_written, told.as_written);
    }
    return out;
}

class readings_planted : public ::testing::TestWithParam<Planted> {};

TEST_P(readings_planted, is_named) {
    const Rates rates = rates_of(GetParam(), 7000, 12);
    EXPECT_GE(rates.right, 11);
    EXPECT_EQ(rates.certain_and_wrong, 0);
}

INSTANTIATE_TEST_SUITE_P(all, readings_planted,
                         ::testing::Values(Planted::axes, Planted::feet_list,
                                           Planted::feet_distances, Planted::swapped_on_sheet,
                                           Planted::swapped_in_field, Planted::wrong_name,
                                           Planted::revision, Planted::mistyped,
                                           Planted::mistyped_height));

class readings_small : public ::testing::TestWithParam<Planted> {};

/// What the linear form explains is no reading.
TEST_P(readings_small, is_read_as_written) {
    const Rates rates = rates_of(GetParam(), 8000, 12);
    EXPECT_EQ(rates.right, rates.jobs);
    EXPECT_GE(rates.as_written, 0.99);
}

INSTANTIATE_TEST_SUITE_P(all, readings_small,
                         ::testing::Values(Planted::none, Planted::mark_kicked, Planted::prism,
                                           Planted::bump, Planted::leaned, Planted::rod_height,
                                           Planted::scale));

/// The input as read is adjusted as if nothing had been planted.
TEST(readings, as_read_fits_again) {
    for (const Planted planted :
         {Planted::axes, Planted::feet_list, Planted::swapped_on_sheet, Planted::swapped_in_field,
          Planted::wrong_name, Planted::revision, Planted::mistyped, Planted::mistyped_height}) {
        const ReadingJob job = testing::draw_reading_job(9001, planted);
        const ReadingJob bare = testing::draw_reading_job(9001, Planted::none);
        const Readings told = read_job(job);
        ASSERT_TRUE(testing::says_planted(job, told.best())) << static_cast<int>(planted);
        const auto again = adjust_network(as_read(job.job.input, told.best().readings));
        const auto healthy = adjust_network(bare.job.input);
        ASSERT_TRUE(again);
        ASSERT_TRUE(healthy);
        EXPECT_NEAR(again->global_test.statistic / again->global_test.dof,
                    healthy->global_test.statistic / healthy->global_test.dof, 0.35)
            << static_cast<int>(planted);
        for (const NetworkSight& sight : again->sights) EXPECT_TRUE(sight.used);
    }
}

std::vector<ReadingKind> kinds_of(const Readings& told) {
    std::vector<ReadingKind> out;
    for (const Reading& one : told.best().readings) out.push_back(one.kind);
    std::sort(out.begin(), out.end());
    return out;
}

/// Names exchanged on the sheet beside something else, large or small.
TEST(readings, two_things_at_once_are_both_named) {
    int jobs = 0, two_pairs = 0, with_feet = 0, with_prism = 0;
    for (std::uint64_t seed = 0; seed < 8; ++seed, ++jobs) {
        ReadingJob two = testing::draw_reading_job(600 + seed, Planted::none, 6);
        auto& marks = two.job.input.marks;
        const auto& sighted = two.job.sighted[0];
        const auto exchange = [&](std::size_t i, std::size_t j) {
            std::swap(marks[static_cast<std::size_t>(sighted[i])].name,
                      marks[static_cast<std::size_t>(sighted[j])].name);
        };
        exchange(0, 1);
        ReadingJob feet = two;
        for (frame::Mark& mark : feet.job.input.marks) {
            *mark.east_m /= measure::kMetresPerFoot;
            *mark.north_m /= measure::kMetresPerFoot;
            *mark.height_m /= measure::kMetresPerFoot;
        }
        ReadingJob prism = two;
        for (auto& setup : prism.job.input.setups)
            for (measure::Sight& sight : setup.sights) *sight.slope_distance_m += 0.03;
        exchange(2, 3);
        using enum ReadingKind;
        if (kinds_of(read_job(two)) == std::vector{names_swapped, names_swapped}) ++two_pairs;
        if (kinds_of(read_job(feet)) == std::vector{lengths_in_feet, names_swapped}) ++with_feet;
        if (kinds_of(read_job(prism)) == std::vector{names_swapped}) ++with_prism;
    }
    EXPECT_EQ(two_pairs, jobs);
    EXPECT_EQ(with_feet, jobs);
    EXPECT_GE(with_prism, jobs - 1);
}

/// The instrument stands over another mark than is booked.
TEST(readings, another_mark_stood_over_is_named) {
    ReadingJob job = testing::draw_reading_job(510, Planted::none, 5, 2, 4);
    NetworkInput& input = job.job.input;
    frame::Mark under;
    under.name = "UNDER";
    const Eigen::Vector3d& axes = job.job.true_setups[0];
    under.east_m = axes.x();
    under.north_m = axes.y();
    under.height_m = axes.z() - 1.5;
    frame::Mark other = under;
    other.name = "OTHER";
    *other.east_m += 8.0;
    input.marks.push_back(under);
    input.marks.push_back(other);
    station::Setup& setup = input.setups[0].setup;
    setup.kind = station::SetupKind::occupied;
    setup.mark = "UNDER";
    setup.instrument_height_m = 1.5;
    EXPECT_EQ(read_job(job).as_written, 1.0);
    setup.mark = "OTHER";
    const Readings told = read_job(job);
    bool is_named = false;
    for (const ReadingAlternative& one : told.alternatives)
        for (const Reading& reading : one.readings)
            if (reading.kind == ReadingKind::wrong_name) {
                EXPECT_TRUE(reading.sights.empty());
                EXPECT_EQ(reading.meant, "UNDER");
                EXPECT_EQ(as_read(input, one.readings).setups[0].setup.mark, "UNDER");
                is_named = true;
            }
    EXPECT_TRUE(is_named);
    EXPECT_LT(told.as_written, 1e-6);
}

/// Stated accuracies that are twice too good are no reason to read anything otherwise.
TEST(readings, larger_errors_than_stated_are_no_reading) {
    for (std::uint64_t seed = 0; seed < 10; ++seed) {
        testing::SiteJobOptions options;
        options.noise = 2.5;
        options.setups = 5;
        const testing::SiteJob job = testing::draw_site_job(900 + seed, options);
        EXPECT_GE(read_otherwise(job.input, testing::shipped_table()).as_written, 0.99) << seed;
    }
}

/// Two marks and nothing else: exchanged names fit as well. Heights that differ tell.
TEST(readings, two_marks_leave_it_open) {
    int open = 0, told_by_height = 0;
    for (std::uint64_t seed = 0; seed < 10; ++seed) {
        ReadingJob job = testing::draw_reading_job(300 + seed, Planted::none, 2, 1, 1);
        auto& sights = job.job.input.setups[0].sights;
        while (sights.size() > 2) sights.pop_back();
        const Readings with_heights = read_job(job);
        if (with_heights.as_written > 0.99) ++told_by_height;
        for (frame::Mark& mark : job.job.input.marks) mark.height_m.reset();
        const Readings told = read_job(job);
        EXPECT_NEAR(sum_of(told), 1.0, 1e-12);
        EXPECT_GT(told.as_written, 0.8);
        EXPECT_LT(told.as_written, 0.99);
        ASSERT_GE(told.alternatives.size(), 2U);
        const Reading& other = told.alternatives[1].readings.front();
        if (other.kind == ReadingKind::mirror_possible) ++open;
        EXPECT_FALSE(other.is_certain);
        EXPECT_FALSE(is_gross(other));
        for (const ReadingAlternative& one : told.alternatives)
            if (one.readings.size() == 1 &&
                one.readings.front().kind == ReadingKind::mirror_possible) {
                EXPECT_TRUE(adjust_network(as_read(job.job.input, one.readings)));
            }
    }
    EXPECT_EQ(open, 10);
    EXPECT_GE(told_by_height, 8);
}

TEST(readings, two_kinds_of_foot_are_certain_from_the_files_alone) {
    const ReadingJob job = testing::draw_reading_job(77, Planted::none);
    FileUnits units{measure::LengthUnit::us_foot, measure::LengthUnit::foot, 600000.0};
    const Readings mixed = read_job(job, units);
    ASSERT_EQ(mixed.best().readings.size(), 1U);
    EXPECT_EQ(mixed.best().readings[0].kind, ReadingKind::foot_kinds_mixed);
    EXPECT_TRUE(mixed.best().readings[0].is_certain);
    EXPECT_TRUE(is_gross(mixed.best().readings[0]));
    EXPECT_EQ(mixed.as_written, 0.0);
    EXPECT_NEAR(mixed.best().readings[0].shift_m.x(), 1.2, 1e-3);
    units.points = measure::LengthUnit::us_foot;
    EXPECT_EQ(read_job(job, units).as_written, 1.0);
    // Small coordinates: the two feet are one.
    EXPECT_EQ(
        read_job(job, {measure::LengthUnit::us_foot, measure::LengthUnit::foot, 100.0}).as_written,
        1.0);
}

/// Together with another reading, in each of the alternatives.
TEST(readings, two_kinds_of_foot_stand_beside_another_reading) {
    const ReadingJob job = testing::draw_reading_job(78, Planted::axes);
    const Readings told =
        read_job(job, {measure::LengthUnit::us_foot, measure::LengthUnit::foot, 600000.0});
    ASSERT_EQ(told.best().readings.size(), 2U);
    EXPECT_EQ(told.best().readings[0].kind, ReadingKind::foot_kinds_mixed);
    EXPECT_EQ(told.best().readings[1].kind, ReadingKind::axes_exchanged);
}

TEST(readings, nothing_to_read_is_as_written) {
    const auto table = testing::shipped_table();
    const Readings none = read_otherwise({}, table);
    EXPECT_EQ(none.as_written, 1.0);
    EXPECT_FALSE(none.is_tested);
    ASSERT_EQ(none.alternatives.size(), 1U);

    ReadingJob job = testing::draw_reading_job(5, Planted::none);
    NetworkInput only_marks = job.job.input;
    only_marks.setups.clear();
    EXPECT_EQ(read_otherwise(only_marks, table).as_written, 1.0);
    NetworkInput only_sights = job.job.input;
    only_sights.marks.clear();
    EXPECT_EQ(read_otherwise(only_sights, table).as_written, 1.0);
    // All at one place: no turn is held.
    NetworkInput one_place = job.job.input;
    for (frame::Mark& mark : one_place.marks) mark.east_m = mark.north_m = 5.0;
    EXPECT_NEAR(sum_of(read_otherwise(one_place, table)), 1.0, 1e-12);
}

TEST(readings, figures_that_are_not_finite_are_left_out) {
    const auto table = testing::shipped_table();
    constexpr double kBad[] = {std::numeric_limits<double>::quiet_NaN(),
                               std::numeric_limits<double>::infinity()};
    for (const double bad : kBad) {
        ReadingJob job = testing::draw_reading_job(6, Planted::swapped_on_sheet, 6);
        job.job.input.marks[0].east_m = bad;
        job.job.input.setups[0].sights[1].slope_distance_m = bad;
        job.job.input.marks[2].sd_north_m = bad;
        const Readings told = read_otherwise(job.job.input, table);
        EXPECT_NEAR(sum_of(told), 1.0, 1e-12);
        for (const ReadingAlternative& one : told.alternatives) {
            EXPECT_TRUE(std::isfinite(one.probability));
            for (const Reading& reading : one.readings)
                EXPECT_TRUE(reading.shift_m.allFinite() && std::isfinite(reading.probability));
        }
    }
}

/// Where the list has its origin and which way it is turned does not matter.
TEST(readings, shift_and_turn_of_the_site_change_nothing) {
    for (const Planted planted : {Planted::swapped_on_sheet, Planted::wrong_name}) {
        const ReadingJob job = testing::draw_reading_job(41, planted);
        ReadingJob moved = job;
        constexpr double kTurn = 0.7;
        for (frame::Mark& mark : moved.job.input.marks) {
            const double e = *mark.east_m - 5000.0;
            const double n = *mark.north_m - 10000.0;
            mark.east_m = 600000.0 + std::cos(kTurn) * e + std::sin(kTurn) * n;
            mark.north_m = 200000.0 - std::sin(kTurn) * e + std::cos(kTurn) * n;
            *mark.height_m += 300.0;
        }
        const Readings a = read_job(job);
        const Readings b = read_job(moved);
        ASSERT_EQ(a.alternatives.size(), b.alternatives.size());
        for (std::size_t i = 0; i < a.alternatives.size(); ++i)
            EXPECT_NEAR(a.alternatives[i].probability, b.alternatives[i].probability, 1e-3);
    }
}

TEST(readings, what_does_not_fit_the_input_is_left_out) {
    const ReadingJob job = testing::draw_reading_job(5, Planted::none);
    Reading reading;
    reading.kind = ReadingKind::wrong_name;
    reading.setup = 99;
    reading.sights = {3};
    reading.meant = "X";
    Reading mistyped;
    mistyped.kind = ReadingKind::mark_mistyped;
    mistyped.marks = {-1, 999};
    const std::vector<Reading> both{reading, mistyped};
    const NetworkInput again = as_read(job.job.input, both);
    EXPECT_EQ(again.marks.size(), job.job.input.marks.size());
    EXPECT_EQ(again.setups[0].sights[0].target, job.job.input.setups[0].sights[0].target);
}

}  // namespace
}  // namespace layproof::network
