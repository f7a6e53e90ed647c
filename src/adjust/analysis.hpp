#pragma once
// What a solved problem is worth: covariances, redundancy, tests, detectable biases.
// Formulas: Baarda 1967/68, Pope 1976, after Koch, "Parameter Estimation and Hypothesis Testing in
// Linear Models" (1999), in the notation of problem.hpp; numbers checked in tests/adjust.

#include <Eigen/Core>
#include <memory>

#include "adjust/problem.hpp"
#include "adjust/solve.hpp"

namespace layproof::adjust {

struct AnalysisOptions {
    double significance = 0.001;  ///< α of one test, two-sided
    double power = 0.80;          ///< 1 − β
};

class Analysis {
public:
    /// The problem must be solved (status converged); the variance factor is taken as 1. If the
    /// normal matrix is not regular there, nothing is known: infinite variances, redundancy and w
    /// zero, detectable() infinite. Keeps no reference to `problem`.
    Analysis(const Problem& problem, const SolveSummary& summary,
             const AnalysisOptions& options = {});

    /// Covariance of one block and between two; held blocks give zeros.
    Eigen::MatrixXd covariance(ParameterId block) const;
    Eigen::MatrixXd covariance(ParameterId row_block, ParameterId column_block) const;

    // Per scalar observation, in stacked order.
    const Eigen::VectorXd& residual() const;    ///< v = f(x) − l
    const Eigen::VectorXd& redundancy() const;  ///< r_i = (Q_v Q⁻¹)_ii, sums to the redundancy
    /// w_i = (Q⁻¹v)_i/√M_ii with M = Q⁻¹Q_vQ⁻¹; N(0,1) if all is well. Without correlations this is
    /// v_i/σ_vi: it has the sign of v. Zero where nothing checks l_i (M_ii is zero within
    /// rounding).
    const Eigen::VectorXd& standardised() const;
    /// MDB of l_i: √λ0/√M_ii, for options.significance and options.power; infinity where nothing
    /// checks it.
    const Eigen::VectorXd& detectable() const;
    /// Best estimate of a single error in l_i: −(Q⁻¹v)_i/M_ii (it has the opposite sign of w, since
    /// v = f(x) − l). Zero where nothing checks l_i.
    const Eigen::VectorXd& estimated_bias() const;
    /// Pope's τ_i = w_i/σ̂0 with σ̂0² = vᵀQ⁻¹v/redundancy, for tau_quantile(); zero without
    /// redundancy or misfit.
    double tau(int row) const;

    /// Change of all unknowns caused by an undetected bias of detectable()[row]. Where that is
    /// infinite: ±infinity for the unknowns it reaches, zero for the others.
    Eigen::VectorXd external_effect(int row) const;
    /// ∂x/∂l of one scalar observation: unknown_count numbers.
    Eigen::VectorXd influence(int row) const;

    /// First row of a parameter block in the vectors above; −1 if held.
    int unknown_index(ParameterId block) const;

    /// Per observation block: the multi-dimensional test T = (Q⁻¹v)_bᵀ M_bb⁻¹ (Q⁻¹v)_b ~ χ²(q); q
    /// is the rank of M_bb.
    struct BlockTest {
        double statistic = 0.0;
        int dimension = 0;
    };
    BlockTest block_test(int observation_block) const;

private:
    struct Data;
    std::shared_ptr<const Data> data_;
};

}  // namespace layproof::adjust
