// The rows that vetting makes of sights against the observations of everybody.

#include "vet/network_internal.hpp"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <array>
#include <cmath>

#include "measure/angle.hpp"
#include "station/observations.hpp"
#include "vet/vet.hpp"

namespace layproof::vet::internal {
namespace {

constexpr std::array<std::array<double, 3>, 5> kPlaces{{{0.0, 0.0, 20.0},
                                                        {40.0, 3.0, 21.0},
                                                        {-5.0, 50.0, 19.5},
                                                        {10.0, 0.0, 20.2},
                                                        {-30.0, -20.0, 20.0}}};

/// A set-up over A sights B, C and E in full and N, 10 m away, by its direction alone, which is off
/// by `off_rad`. The rod leans by 10' now and then.
network::Evidence over_a(double off_rad = 0.0) {
    network::Evidence out;
    network::MarkList list;
    list.name = "sheet";
    for (std::size_t m = 0; m < kPlaces.size(); ++m) {
        frame::Mark mark;
        mark.name = std::string(1, "ABCNE"[m]);
        mark.east_m = 500.0 + kPlaces[m][0];
        mark.north_m = 700.0 + kPlaces[m][1];
        mark.height_m = kPlaces[m][2];
        list.entries.push_back(mark);
    }
    out.lists.push_back(list);
    station::StationInput setup;
    setup.setup.station = "S";
    setup.setup.kind = station::SetupKind::occupied;
    setup.setup.mark = "A";
    setup.setup.instrument_height_m = 1.6;
    setup.instrument.angle_sd_rad = 3.0 * measure::kRadPerArcsec;
    setup.instrument.bubble_rad = 10.0 * measure::kRadPerArcmin;
    setup.instrument.centring_m = 0.0;
    setup.instrument.stated = true;
    for (const std::size_t m : {1U, 2U, 4U, 3U}) {
        measure::Sight sight;
        sight.station = "S";
        sight.target = list.entries[m].name;
        sight.target_height_m = 1.5;
        const double azimuth = std::atan2(kPlaces[m][0], kPlaces[m][1]);
        sight.direction_rad = measure::wrap_0_2pi(azimuth + (m == 3 ? off_rad : 0.0));
        if (m != 3) {
            const station::SightLine line =
                station::sight_line({kPlaces[m][0], kPlaces[m][1], kPlaces[m][2] - 21.6}, 1.5, 1.0,
                                    station::bend_of(setup.instrument.refraction_k), true);
            sight.zenith_rad = std::atan2(line.ground_m, line.rise_m);
            sight.slope_distance_m = line.slope_m;
        }
        setup.sights.push_back(sight);
    }
    out.setups.push_back(setup);
    return out;
}

Eigen::MatrixXd covariance_of_sight(const Solved& solved, std::size_t sight) {
    const auto block = static_cast<std::size_t>(solved.rows.sights[sight].block);
    const Eigen::MatrixXd& whitener = solved.whitener[block];
    return (whitener.transpose() * whitener).inverse();
}

TEST(vet_network, direction_to_a_mark_at_10_m_has_the_lean_at_10_m_not_at_an_assumed_30_m) {
    const Gathered all = gather(over_a());
    const Solved solved = solve_variant(all, Variant{});
    ASSERT_TRUE(solved.usable);
    ASSERT_EQ(solved.rows.sights.size(), 4U);
    ASSERT_FALSE(solved.rows.sights[3].distance);
    const double sd = std::sqrt(covariance_of_sight(solved, 3)(0, 0));
    // 1.5 m by 10' is 4.363 mm, 90" at 10 m; the pointing adds 3".
    EXPECT_NEAR(sd / measure::kRadPerArcsec, std::hypot(90.0, 3.0), 1e-3);
}

TEST(vet_network, sights_weigh_as_everybody_has_them) {
    const Gathered all = gather(over_a());
    const Solved solved = solve_variant(all, Variant{});
    ASSERT_TRUE(solved.usable);
    const station::Prepared& prepared = all.setups.front().prepared;
    for (std::size_t i = 0; i < solved.rows.sights.size(); ++i) {
        const Rows::SightRow& row = solved.rows.sights[i];
        measure::ReducedSight sight = prepared.sights[static_cast<std::size_t>(row.sight)].reduced;
        const auto& place = kPlaces[static_cast<std::size_t>(row.mark)];
        sight.covariance =
            station::covariance_of(sight, prepared.instrument, std::hypot(place[0], place[1]));
        const Eigen::MatrixXd expected = station::present_covariance(sight);
        const Eigen::MatrixXd found = covariance_of_sight(solved, i);
        ASSERT_EQ(found.rows(), expected.rows());
        const Eigen::VectorXd sd = expected.diagonal().cwiseSqrt();
        for (Eigen::Index r = 0; r < found.rows(); ++r)
            for (Eigen::Index c = 0; c < found.cols(); ++c)
                EXPECT_NEAR(found(r, c), expected(r, c), 1e-7 * sd[r] * sd[c]) << i;
    }
}

TEST(vet_network, linear_form_at_other_places_takes_the_distances_there) {
    const Gathered all = gather(over_a());
    Solved solved = solve_variant(all, Variant{});
    ASSERT_TRUE(solved.usable);
    Eigen::VectorXd moved = solved.values;
    // N goes out to 20 m from the instrument.
    moved[solved.plan_at[3]] += 10.0;
    linearise_at(all, Variant{}, moved, solved);
    const double sd = std::sqrt(covariance_of_sight(solved, 3)(0, 0));
    EXPECT_NEAR(sd / measure::kRadPerArcsec, std::hypot(45.0, 3.0), 1e-3);
}

TEST(vet_network, rod_that_leans_at_a_near_mark_does_not_spoil_the_mark) {
    // 200" at 10 m is 2.2 times what this rod leans, and would be 6.6 times that of one at 30 m.
    const Vetting found = vet(over_a(200.0 * measure::kRadPerArcsec));
    double off = 0.0;
    for (const Explanation& e : found.explanations)
        for (const Member& m : e.members)
            for (const std::string& subject : m.subjects)
                if (subject == "N" || subject == "S to N") off += m.probability;
    EXPECT_LT(off, 0.3);
    EXPECT_EQ(found.explanations.front().members.front().trap, Trap::nothing_wrong);
}

/// A slope distance booked without a zenith angle goes along the slope where the heights are known.
TEST(vet_network, slope_distance_without_zenith_angle_is_not_taken_as_level) {
    network::Evidence evidence = over_a();
    network::MarkList& list = evidence.lists.front();
    list.entries[3].height_m = 25.0;  // N lies high
    measure::Sight& sight = evidence.setups.front().sights.back();
    const double rise = 25.0 + 1.5 - 21.6;
    sight.slope_distance_m = std::hypot(10.0, rise);
    const Solved solved = solve_variant(gather(evidence), Variant{});
    ASSERT_TRUE(solved.usable);
    EXPECT_LT(solved.statistic, 1e-3);
}

}  // namespace
}  // namespace layproof::vet::internal
