#include "network/level_run.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "base/random.hpp"
#include "network/evidence.hpp"
#include "support/reference.hpp"

namespace layproof::network {
namespace {

LevelReading back(const std::string& point, double reading, std::optional<double> distance = {}) {
    LevelReading out;
    out.run = "R1";
    out.point = point;
    out.backsight_m = reading;
    out.backsight_distance_m = distance;
    return out;
}
LevelReading fore(const std::string& point, double reading, std::optional<double> distance = {}) {
    LevelReading out;
    out.run = "R1";
    out.point = point;
    out.foresight_m = reading;
    out.foresight_distance_m = distance;
    return out;
}
LevelReading turn(const std::string& point, double ahead, double behind,
                  std::optional<double> ahead_distance = {},
                  std::optional<double> behind_distance = {}) {
    LevelReading out = fore(point, ahead, ahead_distance);
    out.backsight_m = behind;
    out.backsight_distance_m = behind_distance;
    return out;
}
LevelReading aside_at(const std::string& point, double reading,
                      std::optional<double> distance = {}) {
    LevelReading out = fore(point, reading, distance);
    out.intermediate_m = out.foresight_m;
    out.foresight_m.reset();
    return out;
}

LevelRun run_of(std::vector<LevelReading> readings) {
    return {"R1", std::move(readings)};
}

/// The same run walked the other way.
LevelRun backwards(const LevelRun& run) {
    LevelRun out{run.name, {}};
    for (auto r = run.readings.rbegin(); r != run.readings.rend(); ++r) {
        LevelReading one = *r;
        std::swap(one.backsight_m, one.foresight_m);
        std::swap(one.backsight_distance_m, one.foresight_distance_m);
        out.readings.push_back(std::move(one));
    }
    return out;
}

LevelRun random_run(std::uint64_t seed, int set_ups) {
    Random random(seed);
    std::vector<LevelReading> readings;
    const auto rod = [&] { return 0.3 + 3.2 * random.uniform(); };
    const auto far = [&] { return 10.0 + 40.0 * random.uniform(); };
    readings.push_back(back("A", rod(), far()));
    for (int i = 1; i < set_ups; ++i)
        readings.push_back(
            turn(i % 3 == 0 ? "M" + std::to_string(i) : "", rod(), rod(), far(), far()));
    readings.push_back(fore("Z", rod(), far()));
    return run_of(std::move(readings));
}

// The readings of the published field test are sights to one rod pair over and over: each is a run
// of one set-up. It prints fore less back.
TEST(level_run, published_field_test_gives_its_mean_and_standard_deviation) {
    const testing::Reference reference("level-field-test");
    const auto& input = *reference.input()["readings"].as_table();
    const auto& backs = *input["back_m"].as_array();
    const auto& fores = *input["fore_m"].as_array();
    std::vector<double> rises;
    for (std::size_t i = 0; i < backs.size(); ++i) {
        const ReducedRun run = reduce_run(
            run_of({back("A", *backs[i].value<double>()), fore("B", *fores[i].value<double>())}));
        ASSERT_EQ(run.legs.size(), 1U);
        rises.push_back(run.legs[0].rise_m);
    }
    double mean = 0.0;
    for (const double rise : rises) mean += rise / static_cast<double>(rises.size());
    double square = 0.0;
    for (const double rise : rises) square += (rise - mean) * (rise - mean);
    reference.check("mean", -mean);
    reference.check("sd", 1000.0 * std::sqrt(square / static_cast<double>(rises.size() - 1)));
}

TEST(level_run, turning_points_are_summed_over_and_named_points_end_legs) {
    const ReducedRun run =
        reduce_run(run_of({back("BM1", 1.500, 30.0), turn("", 1.000, 1.800, 30.0, 28.0),
                           turn("H2", 1.200, 0.900, 27.0, 20.0),
                           turn("TP2", 1.700, 1.400, 21.0, 25.0), fore("BM1", 1.695, 24.0)}));
    ASSERT_EQ(run.legs.size(), 2U);
    EXPECT_EQ(run.legs[0].from, "BM1");
    EXPECT_EQ(run.legs[0].to, "H2");
    EXPECT_EQ(run.legs[0].turns, 2);
    EXPECT_NEAR(*run.legs[0].length_m, 115.0, 1e-12);
    EXPECT_NEAR(*run.legs[0].imbalance_m, 1.0, 1e-12);
    // 1.5 − 1.0 + 1.8 − 1.2; curvature of 28 m against 27 m is 4 µm.
    EXPECT_NEAR(run.legs[0].rise_m, 1.1, 1e-5);
    EXPECT_NEAR(run.legs[1].rise_m, -1.095, 1e-5);
    EXPECT_EQ(run.turns, 4);
    EXPECT_NEAR(run.rise_m, 0.005, 1e-5);
    ASSERT_EQ(run.notices.size(), 1U);
    EXPECT_NE(run.notices[0].find("TP2"), std::string::npos);
}

TEST(level_run, intermediate_points_hang_on_the_named_point_before) {
    const ReducedRun run =
        reduce_run(run_of({back("BM1", 2.0), aside_at("C1", 1.5), turn("", 1.0, 1.2),
                           aside_at("C2", 0.7), fore("BM2", 0.2)}));
    ASSERT_EQ(run.legs.size(), 3U);
    EXPECT_TRUE(run.legs[0].is_intermediate);
    EXPECT_NEAR(run.legs[0].rise_m, 0.5, 1e-12);
    EXPECT_EQ(run.legs[0].turns, 1);
    EXPECT_EQ(run.legs[1].from, "BM1");
    EXPECT_EQ(run.legs[1].to, "C2");
    EXPECT_NEAR(run.legs[1].rise_m, 1.5, 1e-12);
    EXPECT_EQ(run.legs[1].turns, 2);
    EXPECT_FALSE(run.legs[2].is_intermediate);
    EXPECT_NEAR(run.legs[2].rise_m, 2.0, 1e-12);
}

TEST(level_run, read_backwards_has_the_opposite_differences) {
    for (std::uint64_t seed = 0; seed < 40; ++seed) {
        const LevelRun run = random_run(seed, 1 + static_cast<int>(seed % 9));
        const ReducedRun there = reduce_run(run);
        const ReducedRun home = reduce_run(backwards(run));
        ASSERT_EQ(there.legs.size(), home.legs.size());
        EXPECT_NEAR(there.rise_m, -home.rise_m, 1e-12);
        EXPECT_NEAR(there.sd_m, home.sd_m, 1e-15);
        for (std::size_t i = 0; i < there.legs.size(); ++i) {
            const LevelLeg& a = there.legs[i];
            const LevelLeg& b = home.legs[home.legs.size() - 1 - i];
            EXPECT_EQ(a.from, b.to);
            EXPECT_NEAR(a.rise_m, -b.rise_m, 1e-12);
            EXPECT_NEAR(a.sd_m, b.sd_m, 1e-15);
            EXPECT_NEAR(*a.imbalance_m, -*b.imbalance_m, 1e-9);
        }
    }
}

TEST(level_run, offset_on_all_readings_changes_nothing) {
    for (std::uint64_t seed = 0; seed < 20; ++seed) {
        const LevelRun run = random_run(seed, 7);
        LevelRun other = run;
        for (LevelReading& r : other.readings)
            for (auto* reading : {&r.backsight_m, &r.foresight_m})
                if (*reading) **reading += 0.731;
        const ReducedRun a = reduce_run(run);
        const ReducedRun b = reduce_run(other);
        for (std::size_t i = 0; i < a.legs.size(); ++i)
            EXPECT_NEAR(a.legs[i].rise_m, b.legs[i].rise_m, 1e-12);
    }
}

TEST(level_run, legs_sum_to_the_run) {
    for (std::uint64_t seed = 0; seed < 20; ++seed) {
        const ReducedRun run = reduce_run(random_run(seed, 11));
        double rise = 0.0, length = 0.0, imbalance = 0.0;
        int turns = 0;
        for (const LevelLeg& leg : run.legs) {
            rise += leg.rise_m;
            length += *leg.length_m;
            imbalance += *leg.imbalance_m;
            turns += leg.turns;
        }
        EXPECT_NEAR(rise, run.rise_m, 1e-12);
        EXPECT_NEAR(length, *run.length_m, 1e-9);
        EXPECT_NEAR(imbalance, *run.imbalance_m, 1e-9);
        EXPECT_EQ(turns, run.turns);
    }
}

/// A level whose line of sight climbs by an angle reads every distance times that too much.
TEST(level_run, imbalance_is_the_effect_of_a_level_out_of_adjustment) {
    const LevelRun run = random_run(5, 8);
    LevelRun tilted = run;
    for (LevelReading& r : tilted.readings) {
        if (r.backsight_m) *r.backsight_m += kLevelCollimation_rad * *r.backsight_distance_m;
        if (r.foresight_m) *r.foresight_m += kLevelCollimation_rad * *r.foresight_distance_m;
    }
    const ReducedRun a = reduce_run(run);
    const ReducedRun b = reduce_run(tilted);
    EXPECT_NEAR(b.rise_m - a.rise_m, kLevelCollimation_rad * *a.imbalance_m, 1e-12);
    // That much is in its standard deviation: eight set-ups of 1.5 mm, and this.
    const double tilt = kLevelCollimation_rad * *a.imbalance_m;
    EXPECT_NEAR(a.sd_m, std::sqrt(8.0 * 0.0015 * 0.0015 + tilt * tilt), 1e-12);
}

/// Curvature less refraction: 0.0675 m in a kilometre squared at k = 0.14, so 0.068 at 0.13
/// (textbook figure, from memory).
TEST(level_run, curvature_is_taken_off_where_lengths_are_known) {
    const ReducedRun run = reduce_run(run_of({back("A", 1.0, 10.0), fore("B", 1.0, 100.0)}));
    EXPECT_NEAR(run.rise_m, 0.0683 * (0.1 * 0.1 - 0.01 * 0.01), 2e-6);
    EXPECT_EQ(reduce_run(run_of({back("A", 1.0), fore("B", 1.0)})).rise_m, 0.0);
}

TEST(level_run, standard_deviation_comes_from_what_the_run_states) {
    LevelRun run =
        run_of({back("A", 1.0, 25.0), turn("", 1.1, 1.2, 25.0, 25.0), fore("B", 1.0, 25.0)});
    EXPECT_NEAR(reduce_run(run).sd_m, kDefaultLevelSd_m * std::sqrt(2.0), 1e-12);
    run.readings[0].sd_km_m = 0.002;  // of 1 km there and back: √2 of it one way
    EXPECT_NEAR(reduce_run(run).sd_m, 0.002 * std::sqrt(2.0 * 0.1), 1e-12);
    run.readings[0].sd_turn_m = 0.001;
    EXPECT_NEAR(reduce_run(run).sd_m, std::sqrt(2.0 * 1e-6 + 0.004 * 0.004 * 0.05), 1e-12);
    run.readings[0].sd_turn_m.reset();
    run.readings[1].foresight_distance_m.reset();
    const ReducedRun partly = reduce_run(run);
    EXPECT_NEAR(partly.sd_m, kDefaultLevelSd_m * std::sqrt(2.0), 1e-12);
    EXPECT_FALSE(partly.length_m);
    EXPECT_EQ(partly.notices.size(), 1U);
}

TEST(level_run, names_of_turning_points_are_told_from_marks) {
    for (const char* name : {"", "-", "TP", "TP1", "tp 12", "TP-3"})
        EXPECT_TRUE(is_turning_point(name));
    for (const char* name : {"T1", "H1", "TPX", "TP1A", "CP1", "BM1", "P"})
        EXPECT_FALSE(is_turning_point(name)) << name;
}

TEST(level_run, rows_that_make_no_run_are_left_out_and_said) {
    const std::vector<LevelRun> bad{run_of({}),
                                    run_of({back("A", 1.0)}),
                                    run_of({back("A", 1.0), back("B", 1.0)}),
                                    run_of({fore("A", 1.0), fore("B", 1.0)}),
                                    run_of({back("", 1.0), fore("B", 1.0)}),
                                    run_of({back("A", 1.0), fore("TP1", 1.0)}),
                                    run_of({back("A", 1.0), fore("B", 1.0), fore("C", 1.0)}),
                                    run_of({back("A", 1.0), aside_at("", 1.0), fore("C", 1.0)}),
                                    run_of({back("A", 1.0), aside_at("B", 1.0)})};
    for (const LevelRun& run : bad) {
        const ReducedRun reduced = reduce_run(run);
        EXPECT_TRUE(reduced.legs.empty());
        EXPECT_EQ(reduced.notices.size(), 1U);
    }
}

TEST(level_run, runs_of_two_files_with_one_name_stay_two) {
    std::vector<LevelReading> rows{back("A", 1.0), fore("B", 0.5), back("A", 1.1), fore("B", 0.6)};
    rows[0].place.file = rows[1].place.file = "monday.csv";
    rows[2].place.file = rows[3].place.file = "tuesday.csv";
    EXPECT_EQ(level_runs_of(rows).size(), 2U);
    rows[2].place.file = rows[3].place.file = "monday.csv";
    EXPECT_EQ(level_runs_of(rows).size(), 1U);
}

}  // namespace
}  // namespace layproof::network
