#include "vet/rod_checks.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "adjust/tests.hpp"
#include "measure/angle.hpp"

namespace layproof::vet {
namespace {

constexpr double kSameHeight_m = 0.005;
constexpr double kLeastTurn_rad = measure::kPi / 3.0;
constexpr double kConfidence = 0.95;

double most_apart(const std::vector<RodSight>& sights) {
    double out = 0.0;
    for (const RodSight& a : sights)
        for (const RodSight& b : sights)
            out = std::max(out, std::abs(measure::wrap_pi(a.turn_rad - b.turn_rad)));
    return out;
}

Lean lean_at(const std::vector<RodSight>& sights, const measure::Instrument& instrument) {
    const auto n = static_cast<Eigen::Index>(sights.size());
    // Right and away, about the first sight's direction.
    const double ahead = sights.front().direction_rad;
    Eigen::MatrixXd a(2 * n, 4);
    Eigen::VectorXd l(2 * n), sd(2 * n);
    double height = 0.0;
    const double first = sights.front().slope_m * std::sin(sights.front().zenith_rad);
    for (Eigen::Index k = 0; k < n; ++k) {
        const RodSight& s = sights[static_cast<std::size_t>(k)];
        height += s.height_m / static_cast<double>(n);
        const double plan = s.slope_m * std::sin(s.zenith_rad);
        const double off = measure::wrap_pi(s.direction_rad - ahead);
        l[2 * k] = plan * std::sin(off);
        l[2 * k + 1] = plan * std::cos(off) - first;
        const double c = std::cos(s.turn_rad);
        const double t = std::sin(s.turn_rad);
        // Clockwise from above: right' = right cos + away sin, away' = away cos − right sin.
        a.row(2 * k) << 1.0, 0.0, c, t;
        a.row(2 * k + 1) << 0.0, 1.0, -t, c;
        const double plumb = instrument.bubble_rad * s.height_m;
        const double along = std::hypot(
            std::hypot(instrument.distance_sd_m, 1e-6 * instrument.distance_ppm * s.slope_m) *
                std::sin(s.zenith_rad),
            instrument.angle_sd_rad * s.slope_m * std::cos(s.zenith_rad));
        sd[2 * k] = std::max(std::hypot(instrument.angle_sd_rad * plan, plumb), 1e-6);
        sd[2 * k + 1] = std::max(std::hypot(along, plumb), 1e-6);
    }
    const Eigen::MatrixXd weighted = sd.cwiseInverse().asDiagonal() * a;
    const Eigen::VectorXd y = l.cwiseQuotient(sd);
    const Eigen::Matrix4d inverse = (weighted.transpose() * weighted).inverse();
    const Eigen::Vector4d x = inverse * (weighted.transpose() * y);
    Lean out;
    out.height_m = height;
    out.offset_m = x.tail<2>();
    out.covariance = inverse.bottomRightCorner<2, 2>();
    out.statistic = out.offset_m.dot(out.covariance.inverse() * out.offset_m);
    out.is_real = out.statistic > adjust::chi_square_quantile(kConfidence, 2.0);
    const double size = out.offset_m.norm();
    out.lean_rad = size / height;
    const Eigen::Vector2d unit =
        size > 0.0 ? Eigen::Vector2d(out.offset_m / size) : Eigen::Vector2d::UnitX();
    out.lean_sd_rad = std::sqrt(unit.dot(out.covariance * unit)) / height;
    out.dof = static_cast<int>(2 * n) - 4;
    const Eigen::VectorXd v = a * x - l;
    out.residual_m = std::sqrt(v.squaredNorm() / static_cast<double>(2 * n));
    if (out.dof > 0)
        out.scatter_as_stated =
            v.cwiseQuotient(sd).squaredNorm() <= adjust::chi_square_quantile(kConfidence, out.dof);
    return out;
}

}  // namespace

std::optional<RodCheck> rod_check(std::span<const RodSight> sights,
                                  const measure::Instrument& instrument) {
    std::vector<RodSight> order(sights.begin(), sights.end());
    std::stable_sort(order.begin(), order.end(),
                     [](const RodSight& a, const RodSight& b) { return a.height_m < b.height_m; });
    RodCheck out;
    for (std::size_t i = 0; i < order.size();) {
        std::vector<RodSight> same;
        const double height = order[i].height_m;
        for (; i < order.size() && order[i].height_m - height < kSameHeight_m; ++i)
            same.push_back(order[i]);
        if (same.size() < 2 || most_apart(same) < kLeastTurn_rad || !(height > 0.0)) continue;
        out.leans.push_back(lean_at(same, instrument));
    }
    if (out.leans.empty()) return std::nullopt;
    if (out.leans.size() >= 2) {
        const Lean& low = out.leans.front();
        const Lean& high = out.leans.back();
        const double ratio = high.height_m / low.height_m;
        const Eigen::Vector2d bend = high.offset_m - ratio * low.offset_m;
        const Eigen::Matrix2d covariance = high.covariance + ratio * ratio * low.covariance;
        out.bend_m = bend;
        out.bend_covariance = covariance;
        out.bend_is_real =
            bend.dot(covariance.inverse() * bend) > adjust::chi_square_quantile(kConfidence, 2.0);
    }
    return out;
}

}  // namespace layproof::vet
