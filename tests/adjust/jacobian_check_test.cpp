#include "adjust/jacobian_check.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "adjust/functions.hpp"
#include "adjust/star.hpp"

namespace layproof::adjust::testing {
namespace {

// sin(a·b), with a chosen error in ∂/∂b.
class Wave final : public ObservationFunction {
public:
    explicit Wave(double error) : error_(error) {}
    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        const double a = blocks[0][0];
        const double b = blocks[1][0];
        residual[0] = std::sin(a * b);
        if (jacobians == nullptr) return;
        if (jacobians[0] != nullptr) jacobians[0][0] = b * std::cos(a * b);
        if (jacobians[1] != nullptr) jacobians[1][0] = a * std::cos(a * b) * (1.0 + error_);
    }

private:
    double error_;
};

JacobianDisagreement check(const ObservationFunction& function) {
    const double a = 1.3;
    const double b = 0.4;
    const std::span<const double> blocks[] = {std::span(&a, 1), std::span(&b, 1)};
    return check_jacobian(function, 1, blocks);
}

TEST(jacobian_check, right_jacobian_agrees) {
    EXPECT_LT(check(Wave(0.0)).worst, 1e-10);
}

TEST(jacobian_check, wrong_entry_is_found_and_named) {
    const JacobianDisagreement result = check(Wave(1e-6));
    EXPECT_NEAR(result.worst, 1e-6, 1e-8);
    EXPECT_EQ(result.block, 1);
    EXPECT_EQ(result.row, 0);
    EXPECT_EQ(result.column, 0);
}

TEST(jacobian_check, nan_is_an_infinite_disagreement) {
    EXPECT_EQ(check(Wave(std::numeric_limits<double>::quiet_NaN())).worst,
              std::numeric_limits<double>::infinity());
}

TEST(jacobian_check, functions_of_these_tests_are_right_at_large_coordinates_too) {
    EXPECT_LT(check_jacobians(make_star().problem).worst, 1e-9);
    // Coordinates of 1e6 leave differences of 1e-10 m: 1e-8 of the largest derivative.
    EXPECT_LT(check_jacobians(make_star({.offset = 1e6}).problem).worst, 1e-7);
}

}  // namespace
}  // namespace layproof::adjust::testing
