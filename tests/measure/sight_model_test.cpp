#include "measure/sight_model.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <limits>
#include <ostream>

#include "base/random.hpp"
#include "support/reference.hpp"

namespace layproof::measure {
namespace {

struct Geometry {
    double distance_m;
    double zenith_deg;
    double height_m;
    bool horizontal;
};

std::ostream& operator<<(std::ostream& out, const Geometry& g) {
    return out << g.distance_m << " m at " << g.zenith_deg << " deg, rod " << g.height_m << " m"
               << (g.horizontal ? ", horizontal" : "");
}

/// Direction, zenith and distance of a target at (along, across, up) of the instrument.
Eigen::Vector3d observe(const Eigen::Vector3d& target, bool horizontal) {
    const double plan = std::hypot(target.x(), target.y());
    return {std::atan2(target.y(), target.x()), std::atan2(plan, target.z()),
            horizontal ? plan : target.norm()};
}

Eigen::Vector3d target_of(const Geometry& g) {
    const double z = g.zenith_deg * kRadPerDeg;
    const double slope = g.horizontal ? g.distance_m / std::sin(z) : g.distance_m;
    return {slope * std::sin(z), 0.0, slope * std::cos(z)};
}

/// An instrument with one source of error only, the rest exact.
Instrument exact() {
    Instrument i;
    i.angle_sd_rad = i.distance_sd_m = i.distance_ppm = i.bubble_rad = i.centring_m = 0.0;
    i.height_tape_m = i.refraction_k_sd = 0.0;
    return i;
}

Eigen::Matrix3d covariance_of(const Instrument& instrument, const Geometry& g) {
    return sight_covariance(instrument, g.distance_m, g.zenith_deg * kRadPerDeg, g.height_m,
                            g.horizontal);
}

constexpr Geometry kGeometries[] = {
    {50.0, 90.0, 1.5, false}, {50.0, 88.0, 2.0, false}, {20.0, 60.0, 1.3, false},
    {8.0, 130.0, 0.1, false}, {3.0, 20.0, 0.0, false},  {300.0, 95.0, 2.5, false},
    {50.0, 90.0, 1.5, true},  {30.0, 75.0, 1.5, true},
};

TEST(SightCovariance, equals_numeric_propagation) {
    Instrument instrument;
    instrument.refraction_k_sd = 0.5;
    for (const auto& g : kGeometries) {
        SCOPED_TRACE(::testing::PrintToString(g));
        const Eigen::Vector3d target = target_of(g);
        // Central differences with a step of 1 mm: their error is (step/distance)²/6, 2e-8 at 3 m.
        constexpr double kStep_m = 1e-3;
        Eigen::Matrix3d jacobian;
        for (int axis = 0; axis < 3; ++axis) {
            const Eigen::Vector3d step = Eigen::Vector3d::Unit(axis) * kStep_m;
            jacobian.col(axis) =
                (observe(target + step, g.horizontal) - observe(target - step, g.horizontal)) /
                (2.0 * kStep_m);
        }
        const double plan =
            std::pow(g.height_m * instrument.bubble_rad, 2) + std::pow(instrument.centring_m, 2);
        const double refraction =
            std::pow(target.x(), 2) / (2.0 * kEarthRadius_m) * instrument.refraction_k_sd;
        const double up = std::pow(instrument.height_tape_m, 2) + refraction * refraction;
        Eigen::Matrix3d expected =
            jacobian * Eigen::Vector3d(plan, plan, up).asDiagonal() * jacobian.transpose();
        expected(0, 0) += std::pow(instrument.angle_sd_rad, 2);
        expected(1, 1) += std::pow(instrument.angle_sd_rad, 2);
        expected(2, 2) += std::pow(instrument.distance_sd_m, 2) +
                          std::pow(instrument.distance_ppm * 1e-6 * g.distance_m, 2);

        const Eigen::Matrix3d actual = covariance_of(instrument, g);
        const Eigen::Vector3d sd = expected.diagonal().cwiseSqrt();
        for (int i = 0; i < 3; ++i) {
            for (int j = 0; j < 3; ++j) {
                EXPECT_NEAR(actual(i, j), expected(i, j), 1e-6 * sd(i) * sd(j)) << i << ' ' << j;
            }
        }
    }
}

TEST(SightCovariance, plumb_budget_of_the_trade) {
    // Budget at 50 m, arithmetic of common practice: 2 mm + 2 ppm, 3" times root two, rod of 1.5 m
    // whose bubble of 10' per division is off by one division: 4.4 mm along and across.
    Instrument rod = exact();
    rod.bubble_rad = 10.0 * kRadPerArcmin;
    const Eigen::Matrix3d plumb = sight_covariance(rod, 50.0, kPi / 2.0, 1.5);
    EXPECT_NEAR(50.0 * std::sqrt(plumb(0, 0)) * 1000.0, 4.4, 0.05);
    EXPECT_NEAR(std::sqrt(plumb(2, 2)) * 1000.0, 4.4, 0.05);
    EXPECT_NEAR(plumb(1, 1), 0.0, 1e-25);

    Instrument all = rod;
    all.angle_sd_rad = 3.0 * std::sqrt(2.0) * kRadPerArcsec;
    all.distance_sd_m = 0.002;
    all.distance_ppm = 2.0;
    const Eigen::Matrix3d covariance = sight_covariance(all, 50.0, kPi / 2.0, 1.5);
    // Root sum squares of the budget's own lines: (2.0, 4.4) along, (1.0, 4.4) across.
    EXPECT_NEAR(std::sqrt(covariance(2, 2)) * 1000.0, std::hypot(2.0, 4.4), 0.06);
    EXPECT_NEAR(50.0 * std::sqrt(covariance(0, 0)) * 1000.0, std::hypot(1.0, 4.4), 0.06);
}

TEST(SightCovariance, plumb_is_the_same_in_all_plan_directions) {
    // Of a steep sight with zenith and slope distance together: along = D sin z from both.
    Instrument rod = exact();
    rod.bubble_rad = 10.0 * kRadPerArcmin;
    for (const double zenith_deg : {30.0, 60.0, 90.0, 120.0}) {
        const double z = zenith_deg * kRadPerDeg;
        const double distance_m = 20.0;
        const Eigen::Matrix3d c = sight_covariance(rod, distance_m, z, 1.5);
        const Eigen::Vector3d along(0.0, distance_m * std::cos(z), std::sin(z));
        const Eigen::Vector3d up(0.0, -distance_m * std::sin(z), std::cos(z));
        const double expected = std::pow(1.5 * rod.bubble_rad, 2);
        EXPECT_NEAR(along.dot(c * along), expected, 1e-12 * expected);
        EXPECT_NEAR(up.dot(c * up), 0.0, 1e-12 * expected);
        EXPECT_NEAR(c(0, 0) * std::pow(distance_m * std::sin(z), 2), expected, 1e-12 * expected);
    }
}

TEST(SightCovariance, equals_simulation) {
    Instrument instrument;
    instrument.bubble_rad = 10.0 * kRadPerArcmin;
    constexpr int kRuns = 40000;
    constexpr std::uint64_t kSeed = 4711;
    for (const Geometry g : {Geometry{50.0, 90.0, 1.5, false}, Geometry{10.0, 50.0, 1.5, false},
                             Geometry{30.0, 100.0, 1.5, true}}) {
        SCOPED_TRACE(::testing::PrintToString(g) + ", seed " + std::to_string(kSeed));
        Random random(kSeed);
        const Eigen::Vector3d target = target_of(g);
        const Eigen::Vector3d truth = observe(target, g.horizontal);
        Eigen::Matrix3d sum = Eigen::Matrix3d::Zero();
        for (int run = 0; run < kRuns; ++run) {
            // The rod turns about its foot, so the target also sinks: second order, simulated.
            const double tilt_along = instrument.bubble_rad * random.normal();
            const double tilt_across = instrument.bubble_rad * random.normal();
            const double sink = 1.0 - std::sqrt(1.0 - std::pow(std::sin(tilt_along), 2) -
                                                std::pow(std::sin(tilt_across), 2));
            const Eigen::Vector3d shift(
                g.height_m * std::sin(tilt_along) + instrument.centring_m * random.normal(),
                g.height_m * std::sin(tilt_across) + instrument.centring_m * random.normal(),
                -g.height_m * sink + instrument.height_tape_m * random.normal());
            Eigen::Vector3d seen = observe(target + shift, g.horizontal) - truth;
            seen(0) += instrument.angle_sd_rad * random.normal();
            seen(1) += instrument.angle_sd_rad * random.normal();
            seen(2) += instrument.distance_sd_m * random.normal() +
                       instrument.distance_ppm * 1e-6 * g.distance_m * random.normal();
            sum += seen * seen.transpose();
        }
        const Eigen::Matrix3d simulated = sum / kRuns;
        const Eigen::Matrix3d model = covariance_of(instrument, g);
        for (int i = 0; i < 3; ++i) {
            for (int j = 0; j < 3; ++j) {
                // Standard error of a sample covariance: √((c_ii c_jj + c_ij²)/n); four of them.
                const double error =
                    std::sqrt((model(i, i) * model(j, j) + std::pow(model(i, j), 2)) / kRuns);
                EXPECT_NEAR(simulated(i, j), model(i, j), 4.0 * error) << i << ' ' << j;
            }
        }
    }
}

TEST(SightCovariance, published_height_from_distance_and_zenith) {
    const layproof::testing::Reference reference("error-propagation-polar");
    Instrument instrument = exact();
    instrument.distance_sd_m = reference.number("task_11.sigma_d_mm") / 1000.0;
    instrument.angle_sd_rad = reference.number("task_11.sigma_z_mgon") / 1000.0 * kRadPerGon;
    const double distance_m = reference.number("task_11.distance_m");
    const double zenith = reference.number("task_11.zenith_gon") * kRadPerGon;
    const Eigen::Matrix3d c = sight_covariance(instrument, distance_m, zenith, 0.0, true);
    // h = d / tan z
    const Eigen::Vector3d gradient(0.0, -distance_m / std::pow(std::sin(zenith), 2),
                                   1.0 / std::tan(zenith));
    reference.check("task_11.sigma_h", std::sqrt(gradient.dot(c * gradient)) * 1000.0);
}

TEST(SightCovariance, published_polar_points) {
    const layproof::testing::Reference reference("error-propagation-polar");
    const auto plan_sd = [](double azimuth, double distance_m, const Instrument& instrument,
                            double station_sd_m) -> Eigen::Vector2d {
        const Eigen::Matrix3d c = sight_covariance(instrument, distance_m, kPi / 2.0, 0.0, true);
        const double sine = std::sin(azimuth);
        const double cosine = std::cos(azimuth);
        const Eigen::Vector3d east(distance_m * cosine, 0.0, sine);
        const Eigen::Vector3d north(-distance_m * sine, 0.0, cosine);
        return Eigen::Vector2d(std::sqrt(east.dot(c * east) + station_sd_m * station_sd_m),
                               std::sqrt(north.dot(c * north) + station_sd_m * station_sd_m)) *
               1000.0;
    };
    Instrument instrument = exact();
    instrument.distance_sd_m = reference.number("task_13.sigma_d_mm") / 1000.0;
    instrument.angle_sd_rad = reference.number("task_13.sigma_t_mgon") / 1000.0 * kRadPerGon;
    const double azimuth = reference.number("task_13.azimuth_gon") * kRadPerGon;
    const double distance_m = reference.number("task_13.distance_m");
    reference.check("task_13.dE", distance_m * std::sin(azimuth));
    reference.check("task_13.dN", distance_m * std::cos(azimuth));
    const Eigen::Vector2d sd = plan_sd(azimuth, distance_m, instrument, 0.0);
    reference.check("task_13.sigma_E", sd.x());
    reference.check("task_13.sigma_N", sd.y());

    instrument.distance_sd_m = reference.number("task_15.sigma_d_mm") / 1000.0;
    instrument.angle_sd_rad = reference.number("task_15.sigma_t_mgon") / 1000.0 * kRadPerGon;
    const double station_sd_m = reference.number("task_15.sigma_station_mm") / 1000.0;
    const auto& rows = *reference.input()["task_15"]["rows"].as_array();
    ASSERT_EQ(rows.size(), 2U);
    for (const auto& node : rows) {
        const auto& row = *node.as_array();
        const std::string name = "task_15." + row[0].value_or(std::string());
        const Eigen::Vector2d point = plan_sd(row[1].value_or(0.0) * kRadPerGon,
                                              row[2].value_or(0.0), instrument, station_sd_m);
        reference.check(name + ".sigma_E", point.x());
        reference.check(name + ".sigma_N", point.y());
    }
}

TEST(SightCovariance, shares_divide_the_instrument_and_not_the_rod) {
    const Instrument instrument;
    Instrument rod = instrument;
    rod.angle_sd_rad = rod.distance_sd_m = rod.distance_ppm = 0.0;
    const double z = 80.0 * kRadPerDeg;
    const Eigen::Matrix3d one = sight_covariance(instrument, 40.0, z, 1.5);
    const Eigen::Matrix3d rod_only = sight_covariance(rod, 40.0, z, 1.5);
    const Eigen::Matrix3d two = sight_covariance(instrument, 40.0, z, 1.5, false, 2.0, 2.0);
    EXPECT_TRUE(two.isApprox(rod_only + (one - rod_only) / 2.0, 1e-12));
    const Eigen::Matrix3d angle = sight_covariance(instrument, 40.0, z, 1.5, false, 2.0, 1.0);
    EXPECT_DOUBLE_EQ(angle(2, 2), one(2, 2));
    EXPECT_DOUBLE_EQ(angle(0, 0), two(0, 0));
}

TEST(SightCovariance, refraction_acts_on_the_height_alone) {
    Instrument instrument = exact();
    instrument.refraction_k_sd = 0.2;
    const Eigen::Matrix3d c = sight_covariance(instrument, 200.0, kPi / 2.0, 1.5);
    // 200² / (2 R) × 0.2 = 0.63 mm, seen at 200 m.
    EXPECT_NEAR(std::sqrt(c(1, 1)) * 200.0, 40000.0 / (2.0 * 6371000.0) * 0.2, 1e-12);
    EXPECT_EQ(c(0, 0), 0.0);
    EXPECT_NEAR(c(2, 2), 0.0, 1e-30);
}

TEST(SightCovariance, horizontal_distance_does_not_feel_heights) {
    Instrument instrument = exact();
    instrument.height_tape_m = 0.01;
    const Eigen::Matrix3d c = sight_covariance(instrument, 30.0, 70.0 * kRadPerDeg, 1.5, true);
    EXPECT_EQ(c(2, 2), 0.0);
    EXPECT_EQ(c(1, 2), 0.0);
    EXPECT_GT(c(1, 1), 0.0);
}

TEST(SightCovariance, is_symmetric_finite_and_never_negative) {
    constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
    constexpr double kInf = std::numeric_limits<double>::infinity();
    const auto check = [](double distance_m, double zenith, double height_m, bool horizontal) {
        const Eigen::Matrix3d c =
            sight_covariance(Instrument{}, distance_m, zenith, height_m, horizontal);
        ASSERT_TRUE(c.allFinite()) << distance_m << ' ' << zenith;
        EXPECT_EQ(c, c.transpose());
        const Eigen::Vector3d scale = c.diagonal().cwiseSqrt().cwiseInverse();
        const Eigen::Matrix3d correlation = scale.asDiagonal() * c * scale.asDiagonal();
        const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(correlation);
        EXPECT_GT(eigen.eigenvalues()(0), -1e-12) << distance_m << ' ' << zenith;
    };
    Random random(99);
    for (int i = 0; i < 2000; ++i) {
        check(std::pow(10.0, random.uniform(-1.0, 3.5)), random.uniform(0.0, kPi),
              random.uniform(0.0, 3.0), random.below(2) == 0);
    }
    for (const bool horizontal : {false, true}) {
        check(10.0, 0.0, 1.5, horizontal);
        check(10.0, 1e-12, 1.5, horizontal);
        check(10.0, kPi, 1.5, horizontal);
        check(0.0, kPi / 2.0, 1.5, horizontal);
        check(-5.0, kPi / 2.0, 1.5, horizontal);
        check(kNan, kPi / 2.0, 1.5, horizontal);
        check(10.0, kNan, 1.5, horizontal);
        check(10.0, kInf, 1.5, horizontal);
        check(0.001, 1.0, 0.0, horizontal);
    }
    // Straight up, the direction says nothing: its standard deviation is many turns.
    EXPECT_GT(std::sqrt(sight_covariance(Instrument{}, 10.0, 0.0, 1.5)(0, 0)), 10.0);
}

TEST(SightCovariance, mirrored_zenith_only_turns_the_sign_of_the_link) {
    const Eigen::Matrix3d up = sight_covariance(Instrument{}, 20.0, 70.0 * kRadPerDeg, 1.5);
    const Eigen::Matrix3d down = sight_covariance(Instrument{}, 20.0, 110.0 * kRadPerDeg, 1.5);
    EXPECT_TRUE(up.diagonal().isApprox(down.diagonal(), 1e-12));
    EXPECT_NEAR(up(1, 2), -down(1, 2), 1e-12 * std::abs(up(1, 2)));
}

}  // namespace
}  // namespace layproof::measure
