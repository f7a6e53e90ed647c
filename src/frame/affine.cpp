#include "frame/affine.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include <Eigen/Dense>

namespace layproof::frame {
namespace {

double clean(double w) {
    return w > 0.0 && std::isfinite(w) ? w : 0.0;
}

}  // namespace

double AffineFit::scale_x() const {
    return std::hypot(a, d);
}

double AffineFit::scale_y() const {
    return std::hypot(b, e);
}

double AffineFit::skew_rad() const {
    const double size = scale_x() * scale_y();
    return size > 0.0 ? std::asin(std::clamp((a * b + d * e) / size, -1.0, 1.0)) : 0.0;
}

std::optional<AffineFit> affine_fit(std::span<const Eigen::Vector2d> from,
                                    std::span<const Eigen::Vector2d> to_m,
                                    std::span<const Eigen::Vector2d> weights) {
    assert(from.size() == to_m.size());
    assert(weights.empty() || weights.size() == from.size());
    const std::size_t n = from.size();
    if (n < 3) return std::nullopt;
    Eigen::Vector2d centre = Eigen::Vector2d::Zero();
    Eigen::Vector2d target_centre = Eigen::Vector2d::Zero();
    for (std::size_t i = 0; i < n; ++i) {
        centre += (from[i] - from[0]) / static_cast<double>(n);
        target_centre += (to_m[i] - to_m[0]) / static_cast<double>(n);
    }
    centre += from[0];
    target_centre += to_m[0];
    AffineFit fit;
    std::array<Eigen::Vector3d, 2> parameters;
    std::array<Eigen::Matrix3d, 2> inverses;
    for (const int axis : {0, 1}) {
        Eigen::MatrixXd design(static_cast<Eigen::Index>(n), 3);
        Eigen::VectorXd right(static_cast<Eigen::Index>(n));
        for (std::size_t i = 0; i < n; ++i) {
            const double root = std::sqrt(weights.empty() ? 1.0 : clean(weights[i][axis]));
            const Eigen::Vector2d p = from[i] - centre;
            const auto row = static_cast<Eigen::Index>(i);
            design.row(row) << root * p.x(), root * p.y(), root;
            right[row] = root * (to_m[i][axis] - target_centre[axis]);
        }
        const Eigen::JacobiSVD<Eigen::MatrixXd> svd(design,
                                                    Eigen::ComputeThinU | Eigen::ComputeThinV);
        const auto& values = svd.singularValues();
        // The shift's column has the size of the weights, the others that of the site: compare the
        // two turned columns with each other and the shift with nothing.
        if (!(values[2] > 1e-9 * values[0]) || !std::isfinite(values[0])) return std::nullopt;
        const auto at = static_cast<std::size_t>(axis);
        parameters[at] = svd.solve(right);
        const Eigen::Vector3d inverse_values = values.cwiseInverse();
        inverses[at] =
            svd.matrixV() * inverse_values.cwiseAbs2().asDiagonal() * svd.matrixV().transpose();
    }
    fit.a = parameters[0][0];
    fit.b = parameters[0][1];
    fit.c_m = target_centre.x() + parameters[0][2] - fit.a * centre.x() - fit.b * centre.y();
    fit.d = parameters[1][0];
    fit.e = parameters[1][1];
    fit.f_m = target_centre.y() + parameters[1][2] - fit.d * centre.x() - fit.e * centre.y();
    double sum = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
        const Eigen::Vector2d p = from[i] - centre;
        const Eigen::Vector2d fitted(
            target_centre.x() + parameters[0].dot(Eigen::Vector3d(p.x(), p.y(), 1.0)),
            target_centre.y() + parameters[1].dot(Eigen::Vector3d(p.x(), p.y(), 1.0)));
        const Eigen::Vector2d misfit = fitted - to_m[i];
        fit.misfits_m.push_back(misfit);
        for (const int axis : {0, 1}) {
            sum += (weights.empty() ? 1.0 : clean(weights[i][axis])) * misfit[axis] * misfit[axis];
        }
    }
    if (n > 3) fit.s0 = std::sqrt(sum / static_cast<double>(2 * n - 6));
    for (const std::size_t axis : {0U, 1U}) {
        const Eigen::Matrix3d& q = inverses[axis];
        const Eigen::Vector3d to_origin(-centre.x(), -centre.y(), 1.0);
        fit.sd[3 * axis] = fit.s0 * std::sqrt(q(0, 0));
        fit.sd[3 * axis + 1] = fit.s0 * std::sqrt(q(1, 1));
        fit.sd[3 * axis + 2] = fit.s0 * std::sqrt(std::max(0.0, to_origin.dot(q * to_origin)));
    }
    return fit;
}

}  // namespace layproof::frame
