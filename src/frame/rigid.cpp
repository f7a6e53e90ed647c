#include "frame/rigid.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>

#include "measure/angle.hpp"

namespace layproof::frame {
namespace {

Eigen::Vector2d turned(const Eigen::Vector2d& v, double rotation_rad) {
    const double c = std::cos(rotation_rad);
    const double s = std::sin(rotation_rad);
    return {v.x() * c + v.y() * s, v.y() * c - v.x() * s};
}

}  // namespace

Eigen::Vector2d PlanFit::place(const Eigen::Vector2d& local_m) const {
    return target_centre_m_ + scale * turned(local_m - local_centre_m_, rotation_rad);
}

struct PlanFitter {
    std::span<const Eigen::Vector2d> local;
    std::span<const Eigen::Vector2d> target;
    std::span<const double> weights;
    bool scale_free = false;

    double weight(std::size_t i) const {
        if (weights.empty()) return 1.0;
        return weights[i] > 0.0 && std::isfinite(weights[i]) ? weights[i] : 0.0;
    }

    PlanFit fit() const {
        assert(local.size() == target.size());
        assert(weights.empty() || weights.size() == local.size());
        PlanFit result;
        // The mean is taken about the first point, so that large coordinates lose nothing.
        double weight_sum = 0.0;
        Eigen::Vector2d local_mean = Eigen::Vector2d::Zero();
        Eigen::Vector2d target_mean = Eigen::Vector2d::Zero();
        for (std::size_t i = 0; i < local.size(); ++i) {
            weight_sum += weight(i);
            local_mean += weight(i) * (local[i] - local[0]);
            target_mean += weight(i) * (target[i] - target[0]);
        }
        if (!(weight_sum > 0.0)) return result;
        result.local_centre_m_ = local[0] + local_mean / weight_sum;
        result.target_centre_m_ = target[0] + target_mean / weight_sum;

        double x = 0.0;
        double y = 0.0;
        double local_square = 0.0;
        double target_square = 0.0;
        for (std::size_t i = 0; i < local.size(); ++i) {
            const Eigen::Vector2d l = local[i] - result.local_centre_m_;
            const Eigen::Vector2d t = target[i] - result.target_centre_m_;
            x += weight(i) * (l.x() * t.x() + l.y() * t.y());
            y += weight(i) * (l.y() * t.x() - l.x() * t.y());
            local_square += weight(i) * l.squaredNorm();
            target_square += weight(i) * t.squaredNorm();
        }
        // Below this the turn is rounding: points of one place differ by the last digit only.
        constexpr double kNoTurn = 1e-12;
        const double size = std::sqrt(local_square) * std::sqrt(target_square);
        const double extent = rounding_extent(weight_sum);
        const bool spread =
            local_square > extent * extent * weight_sum && std::hypot(x, y) > kNoTurn * size;
        result.state = spread ? PlanFitState::determined : PlanFitState::turn_undetermined;
        if (spread) {
            result.rotation_rad = measure::wrap_0_2pi(std::atan2(y, x));
            if (scale_free) result.scale = std::hypot(x, y) / local_square;
        }
        result.origin_m = result.place(Eigen::Vector2d::Zero());
        add_misfits(result, weight_sum, spread ? local_square : 0.0);
        return result;
    }

    /// Root-mean-square spread that rounding of the coordinates alone can make.
    double rounding_extent(double weight_sum) const {
        double largest = 0.0;
        for (std::size_t i = 0; i < local.size(); ++i) {
            if (weight(i) > 0.0) largest = std::max(largest, local[i].cwiseAbs().maxCoeff());
        }
        return weight_sum > 0.0 ? 4.0 * 2.3e-16 * largest : 0.0;
    }

    void add_misfits(PlanFit& result, double weight_sum, double local_square) const {
        result.misfits_m.reserve(local.size());
        result.redundancies.reserve(local.size());
        for (std::size_t i = 0; i < local.size(); ++i) {
            const Eigen::Vector2d misfit = target[i] - result.place(local[i]);
            result.misfits_m.push_back(misfit);
            result.weighted_square_sum += weight(i) * misfit.squaredNorm();
            double redundancy = 1.0 - weight(i) / weight_sum;
            if (local_square > 0.0) {
                const double lever = (local[i] - result.local_centre_m_).squaredNorm();
                redundancy -= (scale_free ? 1.0 : 0.5) * weight(i) * lever / local_square;
            }
            result.redundancies.push_back(std::max(0.0, redundancy));
        }
    }
};

PlanFit rigid_fit(std::span<const Eigen::Vector2d> local_m,
                  std::span<const Eigen::Vector2d> target_m, std::span<const double> weights) {
    return PlanFitter{local_m, target_m, weights, false}.fit();
}

PlanFit similarity_fit(std::span<const Eigen::Vector2d> local_m,
                       std::span<const Eigen::Vector2d> target_m, std::span<const double> weights) {
    return PlanFitter{local_m, target_m, weights, true}.fit();
}

}  // namespace layproof::frame
