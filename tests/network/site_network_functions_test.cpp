// The batches of a whole job against the observations of everybody.

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <array>
#include <cmath>
#include <vector>

#include "base/random.hpp"
#include "measure/angle.hpp"
#include "network/site_network_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network::internal {
namespace {

constexpr double kSame = 1e-12;

/// What a batch and a function say of the same block: residual and Jacobian, columns block by
/// block.
struct Said {
    std::vector<double> residual, jacobian;
};

/// `blocks`: one vector for each block of the `at`-th of `count` observations; the others are left
/// at other places, so that a wrong stride shows.
Said by_batch(const adjust::BatchFunction& batch, int rows, int at, int count,
              const std::vector<std::vector<double>>& blocks) {
    std::vector<double> values(3, 1e6);
    std::vector<int> offsets;
    int width = 0;
    for (const auto& block : blocks) width += static_cast<int>(block.size());
    for (int i = 0; i < count; ++i)
        for (const auto& block : blocks) {
            offsets.push_back(static_cast<int>(values.size()));
            for (const double v : block) values.push_back(i == at ? v : v + 0.3 * (i - at));
        }
    std::vector<double> residual(static_cast<std::size_t>(rows * count));
    std::vector<double> jacobian(residual.size() * static_cast<std::size_t>(width));
    adjust::Chunk chunk;
    chunk.count = count;
    chunk.blocks = static_cast<int>(blocks.size());
    chunk.width = width;
    chunk.values = values.data();
    chunk.offsets = offsets.data();
    chunk.residual = residual.data();
    chunk.jacobian = jacobian.data();
    batch.evaluate(chunk);
    const auto r = residual.begin() + at * rows;
    const auto j = jacobian.begin() + static_cast<std::ptrdiff_t>(at) * rows * width;
    return {{r, r + rows}, {j, j + static_cast<std::ptrdiff_t>(rows) * width}};
}

Said by_function(const adjust::ObservationFunction& function, int rows,
                 const std::vector<std::vector<double>>& blocks) {
    Said out;
    out.residual.resize(static_cast<std::size_t>(rows));
    std::vector<const double*> values;
    std::vector<std::vector<double>> parts;
    std::vector<double*> into;
    for (const auto& block : blocks) {
        values.push_back(block.data());
        parts.emplace_back(static_cast<std::size_t>(rows) * block.size());
    }
    for (auto& part : parts) into.push_back(part.data());
    function.evaluate(values, out.residual.data(), into.data());
    for (std::size_t r = 0; r < static_cast<std::size_t>(rows); ++r)
        for (std::size_t b = 0; b < blocks.size(); ++b)
            for (std::size_t c = 0; c < blocks[b].size(); ++c)
                out.jacobian.push_back(parts[b][r * blocks[b].size() + c]);
    return out;
}

void expect_same(const Said& batch, const Said& function) {
    ASSERT_EQ(batch.residual.size(), function.residual.size());
    ASSERT_EQ(batch.jacobian.size(), function.jacobian.size());
    for (std::size_t i = 0; i < batch.residual.size(); ++i)
        EXPECT_NEAR(batch.residual[i], function.residual[i], kSame) << i;
    for (std::size_t i = 0; i < batch.jacobian.size(); ++i)
        EXPECT_NEAR(batch.jacobian[i], function.jacobian[i], kSame) << i;
}

TEST(site_network_functions, sights_of_every_mixture_are_those_of_everybody) {
    Random random(3);
    for (int mask = 1; mask < 8; ++mask) {
        for (const bool horizontal : {false, true}) {
            for (const bool with_height : {false, true}) {
                measure::ReducedSight sight;
                sight.has_direction = (mask & 1) != 0;
                sight.has_zenith = (mask & 2) != 0;
                sight.has_distance = (mask & 4) != 0;
                sight.distance_is_horizontal = horizontal;
                sight.direction_rad = random.uniform(0.0, measure::kTwoPi);
                sight.zenith_rad = 1.4;
                sight.distance_m = 41.0;
                sight.target_height_m = 1.6;
                std::vector<std::vector<double>> blocks{
                    {random.uniform(-50.0, 50.0), random.uniform(-50.0, 50.0),
                     random.uniform(-7.0, 7.0)},
                    {random.uniform(-50.0, 50.0), random.uniform(-50.0, 50.0)}};
                if (with_height) {
                    blocks.push_back({random.uniform(-5.0, 5.0)});
                    blocks.push_back({random.uniform(-5.0, 5.0)});
                }
                const double scale = 0.9996;
                const SightBatch batch(
                    std::vector<SightBatch::One>(3, {sight, station::bend_of(0.2)}), scale,
                    with_height);
                const station::SightFunction function(sight, scale, 0.2, with_height,
                                                      station::SightFunction::Blocks::split);
                expect_same(by_batch(batch, sight.size(), 1, 3, blocks),
                            by_function(function, sight.size(), blocks));
            }
        }
    }
}

TEST(site_network_functions, tapes_and_differences_are_those_of_everybody) {
    const std::vector<std::vector<double>> plan{{3.0, -4.0}, {21.0, 8.0}};
    const std::vector<std::vector<double>> slope{{3.0, -4.0}, {21.0, 8.0}, {1.0}, {4.5}};
    const std::vector<std::vector<double>> pose{{3.0, -4.0, 0.7}, {2.0, -4.5}};
    expect_same(by_batch(TapeBatch({9.0, 21.0, 9.0}, 1.0003, false), 1, 1, 3, plan),
                by_function(station::TapeFunction(21.0, 1.0003, false), 1, plan));
    expect_same(by_batch(TapeBatch({9.0, 21.0, 9.0}, 1.0003, true), 1, 1, 3, slope),
                by_function(station::TapeFunction(21.0, 1.0003, true), 1, slope));
    const std::array value{0.5, 0.25};
    expect_same(by_batch(DifferenceBatch({9.0, 9.0, 0.5, 0.25, 9.0, 9.0}, 2, 3, 2), 2, 1, 3, pose),
                by_function(station::DifferenceFunction(value, 3, 2), 2, pose));
}

TEST(site_network_functions, targets_in_the_axes_stay_finite) {
    measure::ReducedSight sight;
    sight.has_direction = sight.has_zenith = sight.has_distance = true;
    const Said said = by_batch(SightBatch({{sight, station::bend_of(0.13)}}, 1.0, true), 3, 0, 1,
                               {{1.0, 2.0, 0.5}, {1.0, 2.0}, {3.0}, {3.0}});
    for (const double v : said.residual) EXPECT_TRUE(std::isfinite(v));
    for (const double v : said.jacobian) EXPECT_TRUE(std::isfinite(v));
    const Said tape =
        by_batch(TapeBatch({1.0}, 1.0, true), 1, 0, 1, {{1.0, 2.0}, {1.0, 2.0}, {3.0}, {3.0}});
    EXPECT_EQ(tape.residual[0], -1.0);
    for (const double v : tape.jacobian) EXPECT_TRUE(std::isfinite(v));
}

/// A set-up over A sights B and C in full and N, 10 m away, by its angles alone.
TEST(site_network_functions, angles_to_a_near_mark_have_the_lean_at_its_distance) {
    NetworkInput input;
    const std::array<std::array<double, 2>, 4> places{
        {{0.0, 0.0}, {40.0, 0.0}, {0.0, 50.0}, {10.0, 0.0}}};
    for (std::size_t m = 0; m < places.size(); ++m) {
        frame::Mark mark;
        mark.name = std::string(1, "ABCN"[m]);
        mark.east_m = 500.0 + places[m][0];
        mark.north_m = 700.0 + places[m][1];
        mark.height_m = 20.0;
        input.marks.push_back(mark);
    }
    station::StationInput setup;
    setup.setup.station = "S";
    setup.setup.kind = station::SetupKind::occupied;
    setup.setup.mark = "A";
    setup.setup.instrument_height_m = 1.5;
    setup.instrument.bubble_rad = 10.0 * measure::kRadPerArcmin;
    setup.instrument.refraction_k = 1.0;  // straight lines of sight
    for (const std::size_t m : {1U, 2U, 3U}) {
        measure::Sight sight;
        sight.station = "S";
        sight.target = input.marks[m].name;
        sight.direction_rad = measure::wrap_0_2pi(std::atan2(places[m][0], places[m][1]));
        sight.zenith_rad = 0.5 * measure::kPi;
        if (m != 3) sight.slope_distance_m = std::hypot(places[m][0], places[m][1]);
        sight.target_height_m = 1.5;
        setup.sights.push_back(sight);
    }
    input.setups.push_back(setup);
    const auto found = adjust_network(input);
    ASSERT_TRUE(found);
    const NetworkSight& near = found->sights.back();
    ASSERT_TRUE(near.used);
    ASSERT_FALSE(near.reduced.has_distance);
    const Eigen::MatrixXd whitener = whitener_of(*found->form, found->form->sights.back());
    const Eigen::MatrixXd covariance = (whitener.transpose() * whitener).inverse();
    const Eigen::Matrix3d expected = station::covariance_of(near.reduced, setup.instrument, 10.0);
    EXPECT_NEAR(covariance(0, 0) / expected(0, 0), 1.0, 1e-9);
    EXPECT_NEAR(covariance(1, 1) / expected(1, 1), 1.0, 1e-9);
    EXPECT_NEAR(std::sqrt(covariance(0, 0)) / measure::kRadPerArcsec, 92.5, 0.5);
}

}  // namespace
}  // namespace layproof::network::internal
