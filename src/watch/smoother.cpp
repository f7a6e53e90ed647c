#include "watch/smoother.hpp"

#include <Eigen/Cholesky>
#include <cmath>

namespace layproof::watch {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double kLogTwoPi = 1.8378770664093454836;
/// Added to the unit diagonal where rounding has left a covariance not quite positive definite.
constexpr double kNudge = 1e-13;

/// X = A·P⁻¹ for symmetric P ≥ 0. Components of P without variance contribute nothing.
MatrixXd divide(const MatrixXd& a, const MatrixXd& p) {
    VectorXd scale(p.rows());
    for (Eigen::Index i = 0; i < p.rows(); ++i)
        scale[i] = p(i, i) > 0.0 ? 1.0 / std::sqrt(p(i, i)) : 0.0;
    MatrixXd unit = scale.asDiagonal() * p * scale.asDiagonal();
    for (Eigen::Index i = 0; i < p.rows(); ++i) unit(i, i) = 1.0;
    Eigen::LLT<MatrixXd> factor(unit);
    for (double nudge = kNudge; factor.info() != Eigen::Success && nudge < 1e-6; nudge *= 10.0) {
        unit.diagonal().array() += nudge;
        factor.compute(unit);
    }
    const MatrixXd right = scale.asDiagonal() * a.transpose();
    return (scale.asDiagonal() * factor.solve(right)).transpose();
}

void symmetrise(MatrixXd& m) {
    m = (0.5 * (m + m.transpose())).eval();
}

}  // namespace

Chain smooth_chain(const ChainEstimate& start, const std::vector<ChainStep>& steps) {
    Chain out;
    ChainEstimate now = start;
    out.predicted.reserve(steps.size());
    out.filtered.reserve(steps.size());
    for (const ChainStep& step : steps) {
        if (step.transition.size() > 0) {
            now.mean = (step.transition * now.mean).eval();
            now.covariance =
                (step.transition * now.covariance * step.transition.transpose()).eval();
        }
        if (step.offset.size() > 0) now.mean += step.offset;
        if (step.noise.size() > 0) now.covariance += step.noise;
        symmetrise(now.covariance);
        out.predicted.push_back(now);
        if (step.observe.rows() > 0) {
            const MatrixXd ph = now.covariance * step.observe.transpose();
            MatrixXd s = step.observe * ph + step.own;
            symmetrise(s);
            const Eigen::LLT<MatrixXd> factor(s);
            const VectorXd innovation = step.value - step.observe * now.mean;
            const MatrixXd k = factor.solve(ph.transpose()).transpose();
            now.mean += k * innovation;
            MatrixXd keep = -k * step.observe;
            keep.diagonal().array() += 1.0;
            now.covariance = (keep * now.covariance * keep.transpose()).eval();
            now.covariance += k * step.own * k.transpose();
            symmetrise(now.covariance);
            out.log_likelihood -= 0.5 * innovation.dot(factor.solve(innovation)) +
                                  factor.matrixLLT().diagonal().array().log().sum() +
                                  0.5 * static_cast<double>(s.rows()) * kLogTwoPi;
        }
        out.filtered.push_back(now);
    }

    const std::size_t n = steps.size();
    out.smoothed.resize(n);
    out.with_next.resize(n);
    out.gain.resize(n);
    if (n == 0) return out;
    out.smoothed[n - 1] = out.filtered[n - 1];
    for (std::size_t k = n - 1; k-- > 0;) {
        const ChainStep& step = steps[k + 1];
        const ChainEstimate& ahead = out.predicted[k + 1];
        const ChainEstimate& later = out.smoothed[k + 1];
        const ChainEstimate& here = out.filtered[k];
        const MatrixXd pf = step.transition.size() > 0
                                ? MatrixXd(here.covariance * step.transition.transpose())
                                : here.covariance;
        const MatrixXd g = divide(pf, ahead.covariance);
        ChainEstimate& smoothed = out.smoothed[k];
        smoothed.mean = here.mean + g * (later.mean - ahead.mean);
        smoothed.covariance =
            here.covariance + g * (later.covariance - ahead.covariance) * g.transpose();
        symmetrise(smoothed.covariance);
        out.with_next[k] = g * later.covariance;
        out.gain[k] = g;
    }
    return out;
}

}  // namespace layproof::watch
