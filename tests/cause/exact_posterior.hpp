#pragma once
// The best possible classifier of invented scenes, by another road than the cause room: every
// hypothesis is solved anew in the readings themselves (directions, zenith angles, slope distances
// as booked), its amount an unknown with its prior, by Gauss–Newton with derivatives from
// differences and the full covariance of the readings at that hypothesis' own pose (a mark's error
// shared by its sights); the evidence is that of the normal approximation there, ½ ln det of
// everything included. No row, pattern or matrix of the station or cause rooms is used; only the
// rule of grouping is, because it is part of the question.

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "cause/diagnose.hpp"
#include "support/scene.hpp"

namespace layproof::testing {

class ExactPosterior {
public:
    ExactPosterior(const station::StationInput& input, const cause::CauseTable& table,
                   const std::vector<cause::Cause>& among)
        : input_(input), table_(table), among_(among) {
        for (const auto& sight : input.sights)
            for (std::size_t m = 0; m < input.marks.size(); ++m)
                if (input.marks[m].name == sight.target) booked_.push_back(static_cast<int>(m));
    }

    /// All explanations with probability and evidence; amounts are not kept.
    std::vector<cause::Explanation> run() {
        using cause::Cause;
        Hypothesis nothing;
        nothing.names = booked_;
        start_ = rigid_start(booked_);
        const Solved base = solve(nothing, start_);
        start_ = base.pose;
        base_ = base.log_evidence;
        for (const Cause c : among_) add_cause(c);
        double top = -1e300;
        for (const auto& [key, sum] : sums_) top = std::max(top, sum.best);
        double total = 0.0;
        for (const auto& [key, sum] : sums_) total += sum.weight_at(top);
        std::vector<cause::Explanation> out;
        for (const auto& [key, sum] : sums_) {
            cause::Explanation e;
            e.cause = static_cast<Cause>(key.first);
            e.subjects = key.second;
            e.probability = sum.weight_at(top) / total;
            e.log_evidence = std::log(std::max(sum.weight_at(sum.best), 1e-300)) + sum.best -
                             std::log(sum.prior) - base_;
            out.push_back(e);
        }
        return out;
    }

private:
    using Pose = Eigen::Vector4d;  // east, north, height, orientation
    using Amount = std::array<double, 3>;

    struct Hypothesis {
        cause::Cause cause = cause::Cause::nothing_wrong;
        int mark = -1;
        int sight = -1;
        std::vector<int> names{};
        int amounts = 0;
        Amount sd{};
    };
    struct Solved {
        Pose pose = Pose::Zero();
        double log_evidence = -1e300;
    };
    struct Sum {
        double prior = 0.0;
        double best = -1e300;
        std::vector<double> logs;
        double weight_at(double top) const {
            double out = 0.0;
            for (const double l : logs) out += std::exp(l - top);
            return out;
        }
    };

    std::string name(int mark) const { return input_.marks[static_cast<std::size_t>(mark)].name; }

    void count(const Hypothesis& h, double prior, std::vector<std::string> subjects) {
        const Solved solved =
            solve(h, h.cause == cause::Cause::names_swapped ? rigid_start(h.names) : start_);
        Sum& sum = sums_[{static_cast<int>(h.cause), std::move(subjects)}];
        const double l = std::log(prior) + solved.log_evidence;
        sum.prior += prior;
        sum.logs.push_back(l);
        sum.best = std::max(sum.best, l);
    }

