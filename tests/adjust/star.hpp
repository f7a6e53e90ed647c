#pragma once
// The shape that matters for speed and for properties: one block of four numbers (position and
// orientation of a centre) tied to several points by polar observations, each point also observed
// directly. All values are invented.

#include <array>
#include <cmath>
#include <memory>
#include <numbers>
#include <vector>

#include "adjust/problem.hpp"
#include "base/random.hpp"

namespace layproof::adjust::testing {

/// Direction minus orientation, angle from the vertical, distance.
class Polar final : public ObservationFunction {
public:
    explicit Polar(const std::array<double, 3>& observed) : observed_(observed) {}

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        const double* c = blocks[0];
        const double* p = blocks[1];
        const double x = p[0] - c[0];
        const double y = p[1] - c[1];
        const double z = p[2] - c[2];
        const double plane_square = x * x + y * y;
        const double plane = std::sqrt(plane_square);
        const double square = plane_square + z * z;
        const double distance = std::sqrt(square);
        residual[0] =
            std::remainder(std::atan2(x, y) - c[3] - observed_[0], 2.0 * std::numbers::pi);
        residual[1] = std::atan2(plane, z) - observed_[1];
        residual[2] = distance - observed_[2];
        if (jacobians == nullptr) return;
        const double g[9] = {y / plane_square,
                             -x / plane_square,
                             0.0,
                             x * z / (plane * square),
                             y * z / (plane * square),
                             -plane / square,
                             x / distance,
                             y / distance,
                             z / distance};
        for (std::size_t i = 0; i < 3 && jacobians[0] != nullptr; ++i) {
            for (std::size_t j = 0; j < 3; ++j) jacobians[0][i * 4 + j] = -g[i * 3 + j];
            jacobians[0][i * 4 + 3] = i == 0 ? -1.0 : 0.0;
        }
        for (std::size_t i = 0; i < 9 && jacobians[1] != nullptr; ++i) jacobians[1][i] = g[i];
    }

private:
    std::array<double, 3> observed_;
};

struct StarOptions {
    int points = 8;
    int repeats = 2;         ///< polar blocks per point
    double offset = 0.0;     ///< added to all plane coordinates
    double point_sd = 2e-3;  ///< of direct observations; 0: points held
    bool observe_points = true;
    bool reverse = false;  ///< blocks and observations added from the last to the first
    bool noisy = true;
    std::uint64_t seed = 5;
};

struct Star {
    Problem problem;
    ParameterId centre;
    std::vector<ParameterId> points;  ///< in their own order, also if added in reverse
    std::vector<int> polar;  ///< observation blocks: point 0 repeat 0, point 0 repeat 1, …
};

inline constexpr double kDirectionSd = 1e-5;
inline constexpr double kDistanceSd = 1e-3;

inline Star make_star(const StarOptions& options = {}) {
    Random random(options.seed);
    const auto noise = [&](double sd) { return options.noisy ? sd * random.normal() : 0.0; };
    const double truth[4] = {options.offset, options.offset, 0.0, 0.3};
    struct Point {
        double value[3];
        std::vector<std::array<double, 3>> observed;
    };
    std::vector<Point> points;
    for (int k = 0; k < options.points; ++k) {
        const double angle = 0.7 * k;
        const double radius = 20.0 + 7.0 * k;
        Point point{{options.offset + radius * std::sin(angle),
                     options.offset + radius * std::cos(angle), 3.0 * std::sin(2.0 * angle)},
                    {}};
        const Polar exact({0.0, 0.0, 0.0});
        const double* blocks[] = {truth, point.value};
        for (int r = 0; r < options.repeats; ++r) {
            std::array<double, 3> observed{};
            exact.evaluate(blocks, observed.data(), nullptr);
            for (std::size_t i = 0; i < 3; ++i)
                observed[i] += noise(i == 2 ? kDistanceSd : kDirectionSd);
            point.observed.push_back(observed);
        }
        for (double& value : point.value) value += noise(options.point_sd);
        points.push_back(point);
    }

    Star star;
    const double start[4] = {truth[0] + 0.02, truth[1] - 0.03, 0.05, truth[3] + 1e-3};
    if (!options.reverse) star.centre = star.problem.add_parameter(start);
    star.points.resize(points.size());
    const auto order = [&](std::size_t i) { return options.reverse ? points.size() - 1 - i : i; };
    for (std::size_t i = 0; i < points.size(); ++i)
        star.points[order(i)] = star.problem.add_parameter(points[order(i)].value);
    if (options.reverse) star.centre = star.problem.add_parameter(start);

    const Eigen::Matrix3d polar_covariance =
        Eigen::Vector3d(kDirectionSd * kDirectionSd, kDirectionSd * kDirectionSd,
                        kDistanceSd * kDistanceSd)
            .asDiagonal();
    const Eigen::Matrix3d point_covariance =
        options.point_sd * options.point_sd * Eigen::Matrix3d::Identity();
    star.polar.resize(points.size() * static_cast<std::size_t>(options.repeats));
    for (std::size_t i = 0; i < points.size(); ++i) {
        const std::size_t k = order(i);
        const ParameterId blocks[] = {star.centre, star.points[k]};
        for (std::size_t r = 0; r < points[k].observed.size(); ++r)
            star.polar[k * points[k].observed.size() + r] = star.problem.add_observation(
                std::make_unique<Polar>(points[k].observed[r]), blocks, polar_covariance);
        if (options.point_sd == 0.0) {
            star.problem.hold(star.points[k]);
        } else if (options.observe_points) {
            star.problem.observe_directly(star.points[k], points[k].value, point_covariance);
        }
    }
    return star;
}

}  // namespace layproof::adjust::testing
