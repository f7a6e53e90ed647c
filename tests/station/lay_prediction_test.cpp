#include "station/lay_prediction.hpp"

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <array>

#include <cmath>
#include <limits>
#include <vector>

#include "measure/angle.hpp"
#include "station/station_support.hpp"

namespace layproof::station {
namespace {

Pose some_pose() {
    Pose pose;
    pose.position_m << 100.0, 200.0, 30.0;
    pose.orientation_rad = 1.1;
    Eigen::Matrix4d root;
    // East, north, height in m; orientation in rad: correlated as a real solution is.
    root << 1.5e-3, 0.0, 0.0, 0.0,  //
        4e-4, 1.2e-3, 0.0, 0.0,     //
        1e-4, 2e-4, 1.0e-3, 0.0,    //
        1.5e-5, -1e-5, 2e-6, 2e-5;
    pose.covariance = root * root.transpose();
    return pose;
}

LayTarget target_at(double east_m, double north_m, double tolerance_m) {
    LayTarget out;
    out.name = "P";
    out.east_m = east_m;
    out.north_m = north_m;
    out.height_m = 29.0;
    out.tolerance_plan_m = tolerance_m;
    return out;
}

/// One draw of the laying process: the true state, the sight's own errors, exact geometry.
Eigen::Vector3d lay_once(Random& random, const Pose& pose, const Belief& belief,
                         const Eigen::MatrixXd& root, const LayTarget& target,
                         const measure::Instrument& instrument, double rod_m) {
    State state = belief.mean;
    Eigen::VectorXd normal(kStateSize);
    for (int i = 0; i < kStateSize; ++i) normal[i] = random.normal();
    state += root * normal;
    layproof::testing::TruePose believed;
    believed.axes_m = pose.position_m;
    believed.orientation_rad = pose.orientation_rad;
    const auto wanted = layproof::testing::read_exactly(
        believed, Eigen::Vector3d(target.east_m, target.north_m, *target.height_m + rod_m), 1.0);
    const auto rod = layproof::testing::draw_rod(random, instrument);
    const double distance_sd =
        std::hypot(instrument.distance_sd_m, instrument.distance_ppm * 1e-6 * wanted.distance_m);
    // What the readings mean once everything that is wrong with them is taken out.
    const double direction = wanted.direction_rad - instrument.angle_sd_rad * random.normal();
    const double zenith =
        wanted.zenith_rad - instrument.angle_sd_rad * random.normal() - state[state_index];
    const double distance =
        (wanted.distance_m - distance_sd * random.normal() - state[state_prism]) /
        (1.0 + state[state_scale]);
    const double azimuth = direction + pose.orientation_rad + state[state_orientation];
    Eigen::Vector3d vector(distance * std::sin(zenith) * std::sin(azimuth),
                           distance * std::sin(zenith) * std::cos(azimuth),
                           distance * std::cos(zenith));
    // Out of the leaning instrument's frame: what it calls up leans east and north.
    const Eigen::Vector3d lean(state[state_tilt_east], state[state_tilt_north], 0.0);
    vector += lean * vector.z() - Eigen::Vector3d(0.0, 0.0, lean.dot(vector));
    const Eigen::Vector3d prism =
        pose.position_m +
        Eigen::Vector3d(state[state_east], state[state_north], state[state_height]) + vector;
    const Eigen::Vector3d stick =
        layproof::testing::rod_top(Eigen::Vector3d::Zero(), rod_m + rod.length_m + state[state_rod],
                                   rod.lean_east_rad, rod.lean_north_rad);
    return prism - stick -
           Eigen::Vector3d(
               target.east_m + rod.centring_east_m + instrument.marking_m * random.normal(),
               target.north_m + rod.centring_north_m + instrument.marking_m * random.normal(),
               *target.height_m);
}

Eigen::MatrixXd root_of(const StateCovariance& covariance) {
    // Any root serves; the covariance may be singular.
    const Eigen::SelfAdjointEigenSolver<StateCovariance> eigen(covariance);
    return eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
}

TEST(lay_prediction, probability_mixture_of_beliefs_agrees_with_simulated_laying) {
    constexpr int kDraws = 60000;
    const Pose pose = some_pose();
    measure::Instrument instrument;
    instrument.marking_m = 0.0008;
    Belief sound = belief_of(pose);
    sound.weight = 0.7;
    Belief wrong = sound;
    wrong.weight = 0.3;
    wrong.mean[state_prism] = 0.006;
    wrong.mean[state_tilt_east] = 1e-4;
    wrong.mean[state_index] = -6e-5;
    wrong.mean[state_rod] = 0.003;
    wrong.covariance(state_prism, state_prism) = 0.002 * 0.002;
    wrong.covariance(state_scale, state_scale) = 5e-5 * 5e-5;
    wrong.covariance(state_tilt_north, state_tilt_north) = 8e-5 * 8e-5;
    const Eigen::MatrixXd sound_root = root_of(sound.covariance);
    const Eigen::MatrixXd wrong_root = root_of(wrong.covariance);
    Random random(71);
    for (const auto& [east, north, tolerance, height_tolerance] :
         std::vector<std::array<double, 4>>{{140.0, 210.0, 0.006, 0.005},
                                            {100.5, 203.0, 0.003, 0.004},
                                            {30.0, 120.0, 0.010, 0.008},
                                            {160.0, 200.0, 0.008, 0.0}}) {
        LayTarget target = target_at(east, north, tolerance);
        if (height_tolerance > 0.0) target.tolerance_height_m = height_tolerance;
        const Forecast answer = forecast(pose, {target}, instrument, 1.6, {sound, wrong}, 0.95);
        int within = 0;
        Eigen::Vector3d sum = Eigen::Vector3d::Zero();
        Eigen::Matrix3d square = Eigen::Matrix3d::Zero();
        for (int i = 0; i < kDraws; ++i) {
            const bool is_wrong = random.uniform() < 0.3;
            const Eigen::Vector3d d =
                lay_once(random, pose, is_wrong ? wrong : sound, is_wrong ? wrong_root : sound_root,
                         target, instrument, 1.6);
            sum += d;
            square += d * d.transpose();
            const bool height_within =
                !target.tolerance_height_m || std::abs(d.z()) <= *target.tolerance_height_m;
            within += d.head<2>().norm() <= tolerance && height_within ? 1 : 0;
        }
        const double p = answer.points.front().probability;
        // 4 standard errors of the count.
        EXPECT_NEAR(static_cast<double>(within) / kDraws, p,
                    4.0 * std::sqrt(p * (1.0 - p) / kDraws) + 1e-4);
        const Eigen::Vector3d mean = sum / kDraws;
        const Eigen::Matrix3d spread = square / kDraws - mean * mean.transpose();
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(
            Eigen::Matrix2d(spread.topLeftCorner<2, 2>()));
        EXPECT_NEAR(answer.points.front().sd_plan_m, std::sqrt(eigen.eigenvalues()[1]),
                    0.015 * answer.points.front().sd_plan_m);
        EXPECT_NEAR(*answer.points.front().sd_height_m, std::sqrt(spread(2, 2)),
                    0.015 * *answer.points.front().sd_height_m);
    }
}

TEST(lay_prediction, tolerance_zero_fails_and_wide_is_proven) {
    const Pose pose = some_pose();
    const measure::Instrument instrument;
    const Belief belief = belief_of(pose);
    const auto word = [&](double plan_m, std::optional<double> height_m) {
        LayTarget target = target_at(130.0, 210.0, plan_m);
        target.tolerance_height_m = height_m;
        return forecast(pose, {target}, instrument, 1.5, {belief}, 0.95).points.front();
    };
    EXPECT_EQ(word(0.0, std::nullopt).probability, 0.0);
    EXPECT_EQ(word(0.0, std::nullopt).word, Word::fails);
    EXPECT_EQ(word(-0.01, std::nullopt).probability, 0.0);
    EXPECT_EQ(word(0.05, 0.0).probability, 0.0);
    EXPECT_EQ(word(0.05, 0.05).word, Word::proven);
    EXPECT_NEAR(word(0.05, 0.05).probability, 1.0, 1e-9);
    EXPECT_NEAR(word(std::numeric_limits<double>::infinity(), std::nullopt).probability, 1.0,
                1e-12);
}

TEST(lay_prediction, forecast_counts_words_and_names_the_weakest) {
    const Pose pose = some_pose();
    const measure::Instrument instrument;
    const std::vector<LayTarget> targets{target_at(110.0, 200.0, 0.05),
                                         target_at(180.0, 200.0, 0.003),
                                         target_at(105.0, 190.0, 0.05)};
    const Forecast answer = forecast(pose, targets, instrument, 1.5, {belief_of(pose)}, 0.95);
    EXPECT_EQ(answer.proven, 2);
    EXPECT_EQ(answer.weakest, 1);
    EXPECT_EQ(answer.lowest, answer.points[1].probability);
    EXPECT_EQ(answer.word, Word::in_doubt);
    const Forecast nothing = forecast(pose, {}, instrument, 1.5, {belief_of(pose)}, 0.95);
    EXPECT_EQ(nothing.word, Word::in_doubt);
    EXPECT_EQ(nothing.weakest, -1);
    const std::vector<LayTarget> hopeless{target_at(110.0, 200.0, 1e-5),
                                          target_at(150.0, 200.0, 1e-5)};
    EXPECT_EQ(forecast(pose, hopeless, instrument, 1.5, {belief_of(pose)}, 0.95).word, Word::fails);
}

TEST(lay_prediction, judge_is_the_same_in_both_directions) {
    EXPECT_EQ(judge(0.95, 0.95), Word::proven);
    EXPECT_EQ(judge(0.9499, 0.95), Word::in_doubt);
    EXPECT_EQ(judge(0.0501, 0.95), Word::in_doubt);
    EXPECT_EQ(judge(0.0499, 0.95), Word::fails);
}

TEST(lay_prediction, point_without_height_is_judged_in_plan_only) {
    const Pose pose = some_pose();
    const measure::Instrument instrument;
    LayTarget target = target_at(130.0, 210.0, 0.01);
    target.height_m.reset();
    target.tolerance_height_m = 1e-9;
    const PointForecast point =
        forecast(pose, {target}, instrument, 1.5, {belief_of(pose)}, 0.95).points.front();
    EXPECT_FALSE(point.sd_height_m.has_value());
    EXPECT_GT(point.probability, 0.5);
}

TEST(lay_prediction, point_at_the_station_or_straight_below_stays_finite) {
    const Pose pose = some_pose();
    const measure::Instrument instrument;
    LayTarget target = target_at(100.0, 200.0, 0.01);
    target.tolerance_height_m = 0.01;
    for (const double height : {28.5, 20.0, 30.0}) {
        target.height_m = height;
        const PointForecast point =
            forecast(pose, {target}, instrument, 1.5, {belief_of(pose)}, 0.95).points.front();
        EXPECT_TRUE(std::isfinite(point.probability));
        EXPECT_TRUE(std::isfinite(point.sd_plan_m));
        EXPECT_GE(point.probability, 0.0);
        EXPECT_LE(point.probability, 1.0);
    }
}

TEST(lay_prediction, taller_rod_further_point_and_worse_bubble_are_never_better) {
    const Pose pose = some_pose();
    measure::Instrument instrument;
    const Belief belief = belief_of(pose);
    const auto p = [&](double reach_m, double rod_m) {
        return forecast(pose, {target_at(100.0 + reach_m, 200.0, 0.004)}, instrument, rod_m,
                        {belief}, 0.95)
            .lowest;
    };
    EXPECT_GT(p(20.0, 0.2), p(20.0, 2.0));
    EXPECT_GT(p(20.0, 1.5), p(120.0, 1.5));
    const double before = p(20.0, 1.5);
    instrument.bubble_rad *= 2.0;
    EXPECT_LT(p(20.0, 1.5), before);
}

}  // namespace
}  // namespace layproof::station
