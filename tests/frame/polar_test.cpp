#include "frame/polar.hpp"

#include <gtest/gtest.h>

#include <array>
#include <string>

#include "base/random.hpp"
#include "support/reference.hpp"

namespace layproof::frame {
namespace {

using Eigen::Vector2d;
using measure::kRadPerDeg;
using measure::kRadPerGon;

double cell(const toml::array& row, std::size_t column) {
    return row[column].value<double>().value_or(-1e9);
}

TEST(Polar, inverse_published_points_give_azimuth_and_distance) {
    const testing::Reference reference("inverse-and-polar");
    const auto& rows = *reference.table().at_path("input.inverse.rows").as_array();
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto& row = *rows[i].as_array();
        const Vector2d from(cell(row, 0), cell(row, 1));
        const Vector2d to(cell(row, 2), cell(row, 3));
        const std::string id = "inverse_" + std::to_string(i + 1);
        reference.check(id + ".distance", distance(from, to));
        reference.check(id + ".bearing", azimuth(from, to) / kRadPerDeg);
    }
}

TEST(Polar, polar_point_published_points_agree) {
    const testing::Reference reference("inverse-and-polar");
    const auto& rows = *reference.table().at_path("input.polar.rows").as_array();
    for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto& row = *rows[i].as_array();
        const auto degrees = [&](std::size_t c) {
            return cell(row, c) + cell(row, c + 1) / 60.0 + cell(row, c + 2) / 3600.0;
        };
        const Vector2d point =
            polar_point({cell(row, 0), cell(row, 1)}, (degrees(2) + degrees(6)) * kRadPerDeg,
                        cell(row, 5) * cell(row, 9));
        const std::string id = "polar_" + std::to_string(i + 1);
        reference.check(id + ".E", point.x());
        reference.check(id + ".N", point.y());
    }
}

TEST(Polar, orientation_is_azimuth_minus_direction) {
    const testing::Reference reference("circle-orientation");
    const auto& points = *reference.table().at_path("input.points.rows").as_array();
    const auto& directions = *reference.table().at_path("input.directions.rows").as_array();
    const auto at = [&](std::size_t i) {
        const auto& row = *points[i].as_array();
        return Vector2d(cell(row, 1), cell(row, 2));
    };
    const std::array<std::string, 3> names{"P11", "P14", "P71"};
    for (std::size_t i = 0; i < 3; ++i) {
        const double a = azimuth(at(0), at(i + 1));
        const double direction_rad = cell(*directions[i].as_array(), 1) * kRadPerGon;
        reference.check("orientation_from_" + names[i],
                        measure::wrap_0_2pi(a - direction_rad) / kRadPerGon);
        if (i < 2) reference.check("azimuth_" + names[i], a / kRadPerGon);
    }
}

TEST(Polar, forward_intersection_composes_from_azimuth_and_polar_point) {
    const testing::Reference reference("direction-intersection");
    const auto& rows = *reference.table().at_path("input.points.rows").as_array();
    const auto at = [&](std::size_t i) {
        const auto& row = *rows[i].as_array();
        return Vector2d(cell(row, 1), cell(row, 2));
    };
    const auto& sights = *reference.table().at_path("input.directions.rows").as_array();
    const auto direction_rad = [&](std::size_t i) {
        return cell(*sights[i].as_array(), 2) * kRadPerGon;
    };
    std::array<double, 2> to_x_rad{};
    for (std::size_t s = 0; s < 2; ++s) {
        double orientation_rad = 0.0;
        for (std::size_t mark = 0; mark < 2; ++mark) {
            orientation_rad +=
                0.5 * measure::wrap_pi(azimuth(at(s), at(2 + mark)) - direction_rad(3 * s + mark));
        }
        const std::string name = s == 0 ? "130" : "136";
        reference.check("orientation_" + name, orientation_rad / kRadPerGon);
        to_x_rad[s] = orientation_rad + direction_rad(3 * s + 2);
        reference.check("azimuth_" + name + "_X", to_x_rad[s] / kRadPerGon);
    }
    // Sine rule in the triangle of the two stations and X.
    const double base_rad = azimuth(at(0), at(1));
    const double d = distance(at(0), at(1)) * std::sin(to_x_rad[1] - base_rad) /
                     std::sin(to_x_rad[1] - to_x_rad[0]);
    const Vector2d x = polar_point(at(0), to_x_rad[0], d);
    reference.check("X.E", x.x());
    reference.check("X.N", x.y());
}

TEST(Polar, axes_give_the_four_quarter_turns) {
    const Vector2d o(0.0, 0.0);
    EXPECT_DOUBLE_EQ(azimuth(o, {0.0, 1.0}), 0.0);
    EXPECT_DOUBLE_EQ(azimuth(o, {1.0, 0.0}), measure::kPi / 2.0);
    EXPECT_DOUBLE_EQ(azimuth(o, {0.0, -1.0}), measure::kPi);
    EXPECT_DOUBLE_EQ(azimuth(o, {-1.0, 0.0}), 1.5 * measure::kPi);
    EXPECT_DOUBLE_EQ(azimuth(o, {-0.0, -1.0}), measure::kPi);  // signed zero: not −π
    EXPECT_EQ(azimuth(o, o), 0.0);
    EXPECT_EQ(distance(o, o), 0.0);
    const double just_west = azimuth(o, {-1e-300, 1.0});
    EXPECT_GE(just_west, 0.0);
    EXPECT_LT(just_west, measure::kTwoPi);
}

TEST(Polar, polar_point_and_inverse_round_trip_at_large_coordinates) {
    Random random(11);
    const Vector2d from(609600.0, 1219200.0);  // 2,000,000 ft and 4,000,000 ft
    for (int i = 0; i < 2000; ++i) {
        const double a = random.uniform(0.0, measure::kTwoPi);
        const double d = random.uniform(1.0, 500.0);
        const Vector2d to = polar_point(from, a, d);
        EXPECT_NEAR(distance(from, to), d, 1e-9);
        EXPECT_NEAR(measure::wrap_pi(azimuth(from, to) - a), 0.0, 1e-9 / d);
    }
}

}  // namespace
}  // namespace layproof::frame
