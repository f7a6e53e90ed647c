#include "lay/laid_causes.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <optional>
#include <utility>

#include "base/index.hpp"
#include "infer/log_weights.hpp"

namespace layproof::lay {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// A point of a grid line lies this near by design.
constexpr double kOnLine_m = 0.010;
/// Beyond this many standard deviations a point is off.
constexpr double kOffFrom = 3.0;
/// Of a line or group most points must be off, else it is no cause of the line.
constexpr double kMostOf = 0.6;

/// Some axes of all points: plan (two) or height (one).
struct Axes {
    Eigen::Index first = 0;
    Eigen::Index count = 2;
};
constexpr Axes kPlan{0, 2};
constexpr Axes kHeight{2, 1};

double log_normal(const VectorXd& off, const MatrixXd& covariance) {
    const Eigen::LLT<MatrixXd> root(covariance);
    const VectorXd white = root.matrixL().solve(off);
    double log_det = 0.0;
    for (Eigen::Index i = 0; i < off.size(); ++i) log_det += std::log(root.matrixLLT()(i, i));
    return -0.5 * white.squaredNorm() - log_det -
           0.5 * static_cast<double>(off.size()) * std::log(2.0 * std::numbers::pi);
}

class LaidCauses {
public:
    LaidCauses(const std::vector<LaidDeviation>& laid, const std::vector<DesignPlace>& designs,
               const BuildingGrid& grid)
        : laid_(laid), designs_(designs), grid_(grid), is_taken_(laid.size(), 0) {}

    std::vector<LaidCause> run() {
        names();
        runs(kHeight, LaidCauseKind::off_in_height);
        runs(kPlan, LaidCauseKind::shifted_in_plan);
        sets();
        std::stable_sort(found_.begin(), found_.end(),
                         [](const Weighed& a, const Weighed& b) { return a.log > b.log; });
        std::vector<LaidCause> out;
        for (Weighed& one : found_) {
            const bool is_free = std::none_of(one.cause.points.begin(), one.cause.points.end(),
                                              [&](int p) { return is_taken_[at(p)] != 0; });
            if (!is_free || !(one.log > 0.0)) continue;
            for (const int p : one.cause.points) is_taken_[at(p)] = 1;
            one.cause.probability = 1.0 / (1.0 + std::exp(-one.log));
            out.push_back(std::move(one.cause));
        }
        return out;
    }

private:
    struct Weighed {
        double log = 0.0;  ///< ln of the odds against each point for itself
        LaidCause cause;
    };

    VectorXd off(int p, const Axes& axes) const {
        return laid_[at(p)].deviation_m.segment(axes.first, axes.count);
    }
    /// With what a hand leaves.
    MatrixXd spread(int p, const Axes& axes) const {
        return laid_[at(p)].covariance.block(axes.first, axes.first, axes.count, axes.count) +
               kLaidWell_m * kLaidWell_m * MatrixXd::Identity(axes.count, axes.count);
    }
    bool is_known(int p, const Axes& axes) const {
        return (axes.first != kHeight.first || laid_[at(p)].has_height) &&
               off(p, axes).allFinite() && spread(p, axes).allFinite();
    }
    bool is_off(int p, const Axes& axes) const {
        if (!is_known(p, axes)) return false;
        const VectorXd d = off(p, axes);
        return d.dot(spread(p, axes).ldlt().solve(d)) >
               kOffFrom * kOffFrom * static_cast<double>(axes.count);
    }

    /// Laid well, or slipped, each point for itself.
    double log_alone(int p, const Axes& axes) const {
        const VectorXd d = off(p, axes);
        const MatrixXd well = spread(p, axes);
        std::vector<double> logs{std::log(1.0 - kSlipChance) + log_normal(d, well)};
        for (const double slip : kSlips_m)
            logs.push_back(
                std::log(kSlipChance / static_cast<double>(std::size(kSlips_m))) +
                log_normal(d, well + slip * slip * MatrixXd::Identity(axes.count, axes.count)));
        return infer::ln_sum_exp(logs);
    }

    struct Shared {
        double log = 0.0;
        VectorXd mean, sd;
    };
    /// All off by one amount, against each for itself.
    Shared shared(const std::vector<int>& points, const Axes& axes) const {
        MatrixXd weight =
            MatrixXd::Identity(axes.count, axes.count) / (kSharedAmount_m * kSharedAmount_m);
        VectorXd sum = VectorXd::Zero(axes.count);
        double log = 0.0;
        for (const int p : points) {
            const MatrixXd inverse = spread(p, axes).inverse();
            weight += inverse;
            sum += inverse * off(p, axes);
            log += log_normal(off(p, axes), spread(p, axes)) - log_alone(p, axes);
        }
        const MatrixXd covariance = weight.inverse();
        Shared out;
        out.mean = covariance * sum;
        out.sd = covariance.diagonal().cwiseSqrt();
        out.log = log + 0.5 * sum.dot(out.mean) + 0.5 * std::log(covariance.determinant()) -
                  static_cast<double>(axes.count) * std::log(kSharedAmount_m);
        return out;
    }

