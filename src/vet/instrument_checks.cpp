#include "vet/instrument_checks.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "adjust/tests.hpp"
#include "measure/angle.hpp"

namespace layproof::vet {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double kTestConfidence = 0.95;
/// "Cannot be told from 0": common practice, no source.
constexpr double kManySd = 3.0;
/// Below this spread of cot z the two axes are one number.
constexpr double kLeastSteepness = 0.2;

double chi_limit(double stated, int dof) {
    return stated * std::sqrt(adjust::chi_square_quantile(kTestConfidence, dof) / dof);
}

Found found(double value, double sd, int dof, double stored) {
    return {value, sd, dof, std::abs(value - stored) <= kManySd * sd};
}

}  // namespace

TwoFaceCheck two_face_check(std::span<const measure::CircleReading> face_one,
                            std::span<const measure::CircleReading> face_two,
                            double pointing_sd_rad, const StoredErrors& stored) {
    TwoFaceCheck out;
    const std::size_t n = std::min(face_one.size(), face_two.size());
    out.pairs = static_cast<int>(n);
    if (n == 0) return out;
    const auto rows = static_cast<Eigen::Index>(n);
    VectorXd c(rows), i(rows), by_c(rows), by_t(rows);
    for (std::size_t k = 0; k < n; ++k) {
        const measure::TwoFace both = measure::reduce_two_face(face_one[k], face_two[k]);
        const auto r = static_cast<Eigen::Index>(k);
        c[r] = both.direction.collimation_rad;
        i[r] = both.zenith.index_rad;
        const double s = std::max(std::abs(std::sin(both.zenith.zenith_rad)), 1e-3);
        by_c[r] = 1.0 / s;
        by_t[r] = std::cos(both.zenith.zenith_rad) / s;
    }
    const double sd = pointing_sd_rad / std::numbers::sqrt2;
    const bool has_trunnion = n >= 2 && by_t.maxCoeff() - by_t.minCoeff() > kLeastSteepness;
    MatrixXd a(rows, has_trunnion ? 2 : 1);
    a.col(0) = by_c;
    if (has_trunnion) a.col(1) = by_t;
    const MatrixXd inverse = (a.transpose() * a).inverse();
    const VectorXd x = inverse * (a.transpose() * c);
    const int dof_c = static_cast<int>(n) - static_cast<int>(a.cols());
    const int dof_i = static_cast<int>(n) - 1;
    out.collimation_rad = found(x[0], sd * std::sqrt(inverse(0, 0)), dof_c, stored.collimation_rad);
    if (has_trunnion)
        out.trunnion_rad = found(x[1], sd * std::sqrt(inverse(1, 1)), dof_c, stored.trunnion_rad);
    const double index = i.mean();
    out.index_rad = found(index, sd / std::sqrt(static_cast<double>(n)), dof_i, stored.index_rad);
    out.dof = dof_c + dof_i;
    if (out.dof > 0) {
        const double square_sum =
            (c - a * x).squaredNorm() + (i.array() - index).matrix().squaredNorm();
        out.pointing_sd_rad = std::sqrt(2.0 * square_sum / out.dof);
        out.scatter_as_stated =
            square_sum <= sd * sd * adjust::chi_square_quantile(kTestConfidence, out.dof);
    }
    return out;
}

std::optional<SetsCheck> sets_check(std::span<const SetReading> readings, bool is_horizontal,
                                    double stated_rad) {
    std::map<int, std::map<int, std::map<int, double>>> of;  // series, set, target
    std::set<int> targets;
    for (const SetReading& r : readings) {
        auto& cell = of[r.series][r.set];
        if (cell.contains(r.target)) return std::nullopt;
        cell[r.target] = r.angle_rad;
        targets.insert(r.target);
    }
    const std::size_t t = targets.size();
    if (t < (is_horizontal ? 2U : 1U)) return std::nullopt;
    SetsCheck out;
    out.series = static_cast<int>(of.size());
    out.targets = static_cast<int>(t);
    double square_sum = 0.0;
    for (const auto& [series, sets] : of) {
        const std::size_t n = sets.size();
        out.sets = std::max(out.sets, static_cast<int>(n));
        if (n < 2) return std::nullopt;
        // Differences from the first set keep 0/360° out of the means.
        const auto& first = sets.begin()->second;
        if (first.size() != t) return std::nullopt;
        std::map<int, double> mean;
        for (const auto& [set, cell] : sets) {
            if (cell.size() != t) return std::nullopt;
            for (const auto& [target, angle] : cell)
                mean[target] += measure::wrap_pi(angle - first.at(target)) / static_cast<double>(n);
        }
        for (const auto& [set, cell] : sets) {
            double orientation = 0.0;
            std::map<int, double> r;
            for (const auto& [target, angle] : cell) {
                r[target] = mean[target] - measure::wrap_pi(angle - first.at(target));
                orientation += r[target] / static_cast<double>(t);
            }
            for (const auto& [target, value] : r) {
                const double residual = is_horizontal ? value - orientation : value;
                square_sum += residual * residual;
            }
        }
        out.dof += static_cast<int>((n - 1) * (is_horizontal ? t - 1 : t));
    }
    if (out.dof == 0) return std::nullopt;
    out.s_rad = std::sqrt(square_sum / out.dof);
    out.limit_rad = chi_limit(stated_rad, out.dof);
    out.passes = out.s_rad <= out.limit_rad;
    return out;
}

