#include "infer/flat_unknowns.hpp"

#include <Eigen/Cholesky>
#include <utility>

namespace layproof::infer {

using Eigen::MatrixXd;
using Eigen::VectorXd;

MatrixXd weight_with_amounts(const MatrixXd& weight, const MatrixXd& columns, const VectorXd& sd) {
    const MatrixXd scaled = columns * sd.asDiagonal();
    const MatrixXd weighted = weight * scaled;
    MatrixXd inner = scaled.transpose() * weighted;
    inner.diagonal().array() += 1.0;
    return weight - weighted * inner.llt().solve(weighted.transpose());
}

FlatFit fit_flat(MatrixXd weight, const MatrixXd& by_unknowns, const VectorXd& values) {
    FlatFit out;
    out.weight = std::move(weight);
    out.weighted = out.weight * by_unknowns;
    const MatrixXd normal = by_unknowns.transpose() * out.weighted;
    const VectorXd scale = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
    const Eigen::LLT<MatrixXd> factor(scale.asDiagonal() * normal * scale.asDiagonal());
    if (factor.info() != Eigen::Success) return out;
    const Eigen::Index n = normal.rows();
    out.covariance =
        scale.asDiagonal() * factor.solve(MatrixXd::Identity(n, n)) * scale.asDiagonal();
    out.estimate = out.covariance * (out.weighted.transpose() * values);
    out.left = out.weight * (values - by_unknowns * out.estimate);
    out.is_usable = out.covariance.allFinite() && out.estimate.allFinite();
    return out;
}

}  // namespace layproof::infer
