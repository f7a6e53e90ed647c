#pragma once
// How well the data like a set of changes, and how large the changes then are: the linear model
// with normal amounts.
//
// Model: y = A δ + B ∇ + e, e ~ N(0, Σ). The unknowns δ are flat and taken out:
// M = Σ⁻¹ − Σ⁻¹A (AᵀΣ⁻¹A)⁻¹ AᵀΣ⁻¹. Of the columns B the data say g = BᵀMy and G = BᵀMB (ColumnData)
// and nothing more. With independent amounts ∇ ~ N(0, S), S = D², D = diag(sd), against ∇ = 0:
//     ln BF = ½ gᵀ(S⁻¹ + G)⁻¹g − ½ ln det(I + S G)
//     ∇ | y ~ N(C g, C),  C = (S⁻¹ + G)⁻¹ = D (I + D G D)⁻¹ D
// (normal linear model with a normal prior: Koch, Introduction to Bayesian Statistics, 2nd ed.
// 2007, ch. 4; formulas from memory, tested against numerical integration). Written with
// I + D G D nothing is divided by a standard deviation: an amount whose standard deviation is 0 is
// held at zero. No pivot of I + (positive semidefinite) lies below 1; where rounding of a large G
// says so, the pivot is 1.
//
// One more set b of columns beside a set a (Schur complement):
//     g_b|a = g_b − B_bᵀMB_a C_a g_a,  G_b|a = G_b − B_bᵀMB_a C_a B_aᵀMB_b
//     ln BF(a, b) = ln BF(a) + ln BF(b | a)
//
// Everything is a template over the number of amounts: N fixed (no heap), or Eigen::Dynamic with at
// most `Most` (no heap) or without a limit. Three amounts are written out, because searches spend
// their time there. g, G and sd are finite and sd is not negative; then so are all results, as long
// as sd²·G stays below some 1e300.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

namespace layproof::infer {

template <int N, int Most = N>
using Amounts = Eigen::Matrix<double, N, 1, Eigen::ColMajor, Most, 1>;
template <int N, int Most = N>
using AmountMatrix = Eigen::Matrix<double, N, N, Eigen::ColMajor, Most, Most>;

/// What the data say of some columns: g = BᵀMy, G = BᵀMB.
template <int N, int Most = N>
struct ColumnData {
    Amounts<N, Most> g;
    AmountMatrix<N, Most> gram;
};

/// Lower Cholesky factor L of I + D G D.
template <int N, int Most = N>
class AmountFactor {
public:
    AmountFactor(const AmountMatrix<N, Most>& gram, const Amounts<N, Most>& sd) : sd_(sd) {
        const Eigen::Index n = sd.size();
        lower_.resize(n, n);
        for (Eigen::Index j = 0; j < n; ++j) {
            double pivot = 1.0 + sd[j] * gram(j, j) * sd[j];
            for (Eigen::Index k = 0; k < j; ++k) pivot -= lower_(j, k) * lower_(j, k);
            lower_(j, j) = std::sqrt(std::max(1.0, pivot));
            for (Eigen::Index i = j + 1; i < n; ++i) {
                double left = sd[i] * gram(i, j) * sd[j];
                for (Eigen::Index k = 0; k < j; ++k) left -= lower_(i, k) * lower_(j, k);
                lower_(i, j) = left / lower_(j, j);
            }
        }
    }