    void add_cause(cause::Cause c) {
        using cause::Cause;
        const auto& prior = table_.of(c);
        if (prior.frequency <= 0.0) return;
        const int marks = static_cast<int>(input_.marks.size());
        const int sights = static_cast<int>(booked_.size());
        Hypothesis h;
        h.cause = c;
        h.names = booked_;
        if (c == Cause::nothing_wrong) return count(h, prior.frequency, {});
        if (c == Cause::names_swapped) {
            const double share = prior.frequency / (0.5 * marks * (marks - 1));
            for (int a = 0; a < marks; ++a) {
                for (int b = a + 1; b < marks; ++b) {
                    h.names = booked_;
                    for (int& n : h.names) n = n == a ? b : n == b ? a : n;
                    std::vector<std::string> both{name(a), name(b)};
                    count(h, share, both);
                }
            }
            return;
        }
        for (const auto& size : prior.sizes) {
            const double share = prior.frequency / static_cast<double>(prior.sizes.size());
            const double s = size.length_m;
            switch (c) {
                case Cause::mark_moved:
                case Cause::mark_height_changed:
                    h.amounts = c == Cause::mark_moved ? 2 : 1;
                    h.sd = {s, s, 0.0};
                    for (h.mark = 0; h.mark < marks; ++h.mark)
                        count(h, share / marks, {name(h.mark)});
                    break;
                case Cause::rod_not_plumb:
                case Cause::rod_height_wrong:
                    h.amounts = c == Cause::rod_not_plumb ? 2 : 1;
                    h.sd = {s, s, 0.0};
                    for (h.sight = 0; h.sight < sights; ++h.sight)
                        count(h, share / sights,
                              {name(booked_[static_cast<std::size_t>(h.sight)])});
                    break;
                case Cause::tripod_disturbed:
                    h.amounts = 3;
                    h.sd = {s, s, size.angle_rad};
                    for (h.sight = 1; h.sight < sights; ++h.sight)
                        count(h, share / (sights - 1),
                              {name(booked_[static_cast<std::size_t>(h.sight)])});
                    break;
                default:
                    h.amounts = 1;
                    h.sd = {c == Cause::distance_scale_wrong ? size.ratio : s, 0.0, 0.0};
                    count(h, share, {});
            }
        }
    }

    /// Where everything would read; `prism_shift` is for derivatives.
    Eigen::Vector3d forward(const Hypothesis& h, const Eigen::Matrix<double, 7, 1>& x,
                            std::size_t i, const Eigen::Vector3d& prism_shift) const {
        using cause::Cause;
        const auto& mark = input_.marks[static_cast<std::size_t>(h.names[i])];
        Eigen::Vector3d prism(*mark.east_m, *mark.north_m, *mark.height_m);
        Eigen::Vector3d at = x.head<3>();
        double orientation = x[3];
        double constant = 0.0;
        double ratio = 0.0;
        const bool this_mark = h.mark == h.names[i];
        const bool this_sight = h.sight == static_cast<int>(i);
        switch (h.cause) {
            case Cause::mark_moved:
                if (this_mark) prism.head<2>() += x.segment<2>(4);
                break;
            case Cause::mark_height_changed:
                if (this_mark) prism.z() += x[4];
                break;
            case Cause::rod_not_plumb:
                if (this_sight) prism.head<2>() += x.segment<2>(4);
                break;
            case Cause::rod_height_wrong:
                if (this_sight) prism.z() += x[4];
                break;
            case Cause::tripod_disturbed:
                if (static_cast<int>(i) >= h.sight) {
                    at.head<2>() += x.segment<2>(4);
                    orientation += x[6];
                }
                break;
            case Cause::prism_constant_wrong:
                constant = x[4];
                break;
            case Cause::distance_scale_wrong:
                ratio = x[4];
                break;
            default:
                break;
        }
        prism.z() += input_.sights[i].target_height_m;
        prism += prism_shift;
        const TrueReading t = read(at, orientation, prism, input_.instrument.refraction_k);
        return {t.direction_rad, t.zenith_rad, t.slope_m * (1.0 + ratio) + constant};
    }

    static Eigen::Vector3d minus(const Eigen::Vector3d& a, const Eigen::Vector3d& b) {
        Eigen::Vector3d out = a - b;
        out[0] = measure::wrap_pi(out[0]);
        return out;
    }