std::optional<LineCheck> line_check(std::span<const LineLength> lengths, int points,
                                    double stated_m) {
    const auto rows = static_cast<Eigen::Index>(lengths.size());
    if (points < 3 || rows < points || !(stated_m > 0.0)) return std::nullopt;
    MatrixXd a = MatrixXd::Zero(rows, points);
    VectorXd l(rows);
    // Unknown: places of points 1 … n − 1, then δ; D = x_to − x_from − δ.
    for (std::size_t k = 0; k < lengths.size(); ++k) {
        const LineLength& length = lengths[k];
        if (length.from < 0 || length.to >= points || length.from >= length.to) return std::nullopt;
        const auto r = static_cast<Eigen::Index>(k);
        a(r, length.to - 1) = 1.0;
        if (length.from > 0) a(r, length.from - 1) = -1.0;
        a(r, points - 1) = -1.0;
        l[r] = length.length_m;
    }
    const MatrixXd normal = a.transpose() * a;
    const Eigen::LDLT<MatrixXd> factor(normal);
    if (factor.info() != Eigen::Success || factor.vectorD().minCoeff() < 1e-9) return std::nullopt;
    const MatrixXd inverse = factor.solve(MatrixXd::Identity(points, points));
    const VectorXd x = inverse * (a.transpose() * l);
    const VectorXd v = a * x - l;
    LineCheck out;
    out.dof = static_cast<int>(rows) - points;
    const double q = std::sqrt(inverse(points - 1, points - 1));
    double sd = stated_m * q;
    double limit = adjust::normal_quantile(0.975);
    if (out.dof > 0) {
        out.s_m = std::sqrt(v.squaredNorm() / out.dof);
        out.limit_m = chi_limit(stated_m, out.dof);
        out.s_passes = *out.s_m <= *out.limit_m;
        sd = *out.s_m * q;
        limit = adjust::student_quantile(0.975, out.dof);
    }
    const double constant = x[points - 1];
    out.is_real = std::abs(constant) > limit * sd;
    out.constant_m = {constant, sd, out.dof, !out.is_real};
    out.places_m.push_back(0.0);
    for (int p = 1; p < points; ++p) out.places_m.push_back(x[p - 1]);
    out.residuals_m.assign(v.data(), v.data() + v.size());
    return out;
}

std::optional<LineCheck> base_check(std::span<const BaseReading> readings, double known_sd_m,
                                    double stated_m) {
    if (readings.empty()) return std::nullopt;
    std::map<double, int> bases;
    double sum = 0.0;
    for (const BaseReading& r : readings) {
        sum += r.known_m - r.measured_m;
        ++bases[r.known_m];
    }
    const auto n = static_cast<double>(readings.size());
    LineCheck out;
    const double mean = sum / n;
    double square_sum = 0.0;
    for (const BaseReading& r : readings) {
        const double v = mean - (r.known_m - r.measured_m);
        out.residuals_m.push_back(v);
        square_sum += v * v;
    }
    // Readings of one base share its error: Σ (share of the base)² of its variance stays.
    double shared = 0.0;
    for (const auto& [base, count] : bases) shared += (count / n) * (count / n);
    const double sd = std::sqrt(stated_m * stated_m / n + known_sd_m * known_sd_m * shared);
    out.dof = static_cast<int>(readings.size()) - 1;
    if (out.dof > 0) {
        out.s_m = std::sqrt(square_sum / out.dof);
        out.limit_m =
            chi_limit(bases.size() > 1 ? std::hypot(stated_m, known_sd_m) : stated_m, out.dof);
        out.s_passes = *out.s_m <= *out.limit_m;
    }
    out.is_real = std::abs(mean) > adjust::normal_quantile(0.975) * sd;
    out.constant_m = {mean, sd, out.dof, !out.is_real};
    return out;
}

LaidEffect effect_on_laid(double plan_m, double zenith_rad, double collimation_rad,
                          double trunnion_rad, double index_rad, double length_m) {
    const double s = std::max(std::sin(zenith_rad), 1e-3);
    const double c = std::cos(zenith_rad);
    const double slope = plan_m / s;
    return {plan_m * (collimation_rad / s + trunnion_rad * c / s),
            length_m * s + slope * c * index_rad, length_m * c - slope * s * index_rad};
}

}  // namespace layproof::vet
