// Three instruments and eight targets of a real session as one network, nothing tuned:
// docs/studies/real-data.md.

#include <gtest/gtest.h>

#include <cmath>

#include "cause/shipped.hpp"
#include "network/site_network_causes.hpp"
#include "support/rts_static.hpp"

namespace layproof::network {
namespace {

NetworkInput whole_session() {
    NetworkInput input;
    const auto rows = testing::rts_static::read_rows();
    for (int number = 1; number <= 3; ++number) {
        station::StationInput setup;
        setup.setup.station = std::to_string(number);
        setup.instrument = testing::rts_static::assumed_instrument();
        for (const auto& row : rows) {
            if (row.station != number) continue;
            measure::Sight sight;
            sight.station = setup.setup.station;
            sight.target = row.target;
            sight.direction_rad = row.direction_rad;
            sight.zenith_rad = row.zenith_rad;
            sight.slope_distance_m = row.slope_m;
            setup.sights.push_back(sight);
        }
        input.setups.push_back(std::move(setup));
    }
    return input;
}

TEST(network_real_data, three_stations_hang_together_without_any_given_place) {
    const auto found = adjust_network(whole_session());
    ASSERT_TRUE(found);
    EXPECT_TRUE(found->own_frame);
    EXPECT_TRUE(found->loose.empty());
    // 72 figures, 8 · 3 + 3 · 4 unknowns, 4 directions of the frame open.
    EXPECT_EQ(found->observations, 72);
    EXPECT_EQ(found->global_test.dof, 72 - 36 + 4);
    // Stations 1 to 2 and 1 to 3 as the set-ups on station 1's places had them, within 2 mm.
    const auto apart = [&](std::size_t a, std::size_t b) {
        return (found->setups[a].pose.position_m - found->setups[b].pose.position_m).norm();
    };
    EXPECT_NEAR(apart(0, 1), Eigen::Vector3d(-0.6809, -1.1425, 0.0956).norm(), 0.002);
    EXPECT_NEAR(apart(0, 2), Eigen::Vector3d(-1.4271, -2.2303, 0.3011).norm(), 0.002);
    // Station 2's zenith angles do not fit the others: known from the set-ups alone.
    EXPECT_FALSE(found->global_test.passes);
    EXPECT_GT(found->setups[1].statistic / found->setups[1].redundancy,
              found->setups[2].statistic / found->setups[2].redundancy);
    for (const VarianceComponent& c : found->components) {
        if (c.group == Group::angles) {
            EXPECT_NEAR(c.ratio, 3.4, 0.1);
        }
        if (c.group == Group::distances) {
            EXPECT_NEAR(c.ratio, 1.15, 0.05);
        }
    }
}

TEST(network_real_data, heights_of_the_second_station_are_accused) {
    const auto found = adjust_network(whole_session());
    ASSERT_TRUE(found);
    const NetworkDiagnosis d = diagnose_network(*found, testing::shipped_table());
    ASSERT_TRUE(d.is_usable);
    EXPECT_LT(d.nothing_wrong, 1e-6);
    double index = 0.0;
    for (std::size_t h = 0; h < d.suspects.size(); ++h) {
        if (d.suspects[h].cause == cause::Cause::vertical_index_wrong && d.suspects[h].setup == 1)
            index = d.probability[h];
    }
    EXPECT_GT(index, 0.95);
}

}  // namespace
}  // namespace layproof::network