    struct Linear {
        double objective = 0.0;
        double half_log_det = 0.0;  // of the covariance of the readings
        Eigen::Matrix<double, 7, 7> normal = Eigen::Matrix<double, 7, 7>::Zero();
        Eigen::Matrix<double, 7, 1> right = Eigen::Matrix<double, 7, 1>::Zero();
    };

    Linear linearise(const Hypothesis& h, const Eigen::Matrix<double, 7, 1>& x) const {
        const auto& instrument = input_.instrument;
        const int size = 4 + h.amounts;
        Linear out;
        const Eigen::Vector3d none = Eigen::Vector3d::Zero();
        std::vector<std::vector<std::size_t>> of_mark(input_.marks.size());
        for (std::size_t i = 0; i < h.names.size(); ++i)
            of_mark[static_cast<std::size_t>(h.names[i])].push_back(i);
        for (std::size_t m = 0; m < of_mark.size(); ++m) {
            const auto k = static_cast<Eigen::Index>(3 * of_mark[m].size());
            if (k == 0) continue;
            Eigen::MatrixXd jacobian(k, size);
            Eigen::MatrixXd by_place(k, 3);
            Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(k, k);
            Eigen::VectorXd residual(k);
            const auto& mark = input_.marks[m];
            const Eigen::Vector3d mark_variance =
                Eigen::Vector3d(mark.sd_east_m, mark.sd_north_m, mark.sd_height_m).cwiseAbs2();
            for (std::size_t j = 0; j < of_mark[m].size(); ++j) {
                const std::size_t i = of_mark[m][j];
                const auto& sight = input_.sights[i];
                const auto row = static_cast<Eigen::Index>(3 * j);
                const Eigen::Vector3d booked(*sight.direction_rad, *sight.zenith_rad,
                                             *sight.slope_distance_m);
                residual.segment<3>(row) = minus(booked, forward(h, x, i, none));
                for (int c = 0; c < size; ++c) {
                    const bool small = c == 3 || c == 6 ||
                                       (c == 4 && h.cause == cause::Cause::distance_scale_wrong);
                    const double step = small ? 1e-6 : 1e-4;
                    auto up = x;
                    auto down = x;
                    up[c] += step;
                    down[c] -= step;
                    jacobian.block<3, 1>(row, c) =
                        minus(forward(h, up, i, none), forward(h, down, i, none)) / (2.0 * step);
                }
                for (int c = 0; c < 3; ++c) {
                    const Eigen::Vector3d step = 1e-4 * Eigen::Vector3d::Unit(c);
                    by_place.block<3, 1>(row, c) =
                        minus(forward(h, x, i, step), forward(h, x, i, -step)) / 2e-4;
                }
                const double lean = std::pow(instrument.bubble_rad * sight.target_height_m, 2) +
                                    std::pow(instrument.centring_m, 2);
                const Eigen::Vector3d rod(lean, lean, std::pow(instrument.height_tape_m, 2));
                const Eigen::Matrix3d place = by_place.middleRows<3>(row);
                Eigen::Matrix3d own = place * rod.asDiagonal() * place.transpose();
                own(0, 0) += std::pow(instrument.angle_sd_rad, 2);
                own(1, 1) += std::pow(instrument.angle_sd_rad, 2);
                own(2, 2) += std::pow(instrument.distance_sd_m, 2) +
                             std::pow(instrument.distance_ppm * 1e-6 * booked[2], 2);
                covariance.block<3, 3>(row, row) = own;
            }
            covariance += by_place * mark_variance.asDiagonal() * by_place.transpose();
            const Eigen::LLT<Eigen::MatrixXd> factor(covariance);
            const Eigen::MatrixXd weighted = factor.solve(jacobian);
            out.objective += residual.dot(factor.solve(residual));
            out.half_log_det += factor.matrixLLT().diagonal().array().log().sum();
            out.normal.topLeftCorner(size, size) += jacobian.transpose() * weighted;
            out.right.head(size) += weighted.transpose() * residual;
        }
        for (int c = 0; c < h.amounts; ++c) {
            const double w = 1.0 / std::pow(h.sd[static_cast<std::size_t>(c)], 2);
            out.objective += w * x[4 + c] * x[4 + c];
            out.normal(4 + c, 4 + c) += w;
            out.right[4 + c] -= w * x[4 + c];
        }
        return out;
    }

