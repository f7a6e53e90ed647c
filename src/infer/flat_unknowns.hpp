#pragma once
// The flat unknowns of a linear model whose errors are correlated by amounts that may have
// happened, and what is left over beyond them.
//
// Model: y = A δ + B ∇ + e, e ~ N(0, Σ), ∇ ~ N(0, D²), δ flat:
//     W = (Σ + B D² Bᵀ)⁻¹ = Σ⁻¹ − Σ⁻¹BD (I + D BᵀΣ⁻¹B D)⁻¹ D BᵀΣ⁻¹
//     δ̂ = Q AᵀW y,  Q = (AᵀWA)⁻¹,  left over: W (y − A δ̂)
// For other unknowns u with prior covariance P and covariance C with y, E u | y = C W (y − A δ̂),
// their covariance is P − C W Cᵀ + (CWA) Q (CWA)ᵀ, and with δ −(CWA) Q (universal kriging,
// textbook).

#include <Eigen/Core>

namespace layproof::infer {

/// W from Σ⁻¹; `sd` per column of B.
Eigen::MatrixXd weight_with_amounts(const Eigen::MatrixXd& weight, const Eigen::MatrixXd& columns,
                                    const Eigen::VectorXd& sd);

struct FlatFit {
    bool is_usable = false;      ///< false: the data leave a direction of δ open; only W is filled
    Eigen::MatrixXd weight;      ///< W
    Eigen::MatrixXd weighted;    ///< W A
    Eigen::VectorXd estimate;    ///< δ̂
    Eigen::MatrixXd covariance;  ///< Q
    Eigen::VectorXd left;        ///< W (y − A δ̂)
};
FlatFit fit_flat(Eigen::MatrixXd weight, const Eigen::MatrixXd& by_unknowns,
                 const Eigen::VectorXd& values);

}  // namespace layproof::infer
