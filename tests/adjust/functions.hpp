#pragma once
// Observation functions for the tests of the solver, and rows of the published examples.

#include <ceres/jet.h>
#include <array>
#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <limits>
#include <memory>
#include <numbers>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "adjust/analysis.hpp"
#include "adjust/problem.hpp"
#include "adjust/solve.hpp"
#include "support/ceres_bridge.hpp"
#include "support/reference.hpp"

namespace layproof::adjust::testing {

inline constexpr double kInfinity = std::numeric_limits<double>::infinity();
inline constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

using layproof::testing::expect_agrees_with_ceres;
using layproof::testing::Reference;

/// Σ c_k·x_k − l over blocks of one number each.
class Linear final : public ObservationFunction {
public:
    Linear(std::vector<double> coefficients, double observed)
        : coefficients_(std::move(coefficients)), observed_(observed) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        residual[0] = -observed_;
        for (std::size_t k = 0; k < blocks.size(); ++k) {
            residual[0] += coefficients_[k] * blocks[k][0];
            if (jacobians != nullptr && jacobians[k] != nullptr) jacobians[k][0] = coefficients_[k];
        }
    }

private:
    std::vector<double> coefficients_;
    double observed_;
};

/// A function of one parameter block of N numbers, written once for numbers and for Ceres's jets
/// (forward derivatives): `model(b)` with b[0] … b[N − 1].
template <int N, class Model>
class Curve final : public ObservationFunction {
public:
    Curve(Model model, double observed) : model_(std::move(model)), observed_(observed) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        std::array<ceres::Jet<double, N>, static_cast<std::size_t>(N)> b;
        for (int i = 0; i < N; ++i)
            b[static_cast<std::size_t>(i)] = ceres::Jet<double, N>(blocks[0][i], i);
        const ceres::Jet<double, N> value = model_(b.data());
        residual[0] = value.a - observed_;
        if (jacobians == nullptr || jacobians[0] == nullptr) return;
        for (int i = 0; i < N; ++i) jacobians[0][i] = value.v(i);
    }

private:
    Model model_;
    double observed_;
};

template <int N, class Model>
std::unique_ptr<const ObservationFunction> curve(Model model, double observed) {
    return std::make_unique<Curve<N, Model>>(std::move(model), observed);
}

/// Distance between two plane points.
class PlaneDistance final : public ObservationFunction {
public:
    explicit PlaneDistance(double observed) : observed_(observed) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        const double de = blocks[1][0] - blocks[0][0];
        const double dn = blocks[1][1] - blocks[0][1];
        const double d = std::hypot(de, dn);
        residual[0] = d - observed_;
        for (std::size_t k = 0; jacobians != nullptr && k < 2; ++k) {
            if (jacobians[k] == nullptr) continue;
            const double sign = k == 0 ? -1.0 : 1.0;
            jacobians[k][0] = sign * de / d;
            jacobians[k][1] = sign * dn / d;
        }
    }

private:
    double observed_;
};

/// Direction from the first point to the second, clockwise from north, minus the orientation (third
/// block).
class PlaneDirection final : public ObservationFunction {
public:
    explicit PlaneDirection(double observed) : observed_(observed) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        const double de = blocks[1][0] - blocks[0][0];
        const double dn = blocks[1][1] - blocks[0][1];
        const double square = de * de + dn * dn;
        residual[0] =
            std::remainder(std::atan2(de, dn) - blocks[2][0] - observed_, 2.0 * std::numbers::pi);
        if (jacobians == nullptr) return;
        for (std::size_t k = 0; k < 2; ++k) {
            if (jacobians[k] == nullptr) continue;
            const double sign = k == 0 ? -1.0 : 1.0;
            jacobians[k][0] = sign * dn / square;
            jacobians[k][1] = -sign * de / square;
        }
        if (jacobians[2] != nullptr) jacobians[2][0] = -1.0;
    }

private:
    double observed_;
};

/// Clockwise angle at the second point from the first to the third.
class PlaneAngle final : public ObservationFunction {
public:
    explicit PlaneAngle(double observed) : observed_(observed) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        double azimuth[2];
        double partial[2][2];
        for (std::size_t k = 0; k < 2; ++k) {
            const double de = blocks[2 * k][0] - blocks[1][0];
            const double dn = blocks[2 * k][1] - blocks[1][1];
            azimuth[k] = std::atan2(de, dn);
            const double sign = k == 0 ? -1.0 : 1.0;
            partial[k][0] = sign * dn / (de * de + dn * dn);
            partial[k][1] = -sign * de / (de * de + dn * dn);
        }
        residual[0] = std::remainder(azimuth[1] - azimuth[0] - observed_, 2.0 * std::numbers::pi);
        if (jacobians == nullptr) return;
        for (std::size_t i = 0; i < 2; ++i) {
            if (jacobians[0] != nullptr) jacobians[0][i] = partial[0][i];
            if (jacobians[1] != nullptr) jacobians[1][i] = -partial[0][i] - partial[1][i];
            if (jacobians[2] != nullptr) jacobians[2][i] = partial[1][i];
        }
    }

private:
    double observed_;
};

inline Eigen::MatrixXd variance(double sd) {
    return Eigen::MatrixXd::Constant(1, 1, sd * sd);
}

template <class Function, class... Arguments>
int observe(Problem& problem, std::initializer_list<ParameterId> blocks, double sd,
            Arguments&&... arguments) {
    return problem.add_observation(
        std::make_unique<Function>(std::forward<Arguments>(arguments)...),
        std::span(blocks.begin(), blocks.size()), variance(sd));
}

inline ParameterId add_parameter(Problem& problem, std::initializer_list<double> start) {
    return problem.add_parameter(std::span(start.begin(), start.size()));
}

/// One row of a table such as input.observations.rows.
class Row {
public:
    explicit Row(const toml::array& cells) : cells_(cells) {}
    std::string text(std::size_t i) const { return cells_[i].value<std::string>().value_or(""); }
    double number(std::size_t i) const {
        const auto value = cells_[i].value<double>();
        if (!value) ADD_FAILURE() << "cell " << i << " is not a number";
        return value.value_or(0.0);
    }

private:
    const toml::array& cells_;
};

inline std::vector<Row> rows(const Reference& example, std::string_view path) {
    std::vector<Row> out;
    const auto* list = example.table().at_path("input." + std::string(path)).as_array();
    if (list == nullptr) {
        ADD_FAILURE() << "no input." << path;
        return out;
    }
    for (const auto& node : *list) out.emplace_back(*node.as_array());
    return out;
}

inline std::vector<double> numbers(const Reference& example, std::string_view path) {
    std::vector<double> out;
    const auto* list = example.table().at_path("input." + std::string(path)).as_array();
    if (list == nullptr) {
        ADD_FAILURE() << "no input." << path;
        return out;
    }
    for (const auto& node : *list) out.push_back(node.value<double>().value_or(0.0));
    return out;
}

inline double sd(const Analysis& analysis, ParameterId block, Eigen::Index i = 0) {
    return std::sqrt(analysis.covariance(block)(i, i));
}

inline double s0(const SolveSummary& summary) {
    return std::sqrt(summary.weighted_square_sum / summary.redundancy);
}

inline constexpr double kDegree = std::numbers::pi / 180.0;
inline constexpr double kArcsecond = kDegree / 3600.0;
inline constexpr double kGon = std::numbers::pi / 200.0;

}  // namespace layproof::adjust::testing