    Solved solve(const Hypothesis& h, const Pose& start) const {
        const int size = 4 + h.amounts;
        Eigen::Matrix<double, 7, 1> x = Eigen::Matrix<double, 7, 1>::Zero();
        x.head<4>() = start;
        Linear at = linearise(h, x);
        for (int step = 0; step < 12; ++step) {
            const Eigen::VectorXd d =
                at.normal.topLeftCorner(size, size).ldlt().solve(at.right.head(size));
            if (at.right.head(size).dot(d) < 1e-7) break;
            double share = 1.0;
            bool better = false;
            for (int tries = 0; tries < 5 && !better; ++tries, share *= 0.3) {
                auto next = x;
                next.head(size) += share * d;
                const Linear there = linearise(h, next);
                better = there.objective <= at.objective * (1.0 + 1e-6) + 1e-6;
                if (better) {
                    x = next;
                    at = there;
                }
            }
            if (!better) break;
        }
        Solved out;
        out.pose = x.head<4>();
        const Eigen::MatrixXd normal = at.normal.topLeftCorner(size, size);
        const Eigen::VectorXd scale = normal.diagonal().cwiseSqrt().cwiseInverse();
        const Eigen::LLT<Eigen::MatrixXd> factor(scale.asDiagonal() * normal * scale.asDiagonal());
        out.log_evidence = -0.5 * at.objective - at.half_log_det -
                           factor.matrixLLT().diagonal().array().log().sum() +
                           scale.array().log().sum();
        for (int c = 0; c < h.amounts; ++c)
            out.log_evidence -= std::log(h.sd[static_cast<std::size_t>(c)]);
        return out;
    }

    /// Closed-form turn and shift of the plan that fits best.
    Pose rigid_start(const std::vector<int>& names) const {
        using Complex = std::complex<double>;
        const double n = static_cast<double>(names.size());
        Complex local{};
        Complex site{};
        Complex cross{};
        double height = 0.0;
        for (std::size_t i = 0; i < names.size(); ++i) {
            const auto& sight = input_.sights[i];
            const auto& mark = input_.marks[static_cast<std::size_t>(names[i])];
            const double plan = *sight.slope_distance_m * std::sin(*sight.zenith_rad);
            const Complex l{plan * std::sin(*sight.direction_rad),
                            plan * std::cos(*sight.direction_rad)};
            const Complex s{*mark.east_m - *input_.marks[0].east_m,
                            *mark.north_m - *input_.marks[0].north_m};
            local += l;
            site += s;
            cross += std::conj(l) * s;
            height += (*mark.height_m + sight.target_height_m -
                       *sight.slope_distance_m * std::cos(*sight.zenith_rad)) /
                      n;
        }
        Complex turn = cross - std::conj(local) * site / n;
        turn = std::abs(turn) > 0.0 ? turn / std::abs(turn) : Complex{1.0, 0.0};
        const Complex place = (site - turn * local) / n;
        return {place.real() + *input_.marks[0].east_m, place.imag() + *input_.marks[0].north_m,
                height, -std::arg(turn)};
    }

    const station::StationInput& input_;
    const cause::CauseTable& table_;
    const std::vector<cause::Cause>& among_;
    std::vector<int> booked_;
    Pose start_ = Pose::Zero();
    double base_ = 0.0;
    std::map<std::pair<int, std::vector<std::string>>, Sum> sums_;
};

}  // namespace layproof::testing
