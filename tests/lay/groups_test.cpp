#include "lay/groups.hpp"

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <array>
#include <vector>

#include "lay/common_marks.hpp"
#include "lay/lay_support.hpp"
#include "station/solution.hpp"

namespace layproof::lay {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;
using station::Word;
using testing::kMm;

double plan_sd(const LaidPlace& place, const SetupSet& set, int axis) {
    const std::array<LaidPlace, 1> one{place};
    return std::sqrt(joint_covariance(one, set)(axis, axis));
}

TEST(Joint, difference_of_two_points_from_one_set_up_is_known_better_than_either) {
    const SetupSet set{{testing::setup(testing::pose(0.004, 8e-5))}, {}};
    const LaidPlace a = testing::exact_place("A", set.setups[0], 0, {1040, 1990, 100}, 0.1);
    const LaidPlace b = testing::exact_place("B", set.setups[0], 0, {1040.3, 1990, 100}, 0.1);
    const auto rule = distance_rule(a, b, 0.3, {set, testing::both(6.35 * kMm)});
    ASSERT_TRUE(rule.has_value());
    EXPECT_LT(rule->verdict.sd_m, 0.5 * plan_sd(a, set, 0));
    EXPECT_LT(rule->verdict.sd_m, 0.5 * plan_sd(b, set, 0));
    EXPECT_EQ(rule->verdict.word, Word::proven);
    // Each alone is not proven to the same limit: the station is too uncertain.
    PointTolerance tolerance;
    tolerance.plan_m = 6.35 * kMm;
    EXPECT_NE(judge_point(a, testing::design("A", 1040, 1990), tolerance, set).word, Word::proven);
}

TEST(Joint, covariance_is_symmetric_with_shared_blocks) {
    const SetupSet set{{testing::setup()}, {}};
    const std::array<LaidPlace, 2> two{
        testing::exact_place("A", set.setups[0], 0, {1040, 1990, 100}),
        testing::exact_place("B", set.setups[0], 0, {1020, 2030, 100})};
    const Eigen::MatrixXd c = joint_covariance(two, set);
    EXPECT_LT((c - c.transpose()).norm(), 1e-18);
    EXPECT_GT(c(0, 3), 1e-7);  // shared shift of the station
    EXPECT_GE(c.selfadjointView<Eigen::Lower>().eigenvalues().minCoeff(), 0.0);
}

TEST(Groups, figures_agree_with_plane_geometry) {
    const SetupSet set{{testing::setup()}, {}};
    const auto at = [&](double e, double n) {
        return testing::exact_place("P", set.setups[0], 0, {e, n, 100});
    };
    const RuleQuestion question{set, testing::both(0.01)};
    const auto distance = distance_rule(at(1030, 1990), at(1033, 1994), 5.004, question);
    EXPECT_NEAR(distance->measured_m, 5.0, 1e-6);
    EXPECT_NEAR(distance->verdict.deviation_m, -0.004, 1e-6);
    const auto spacing = spacing_rule(at(1030, 1990), at(1033, 1994), {0, 2}, 3.999, question);
    EXPECT_NEAR(spacing->measured_m, 4.0, 1e-6);
    const auto line = frame::grid_line_at("B", {1030, 1990}, 0.0);
    const auto offset = line_offset_rule(at(1030.002, 1995), line, 0.0, question);
    EXPECT_NEAR(offset.verdict.deviation_m, 0.002, 1e-6);
    EXPECT_EQ(offset.to, "B");
}

TEST(Groups, points_too_close_for_a_distance_get_none) {
    const SetupSet set{{testing::setup()}, {}};
    const LaidPlace a = testing::exact_place("A", set.setups[0], 0, {1040, 1990, 100});
    LaidPlace b = a;
    EXPECT_FALSE(distance_rule(a, b, 0.0, {set, testing::both(0.01)}).has_value());
    b.place_m.x() += 0.002;
    EXPECT_FALSE(distance_rule(a, b, 0.0, {set, testing::both(0.01)}).has_value());
    EXPECT_FALSE(spacing_rule(a, b, {0, 0}, 0.0, {set, testing::both(0.01)}).has_value());
}

TEST(Groups, sides_and_diagonals_of_four_rods_are_six_distances) {
    const SetupSet set{{testing::setup()}, {}};
    std::vector<LaidAgainst> rods;
    for (const auto& [e, n] : {std::pair{0.0, 0.0}, {.3, 0.0}, {.3, .4}, {0.0, .4}}) {
        rods.push_back({testing::exact_place("R", set.setups[0], 0, {1040 + e, 1990 + n, 100}, 0.1),
                        Vector2d(1040 + e, 1990 + n)});
    }
    const auto rules = all_distances(rods, {set, testing::both(6.35 * kMm)});
    ASSERT_EQ(rules.size(), 6U);
    EXPECT_EQ(summary_of(rules).word, Word::proven);
    // One rod 8 mm off: its three distances suffer, the others stand.
    rods[2].laid.place_m.x() += 0.008;
    rods[2].laid.place_m.y() += 0.008;
    const auto after = all_distances(rods, {set, testing::both(6.35 * kMm)});
    const auto summary = summary_of(after);
    EXPECT_EQ(summary.word, Word::fails);
    EXPECT_EQ(summary.proven, 3);
    EXPECT_EQ(summary_of(std::span<const RuleVerdict>{}).word, Word::in_doubt);
}

TEST(Groups, build_up_is_judged_over_every_length) {
    const auto table = parse_tolerances(shipped_tolerances_csv(), "t");
    ASSERT_TRUE(table.ok());
    const SetupSet set{{testing::setup(testing::pose(0.001, 1e-5))}, {}};
    std::vector<LaidAgainst> centres;
    // Six groups 7.5 m apart, each gap 3 mm too long: neighbours pass, the row does not.
    for (int i = 0; i < 6; ++i) {
        const double design = 7.5 * i;
        auto laid = testing::exact_place("G" + std::to_string(i), set.setups[0], 0,
                                         {990 + design + 0.003 * i, 1985, 100}, 0.1);
        centres.push_back({laid, Vector2d(990 + design, 1985)});
    }
    const auto line = frame::grid_line_at("B", {990, 1985}, measure::kPi / 2);
    const auto neighbours = neighbour_distances(centres, {set, testing::both(6.35 * kMm)});
    EXPECT_EQ(neighbours.size(), 5U);
    EXPECT_EQ(summary_of(neighbours).word, Word::proven);
    const auto row = build_up(centres, line, *table->find("AR3"), {set, {}});
    ASSERT_TRUE(row.ok()) << row.refusal().to_text();
    ASSERT_EQ(row->size(), 15U);
    // 37.5 m: 6.35 mm per 30.48 m gives 7.8 mm; 15 mm are there.
    const RuleVerdict& whole = (*row)[4];
    EXPECT_EQ(whole.from, "G0");
    EXPECT_EQ(whole.to, "G5");
    EXPECT_NEAR(*whole.verdict.limits.plus_m, 6.35 * kMm * 37.5 / 30.48, 1e-9);
    EXPECT_NEAR(whole.verdict.deviation_m, 0.015, 1e-6);
    EXPECT_EQ(whole.verdict.word, Word::fails);
    EXPECT_EQ(whole.tolerance_id, "AR3");
}

/// Two set-ups by the simulator's site with common marks.
struct TwoSetups {
    station::Prepared prepared[2];
    station::Solution solution[2];
    bool ok = false;
};
TwoSetups two_setups(std::uint64_t seed, double mark_sd) {
    TwoSetups out;
    Random random(seed);
    std::vector<frame::Mark> marks;
    std::vector<Vector3d> truth;
    const double corners[4][2] = {{0, 0}, {60, 5}, {55, 50}, {-5, 45}};
    for (int i = 0; i < 4; ++i) {
        frame::Mark mark;
        mark.name = "M" + std::to_string(i);
        truth.emplace_back(1000 + corners[i][0], 2000 + corners[i][1], 100);
        mark.east_m = truth.back().x() + mark_sd * random.normal();
        mark.north_m = truth.back().y() + mark_sd * random.normal();
        mark.height_m = truth.back().z() + mark_sd * random.normal();
        mark.sd_east_m = mark.sd_north_m = mark.sd_height_m = mark_sd;
        marks.push_back(mark);
    }
    for (int k = 0; k < 2; ++k) {
        station::StationInput input;
        input.setup.station = k == 0 ? "S1" : "S2";
        input.instrument = testing::instrument();
        input.marks = marks;
        layproof::testing::TruePose at;
        at.axes_m << (k == 0 ? 1020 : 1036), (k == 0 ? 2020 : 2030), 101.6;
        at.orientation_rad = k == 0 ? 0.4 : 2.1;
        for (int i = 0; i < 4; ++i) {
            auto sight = testing::noisy_sight(random, at, truth[static_cast<std::size_t>(i)], 0.1);
            sight.station = input.setup.station;
            sight.target = marks[static_cast<std::size_t>(i)].name;
            sight.purpose = measure::Purpose::control;
            input.sights.push_back(sight);
        }
        auto prepared = station::prepare(input);
        if (!prepared) return out;
        out.prepared[k] = *prepared;
        const auto solved = station::solve_station(*prepared);
        if (!solved) return out;
        out.solution[k] = solved->best;
    }
    out.ok = true;
    return out;
}

std::optional<StateLink> link_of(const TwoSetups& two) {
    const auto first = station::misfit_model(two.prepared[0], two.solution[0].pose);
    const auto second = station::misfit_model(two.prepared[1], two.solution[1].pose);
    return link_through_marks({two.prepared[0], first}, 0, {two.prepared[1], second}, 1);
}

// The link, against the scatter of the two errors over simulated sites: 2,000 sites, the error of a
// sample correlation is 0.02, so 4 of it.
TEST(CommonMarks, link_agrees_with_simulated_sites) {
    const Eigen::Vector2d true_at[2] = {{1020, 2020}, {1036, 2030}};
    const int runs = 2000;
    Eigen::MatrixXd error(4, runs);
    const TwoSetups first = two_setups(1, 0.003);
    ASSERT_TRUE(first.ok);
    for (int i = 0; i < runs; ++i) {
        const TwoSetups two = two_setups(static_cast<std::uint64_t>(i + 1), 0.003);
        ASSERT_TRUE(two.ok);
        for (int k = 0; k < 2; ++k)
            error.block<2, 1>(2 * k, i) = true_at[k] - two.solution[k].pose.position_m.head<2>();
    }
    const Eigen::Matrix4d sample = error * error.transpose() / runs;
    const auto link = link_of(first);
    ASSERT_TRUE(link.has_value());
    for (int a = 0; a < 2; ++a) {
        for (int b = 0; b < 2; ++b) {
            const double scale = std::sqrt(sample(a, a) * sample(2 + b, 2 + b));
            EXPECT_NEAR(link->covariance(a, b) / scale, sample(a, 2 + b) / scale, 0.09) << a << b;
        }
    }
    EXPECT_GT(link->covariance(0, 0) / std::sqrt(sample(0, 0) * sample(2, 2)), 0.5);
}

TEST(CommonMarks, joint_state_is_positive_and_marks_held_true_link_nothing) {
    const TwoSetups two = two_setups(3, 0.003);
    ASSERT_TRUE(two.ok);
    const auto link = link_of(two);
    ASSERT_TRUE(link.has_value());
    Eigen::Matrix<double, 8, 8> joint;
    joint << station::belief_of(two.solution[0].pose).covariance.topLeftCorner<4, 4>(),
        link->covariance.topLeftCorner<4, 4>(), link->covariance.topLeftCorner<4, 4>().transpose(),
        station::belief_of(two.solution[1].pose).covariance.topLeftCorner<4, 4>();
    const Eigen::Matrix<double, 8, 1> root = joint.diagonal().cwiseSqrt().cwiseInverse();
    const Eigen::Matrix<double, 8, 8> scaled = root.asDiagonal() * joint * root.asDiagonal();
    EXPECT_GT(scaled.selfadjointView<Eigen::Lower>().eigenvalues().minCoeff(), 0.0);
    const TwoSetups held = two_setups(3, 0.0);
    ASSERT_TRUE(held.ok);
    EXPECT_LT(link_of(held)->covariance.norm(), 1e-20);
}

TEST(Mixture, link_narrows_a_difference_and_none_given_widens_it) {
    const TwoSetups two = two_setups(3, 0.003);
    ASSERT_TRUE(two.ok);
    SetupSet set;
    for (int k = 0; k < 2; ++k)
        set.setups.push_back(believing_nothing_wrong(k == 0 ? "S1" : "S2", two.solution[k].pose,
                                                     testing::instrument()));
    const LaidPlace a = testing::exact_place("A", set.setups[0], 0, {1028, 2024, 100}, 0.1);
    const LaidPlace b = testing::exact_place("B", set.setups[1], 1, {1029, 2024, 100}, 0.1);
    const auto sd = [&](std::vector<StateLink> links) {
        set.links = std::move(links);
        const auto rule = distance_rule(a, b, 1.0, {set, testing::both(0.01)});
        return std::pair{rule->verdict.sd_m, rule->verdict.is_widened};
    };
    const auto known = sd({*link_of(two)});
    const auto independent = sd({{0, 1, station::StateCovariance::Zero()}});
    const auto unknown = sd({});
    EXPECT_LT(known.first, 0.8 * independent.first);
    EXPECT_GT(unknown.first, independent.first);
    EXPECT_FALSE(known.second);
    EXPECT_TRUE(unknown.second);
    // The link may be given the other way round.
    StateLink turned = *link_of(two);
    std::swap(turned.first, turned.second);
    turned.covariance.transposeInPlace();
    EXPECT_NEAR(sd({turned}).first, known.first, 1e-12);
}

TEST(Mixture, choices_multiply_and_what_is_left_out_is_told) {
    auto one = testing::setup();
    station::Belief other = one.beliefs.front();
    one.beliefs.front().weight = 0.9;
    other.weight = 0.1;
    other.mean(station::state_prism) = 0.02;
    one.beliefs.push_back(other);
    auto two = one;
    two.beliefs.push_back(other);
    two.beliefs.back().weight = 1e-9;
    const SetupSet set{{one, two}, {{0, 1, station::StateCovariance::Zero()}}};
    const LaidPlace a = testing::exact_place("A", one, 0, {1040, 1990, 100});
    const LaidPlace b = testing::exact_place("B", two, 1, {1043, 1994, 100});
    const FiguresByPlace plan = FiguresByPlace::Identity(2, 3);
    const std::array<PlaceTerm, 2> terms{PlaceTerm{&a, -plan}, PlaceTerm{&b, plan}};
    const Figures value = (b.place_m - a.place_m).head<2>();
    const Mixture m = mixture_of(quantity_of(value, terms), set);
    ASSERT_EQ(m.components.size(), 4U);
    EXPECT_NEAR(m.components[0].weight, 0.81, 1e-12);
    EXPECT_NEAR(m.components[3].weight, 0.01, 1e-12);
    EXPECT_NEAR(m.left_out, 0.0, 1e-8);
    // The prism constant wrong on both shifts both alike: the difference hardly moves.
    EXPECT_LT((m.components[3].mean - value).norm(), 0.005);
}

}  // namespace
}  // namespace layproof::lay
