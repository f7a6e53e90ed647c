#include "network/movement.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>

#include "measure/angle.hpp"

namespace layproof::network {

using Eigen::MatrixXd;
using Eigen::Vector2d;
using Eigen::VectorXd;

Congruency congruency(const VectorXd& difference, const MatrixXd& covariance, int size) {
    Congruency out;
    const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(covariance);
    const double largest = std::max(eigen.eigenvalues().maxCoeff(), 0.0);
    constexpr double kNotMeasured = 1e-9;
    for (Eigen::Index i = 0; i < difference.size(); ++i) {
        const double variance = eigen.eigenvalues()[i];
        if (!(variance > kNotMeasured * largest)) continue;
        const double part = eigen.eigenvectors().col(i).dot(difference);
        out.statistic += part * part / variance;
        ++out.rank;
    }
    for (Eigen::Index p = 0; p + size <= difference.size(); p += size) {
        const VectorXd d = difference.segment(p, size);
        out.of_point.push_back(d.dot(covariance.block(p, p, size, size).ldlt().solve(d)));
    }
    return out;
}

RigidMotion rigid_motion(const std::vector<Vector2d>& first, const std::vector<Vector2d>& second,
                         const MatrixXd& first_covariance, const MatrixXd& second_covariance) {
    RigidMotion out;
    const auto n = static_cast<Eigen::Index>(first.size());
    if (n < 2) return out;
    const auto each = 1.0 / static_cast<double>(n);
    Vector2d centre_1 = Vector2d::Zero();
    Vector2d centre_2 = Vector2d::Zero();
    for (std::size_t i = 0; i < first.size(); ++i) {
        centre_1 += each * first[i];
        centre_2 += each * second[i];
    }
    out.shift_m = centre_2 - centre_1;
    MatrixXd mean = MatrixXd::Zero(2, 2 * n);
    for (Eigen::Index i = 0; i < n; ++i)
        mean.middleCols(2 * i, 2) = each * Eigen::Matrix2d::Identity();
    const Eigen::Matrix2d of_shift =
        mean * (first_covariance + second_covariance) * mean.transpose();
    out.shift_statistic = out.shift_m.dot(of_shift.ldlt().solve(out.shift_m));
    // Mean change of t_i = atan2(x_i − x_s, y_i − y_s), derivatives with the centre's share.
    const auto by_places = [&](const std::vector<Vector2d>& places, const Vector2d& centre) {
        Eigen::RowVectorXd by = Eigen::RowVectorXd::Zero(2 * n);
        Eigen::RowVector2d of_centre = Eigen::RowVector2d::Zero();
        for (Eigen::Index i = 0; i < n; ++i) {
            const Vector2d to = places[static_cast<std::size_t>(i)] - centre;
            const Eigen::RowVector2d own =
                each * Eigen::RowVector2d(to.y(), -to.x()) / to.squaredNorm();
            by.segment(2 * i, 2) += own;
            of_centre += own;
        }
        for (Eigen::Index i = 0; i < n; ++i) by.segment(2 * i, 2) -= each * of_centre;
        return by;
    };
    for (std::size_t i = 0; i < first.size(); ++i) {
        const Vector2d a = first[i] - centre_1;
        const Vector2d b = second[i] - centre_2;
        out.turn_rad +=
            each * measure::wrap_pi(std::atan2(b.x(), b.y()) - std::atan2(a.x(), a.y()));
    }
    const Eigen::RowVectorXd by_1 = by_places(first, centre_1);
    const Eigen::RowVectorXd by_2 = by_places(second, centre_2);
    out.turn_sd_rad = std::sqrt((by_1 * first_covariance * by_1.transpose() +
                                 by_2 * second_covariance * by_2.transpose())(0, 0));
    out.turn_statistic = out.turn_sd_rad > 0.0 ? out.turn_rad / out.turn_sd_rad : 0.0;
    return out;
}

std::vector<MovedSet> moved_sets(const NetworkDiagnosis& diagnosis, bool in_height) {
    const cause::Cause cause =
        in_height ? cause::Cause::mark_height_changed : cause::Cause::mark_moved;
    std::map<std::vector<int>, double> sums;
    double told = 0.0;
    for (const NetworkExplanation& explanation : diagnosis.explanations) {
        std::vector<int> points;
        for (const int member : explanation.members) {
            const NetworkSuspect& s = diagnosis.suspects[static_cast<std::size_t>(member)];
            if (s.cause == cause) points.push_back(s.point);
        }
        std::sort(points.begin(), points.end());
        points.erase(std::unique(points.begin(), points.end()), points.end());
        sums[points] += explanation.probability;
        told += explanation.probability;
    }
    sums[{}] += std::max(1.0 - told, 0.0);
    std::vector<MovedSet> out;
    for (auto& [points, probability] : sums) out.push_back({points, probability});
    std::stable_sort(out.begin(), out.end(), [](const MovedSet& a, const MovedSet& b) {
        return a.probability > b.probability;
    });
    return out;
}

}  // namespace layproof::network