    Eigen::Index size() const { return sd_.size(); }
    const Amounts<N, Most>& sd() const { return sd_; }
    /// L⁻¹v.
    Amounts<N, Most> forward(Amounts<N, Most> v) const {
        for (Eigen::Index i = 0; i < v.size(); ++i) {
            for (Eigen::Index k = 0; k < i; ++k) v[i] -= lower_(i, k) * v[k];
            v[i] /= lower_(i, i);
        }
        return v;
    }
    /// L⁻ᵀv.
    Amounts<N, Most> backward(Amounts<N, Most> v) const {
        for (Eigen::Index i = v.size() - 1; i >= 0; --i) {
            for (Eigen::Index k = i + 1; k < v.size(); ++k) v[i] -= lower_(k, i) * v[k];
            v[i] /= lower_(i, i);
        }
        return v;
    }
    /// ½ ln det(I + S G).
    double half_log_det() const {
        constexpr double kLarge = 1e100;  // before the product leaves its range
        double log = 0.0;
        double product = 1.0;
        for (Eigen::Index i = 0; i < sd_.size(); ++i) {
            product *= lower_(i, i);
            if (product < kLarge) continue;
            log += std::log(product);
            product = 1.0;
        }
        return log + std::log(product);
    }

private:
    Amounts<N, Most> sd_;
    AmountMatrix<N, Most> lower_;
};

template <>
class AmountFactor<3, 3> {
public:
    AmountFactor(const AmountMatrix<3>& gram, const Amounts<3>& sd) : d_(sd) {
        l00_ = std::sqrt(std::max(1.0, 1.0 + d_[0] * d_[0] * gram(0, 0)));
        l10_ = d_[1] * d_[0] * gram(1, 0) / l00_;
        l20_ = d_[2] * d_[0] * gram(2, 0) / l00_;
        l11_ = std::sqrt(std::max(1.0, 1.0 + d_[1] * d_[1] * gram(1, 1) - l10_ * l10_));
        l21_ = (d_[2] * d_[1] * gram(2, 1) - l20_ * l10_) / l11_;
        l22_ =
            std::sqrt(std::max(1.0, 1.0 + d_[2] * d_[2] * gram(2, 2) - l20_ * l20_ - l21_ * l21_));
    }
    static Eigen::Index size() { return 3; }
    const Amounts<3>& sd() const { return d_; }
    Amounts<3> forward(const Amounts<3>& v) const {
        const double x = v[0] / l00_;
        const double y = (v[1] - l10_ * x) / l11_;
        return {x, y, (v[2] - l20_ * x - l21_ * y) / l22_};
    }
    Amounts<3> backward(const Amounts<3>& v) const {
        const double z = v[2] / l22_;
        const double y = (v[1] - l21_ * z) / l11_;
        return {(v[0] - l10_ * y - l20_ * z) / l00_, y, z};
    }
    double half_log_det() const { return std::log(l00_ * l11_ * l22_); }

private:
    double l00_, l10_, l11_, l20_, l21_, l22_;
    Amounts<3> d_;
};

/// C = D (I + D G D)⁻¹ D: covariance of the amounts once the data are in, whatever they say.
template <int N, int Most>
AmountMatrix<N, Most> posterior_covariance(const AmountFactor<N, Most>& factor) {
    const Eigen::Index n = factor.size();
    AmountMatrix<N, Most> out;
    out.resize(n, n);
    for (Eigen::Index c = 0; c < n; ++c) {
        Amounts<N, Most> unit;
        unit.resize(n);
        unit.setZero();
        unit[c] = factor.sd()[c];
        out.col(c) = factor.sd().cwiseProduct(factor.backward(factor.forward(unit)));
    }
    return out;
}

/// ln BF, and the amounts' posterior mean and covariance.
template <int N, int Most = N>
struct AmountFit {
    double log_bayes = 0.0;
    Amounts<N, Most> mean;
    AmountMatrix<N, Most> covariance;
};
/// The same without the covariance.
template <int N, int Most = N>
struct AmountMean {
    double log_bayes = 0.0;
    Amounts<N, Most> mean;
};

template <int N, int Most>
AmountMean<N, Most> fit_mean(const ColumnData<N, Most>& data, const Amounts<N, Most>& sd) {
    const AmountFactor<N, Most> factor(data.gram, sd);
    const Amounts<N, Most> half = factor.forward(sd.cwiseProduct(data.g));
    return {0.5 * half.squaredNorm() - factor.half_log_det(),
            sd.cwiseProduct(factor.backward(half))};
}

template <int N, int Most>
AmountFit<N, Most> fit_amounts(const ColumnData<N, Most>& data, const Amounts<N, Most>& sd) {
    const AmountFactor<N, Most> factor(data.gram, sd);
    const Amounts<N, Most> half = factor.forward(sd.cwiseProduct(data.g));
    return {0.5 * half.squaredNorm() - factor.half_log_det(),
            sd.cwiseProduct(factor.backward(half)), posterior_covariance(factor)};
}

template <int N, int Most>
double log_bayes(const ColumnData<N, Most>& data, const Amounts<N, Most>& sd) {
    const AmountFactor<N, Most> factor(data.gram, sd);
    const Amounts<N, Most> half = factor.forward(sd.cwiseProduct(data.g));
    return 0.5 * half.squaredNorm() - factor.half_log_det();
}

/// What the data say of the columns b when the columns of `known` may have amounts too.
/// `between`: B_bᵀMB_a.
template <int N>
ColumnData<N> given(const ColumnData<N>& data, const AmountMatrix<N>& between,
                    const AmountFit<N>& known) {
    return {data.g - between * known.mean,
            data.gram - between * known.covariance * between.transpose()};
}

/// Both sets of columns at once, a's first; `between`: B_bᵀMB_a.
template <int N>
ColumnData<2 * N> joined(const ColumnData<N>& a, const ColumnData<N>& b,
                         const AmountMatrix<N>& between) {
    ColumnData<2 * N> out;
    out.g << a.g, b.g;
    out.gram << a.gram, between.transpose(), between, b.gram;
    return out;
}
template <int N>
Amounts<2 * N> joined(const Amounts<N>& a, const Amounts<N>& b) {
    Amounts<2 * N> out;
    out << a, b;
    return out;
}

}  // namespace layproof::infer
