#include "network/movement.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "cause/shipped.hpp"
#include "measure/angle.hpp"
#include "network/site_jobs.hpp"
#include "support/reference.hpp"

namespace layproof::network {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector2d;

MatrixXd cofactors_of(const testing::Reference& reference, const std::string& epoch) {
    const auto& rows = *reference.table().at_path("input.cofactors." + epoch).as_array();
    const auto n = static_cast<Eigen::Index>(rows.size());
    MatrixXd out(n, n);
    for (Eigen::Index r = 0; r < n; ++r) {
        const auto& row = *rows[static_cast<std::size_t>(r)].as_array();
        for (Eigen::Index c = 0; c < static_cast<Eigen::Index>(row.size()); ++c)
            out(r, c) = out(c, r) = row[static_cast<std::size_t>(c)].value<double>().value_or(0.0);
    }
    return out;
}

std::pair<std::vector<Vector2d>, std::vector<Vector2d>> epochs_of(
    const testing::Reference& reference, std::vector<std::string>& names) {
    std::pair<std::vector<Vector2d>, std::vector<Vector2d>> out;
    for (const auto& row : *reference.table().at_path("input.points.rows").as_array()) {
        const auto& cells = *row.as_array();
        const auto number = [&](std::size_t i) { return cells[i].value<double>().value_or(0.0); };
        names.push_back(*cells[0].value<std::string>());
        out.first.emplace_back(number(1), number(2));
        out.second.emplace_back(number(3), number(4));
    }
    return out;
}

TEST(movement, published_pointwise_congruency) {
    const testing::Reference reference("deformation-pointwise-congruency");
    std::vector<std::string> names;
    const auto [first, second] = epochs_of(reference, names);
    const double s1 = 1e-3 * reference.number("points.s0_epoch_1_mm");
    const double s2 = 1e-3 * reference.number("points.s0_epoch_2_mm");
    const MatrixXd covariance =
        s1 * s1 * cofactors_of(reference, "epoch_1") + s2 * s2 * cofactors_of(reference, "epoch_2");
    Eigen::VectorXd d(2 * static_cast<Eigen::Index>(first.size()));
    for (std::size_t i = 0; i < first.size(); ++i)
        d.segment<2>(2 * static_cast<Eigen::Index>(i)) = second[i] - first[i];
    const Congruency found = congruency(d, covariance);
    EXPECT_EQ(found.rank, 10);
    for (std::size_t i = 0; i < names.size(); ++i)
        reference.check("T_" + names[i], found.of_point[i]);
}

TEST(movement, published_rigid_body) {
    const testing::Reference reference("deformation-rigid-body");
    std::vector<std::string> names;
    const auto [first, second] = epochs_of(reference, names);
    const double s0 = 1e-3 * reference.number("points.s0_mm");
    const RigidMotion found =
        rigid_motion(first, second, s0 * s0 * cofactors_of(reference, "epoch_1"),
                     s0 * s0 * cofactors_of(reference, "epoch_2"));
    reference.check("shift_first", found.shift_m.x());
    reference.check("shift_second", found.shift_m.y());
    reference.check("shift_statistic", found.shift_statistic);
    reference.check("mean_rotation", found.turn_rad);
    reference.check("sd_mean_rotation", found.turn_sd_rad);
    reference.check("rotation_statistic", std::abs(found.turn_statistic));
}

TEST(movement, congruency_of_what_did_not_move_is_small) {
    const Congruency found = congruency(Eigen::VectorXd::Zero(6), MatrixXd::Identity(6, 6));
    EXPECT_EQ(found.statistic, 0.0);
    EXPECT_EQ(found.rank, 6);
    EXPECT_EQ(found.of_point.size(), 3U);
}

TEST(movement, free_datum_counts_its_rank_only) {
    // Two points known relative to each other alone.
    MatrixXd c(2, 2);
    c << 1.0, -1.0, -1.0, 1.0;
    const Congruency found = congruency(Eigen::Vector2d(1.0, -1.0), c, 1);
    EXPECT_EQ(found.rank, 1);
    EXPECT_NEAR(found.statistic, 1.0, 1e-12);
}

TEST(movement, two_marks_that_moved_together_are_one_set) {
    testing::SiteJobOptions options;
    options.marks = 7;
    options.setups = 8;
    options.sights_each = 7;
    const Eigen::Vector3d shift(0.012, 0.016, 0.0);
    options.moves = {{1, 4, shift}, {4, 4, shift}};
    const auto network = adjust_network(testing::draw_site_job(77, options).input);
    ASSERT_TRUE(network);
    const auto sets = moved_sets(diagnose_network(*network, testing::shipped_table()));
    std::vector<int> truth{network->point_named("H2"), network->point_named("H5")};
    std::sort(truth.begin(), truth.end());
    EXPECT_EQ(sets.front().points, truth);
    EXPECT_GT(sets.front().probability, 0.8);
}

}  // namespace
}  // namespace layproof::network