    void keep(LaidCauseKind kind, std::vector<int> points, const Axes& axes, double odds,
              std::string along) {
        if (static_cast<int>(points.size()) < kFewestTogether) return;
        const Shared amount = shared(points, axes);
        Weighed one;
        one.log = amount.log + std::log(odds);
        one.cause.kind = kind;
        one.cause.points = std::move(points);
        one.cause.along = std::move(along);
        one.cause.amount_m.segment(axes.first, axes.count) = amount.mean;
        one.cause.sd_m.segment(axes.first, axes.count) = amount.sd;
        found_.push_back(std::move(one));
    }

    /// A name booked at another's place.
    void names() {
        for (std::size_t p = 0; p < laid_.size(); ++p) {
            const int number = static_cast<int>(p);
            if (!is_off(number, kPlan)) continue;
            const Eigen::Vector2d d = laid_[p].deviation_m.head<2>();
            const Eigen::Vector2d here = laid_[p].design_m.head<2>() + d;
            const DesignPlace* nearest = nullptr;
            double distance = 1e300;
            int others = 0;
            for (const DesignPlace& q : designs_) {
                if (q.name == laid_[p].name) continue;
                ++others;
                if ((here - q.plan_m).norm() >= distance) continue;
                distance = (here - q.plan_m).norm();
                nearest = &q;
            }
            if (nearest == nullptr ||
                (nearest->plan_m - laid_[p].design_m.head<2>()).norm() < 2.0 * distance)
                continue;
            Weighed one;
            one.log = log_normal(here - nearest->plan_m, spread(number, kPlan)) -
                      log_alone(number, kPlan) +
                      std::log(kOnAnotherOdds / static_cast<double>(others));
            one.cause.kind = LaidCauseKind::on_anothers_place;
            one.cause.points = {number};
            one.cause.other = nearest->name;
            one.cause.amount_m.head<2>() = nearest->plan_m - laid_[p].design_m.head<2>();
            found_.push_back(std::move(one));
        }
    }

    /// Do two neighbours in a run differ by no more than their spread?
    bool goes_on(int before, int p, const Axes& axes) const {
        const VectorXd apart = off(p, axes) - off(before, axes);
        const MatrixXd both = spread(p, axes) + spread(before, axes);
        return apart.dot(both.ldlt().solve(apart)) < 16.0 * static_cast<double>(axes.count);
    }

    /// Points that follow each other in one set-up.
    void runs(const Axes& axes, LaidCauseKind kind) {
        std::map<int, std::vector<int>> of_setup;
        for (std::size_t p = 0; p < laid_.size(); ++p)
            of_setup[laid_[p].setup].push_back(static_cast<int>(p));
        const double odds = kind == LaidCauseKind::off_in_height ? kOffInHeightOdds : kShiftedOdds;
        for (const auto& [setup, points] : of_setup) {
            std::vector<int> run;
            const auto end = [&] {
                keep(kind, std::move(run), axes, odds / static_cast<double>(points.size()), "");
                run.clear();
            };
            for (const int p : points) {
                if (!is_off(p, axes)) {
                    end();
                    continue;
                }
                if (!run.empty() && !goes_on(run.back(), p, axes)) end();
                run.push_back(p);
            }
            end();
        }
    }

    /// Points of one line of the grid, of one group, of one set-up.
    void sets() {
        std::map<std::string, std::vector<int>> sets;
        for (std::size_t p = 0; p < laid_.size(); ++p) {
            const int number = static_cast<int>(p);
            for (const LineOffset& offset : grid_.offsets(laid_[p].design_m.head<2>()))
                if (std::abs(offset.across_m) < kOnLine_m)
                    sets["line " + offset.name].push_back(number);
            if (!laid_[p].group.empty()) sets["group " + laid_[p].group].push_back(number);
            sets["\n" + std::to_string(laid_[p].setup)].push_back(number);
        }
        for (const auto& [name, points] : sets) {
            std::vector<int> off;
            for (const int p : points)
                if (is_off(p, kPlan)) off.push_back(p);
            if (off.empty()) continue;
            std::vector<int> alike;
            for (const int p : off)
                if (goes_on(off[off.size() / 2], p, kPlan)) alike.push_back(p);
            if (static_cast<double>(alike.size()) < kMostOf * static_cast<double>(points.size()))
                continue;
            keep(LaidCauseKind::shifted_in_plan, std::move(alike), kPlan,
                 kShiftedOdds / static_cast<double>(sets.size()),
                 name.front() == '\n' ? std::string() : name);
        }
    }

    const std::vector<LaidDeviation>& laid_;
    const std::vector<DesignPlace>& designs_;
    const BuildingGrid& grid_;
    std::vector<char> is_taken_;
    std::vector<Weighed> found_;
};

}  // namespace

std::string_view to_word(LaidCauseKind kind) {
    switch (kind) {
        case LaidCauseKind::on_anothers_place:
            return "laid-on-another";
        case LaidCauseKind::off_in_height:
            return "laid-off-in-height";
        case LaidCauseKind::shifted_in_plan:
            break;
    }
    return "laid-off-in-plan";
}

std::vector<LaidCause> laid_causes(const std::vector<LaidDeviation>& laid,
                                   const std::vector<DesignPlace>& designs,
                                   const BuildingGrid& grid) {
    return LaidCauses(laid, designs, grid).run();
}

}  // namespace layproof::lay
