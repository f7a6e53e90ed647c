#pragma once
// Forward filter and backward (Rauch–Tung–Striebel) smoother of a linear normal chain.
//
// Model: s₀ ~ N(mean, covariance); s_k = F_k s_{k−1} + o_k + N(0, Q_k); z_k = H_k s_k + N(0, R_k).
//   forward   P⁻ = F P Fᵀ + Q,  S = H P⁻ Hᵀ + R,  K = P⁻ Hᵀ S⁻¹, covariance in Joseph's form
//   backward  G = P Fᵀ (P⁻)⁻¹,  sˢ = s + G (sˢ₊ − s⁻₊),  Pˢ = P + G (Pˢ₊ − P⁻₊) Gᵀ
// (Rauch, Tung and Striebel, AIAA Journal 3(8), 1965). A step may add components to the state (F
// not square), so that something noted at one time can be observed again later. Components without
// variance stay as they are.

#include <Eigen/Core>
#include <vector>

namespace layproof::watch {

struct ChainStep {
    Eigen::MatrixXd transition;  ///< F; empty: unchanged
    Eigen::VectorXd offset;      ///< o; empty: zero
    Eigen::MatrixXd noise;       ///< Q; empty: zero
    Eigen::MatrixXd observe;     ///< H; no rows: nothing observed
    Eigen::VectorXd value;       ///< z
    Eigen::MatrixXd own;         ///< R, positive definite
};

struct ChainEstimate {
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
};

struct Chain {
    std::vector<ChainEstimate> predicted;  ///< one per step
    std::vector<ChainEstimate> filtered;
    std::vector<ChainEstimate> smoothed;
    /// Covariance of the smoothed state of step k (rows) with that of step k + 1 (columns); the
    /// last is empty.
    std::vector<Eigen::MatrixXd> with_next;
    std::vector<Eigen::MatrixXd> gain;  ///< G of step k; the last is empty
    double log_likelihood = 0.0;        ///< Σ ln N(z_k | forward), with the 2π
};

/// The first step's transition is applied to the start.
Chain smooth_chain(const ChainEstimate& start, const std::vector<ChainStep>& steps);

}  // namespace layproof::watch
