#pragma once
// Checks an ObservationFunction's Jacobian against central differences.
//
// Each column is differentiated by Ridders' method (C. J. F. Ridders, "Accurate computation of
// F'(x) and F'(x)F''(x)", Advances in Engineering Software 4, 1982): central differences with
// shrinking steps, extrapolated to zero, which also gives the numeric derivative's own error. Only
// what exceeds that error counts as disagreement.
//
// Accuracy: a smooth function of double precision agrees within about 1e-9 of its row's largest
// derivative in that block. The function must be smooth within first_step of the values; a residual
// that is wrapped must stay away from its jump.

#include <span>

#include "adjust/problem.hpp"

namespace layproof::adjust {

struct JacobianDisagreement {
    /// (|analytic − numeric| − error of numeric), at least 0, over the largest derivative of the
    /// row in that block (over 1 if all are zero). Infinity if anything is not finite.
    double worst = 0.0;
    int row = 0;    ///< of the observation block
    int block = 0;  ///< position in `blocks`
    int column = 0;
    double analytic = 0.0;
    double numeric = 0.0;
    double numeric_error = 0.0;
};

/// `size`: number of observations; `blocks`: values of each parameter block; `first_step`: largest
/// change of one value, in that value's unit.
JacobianDisagreement check_jacobian(const ObservationFunction& function, int size,
                                    std::span<const std::span<const double>> blocks,
                                    double first_step = 1e-2);

/// The worst of all observation blocks at the problem's values; held blocks are checked too.
JacobianDisagreement check_jacobians(const Problem& problem, double first_step = 1e-2);

}  // namespace layproof::adjust
