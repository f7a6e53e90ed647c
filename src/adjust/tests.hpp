#pragma once
// Quantiles and tests. Quantiles come from Boost.Math.

namespace layproof::adjust {

double normal_quantile(double probability);
double normal_probability(double x);
double chi_square_quantile(double probability, double dof);
double chi_square_probability(double x, double dof);
double chi_square_noncentral_probability(double x, double dof, double noncentrality);
double student_quantile(double probability, double dof);
double fisher_quantile(double probability, double dof_1, double dof_2);

/// Pope's τ for r degrees of freedom, two-sided α: τ = √r·t/√(r−1+t²), t = t_{1−α/2; r−1}
/// (Pope 1976, NOAA TR NOS 65 NGS 1). r ≥ 2; infinity for r < 2 (nothing can be rejected).
double tau_quantile(double significance, int redundancy);

/// λ0 of a q-dimensional test with significance α and power γ: the noncentrality that is found with
/// probability γ (Baarda 1968). √λ0 is δ0 for q = 1.
double noncentrality(double significance, double power, int dimension);

/// Global test of vᵀQ⁻¹v ~ χ²(dof), two-sided at 1 − confidence.
struct GlobalTest {
    double statistic = 0.0;
    int dof = 0;
    double lower = 0.0;
    double upper = 0.0;
    double variance_factor = 1.0;  ///< statistic / dof; 1 when dof = 0
    bool passes = true;            ///< not above `upper`; too good a fit is not a failure
};
GlobalTest global_test(double statistic, int dof, double confidence = 0.95);

}  // namespace layproof::adjust
