#include <algorithm>
#include <cmath>

#include "measure/angle.hpp"
#include "vet/functions_internal.hpp"

namespace layproof::vet::internal {
namespace {

constexpr double kShortest_m = 1e-6;

void clear(double* jacobian, int numbers) {
    std::fill(jacobian, jacobian + numbers, 0.0);
}

}  // namespace

void DifferenceFunction::evaluate(std::span<const double* const> blocks, double* residual,
                                  double* const* jacobians) const {
    const int first = first_size_ > 0 ? first_size_ : size_;
    for (int i = 0; i < size_; ++i) residual[i] = blocks[0][i] - blocks[1][i] - value_[i];
    if (jacobians == nullptr) return;
    if (jacobians[0] != nullptr) {
        clear(jacobians[0], size_ * first);
        for (int i = 0; i < size_; ++i) jacobians[0][i * first + i] = 1.0;
    }
    if (jacobians[1] != nullptr) {
        clear(jacobians[1], size_ * size_);
        for (int i = 0; i < size_; ++i) jacobians[1][i * size_ + i] = -1.0;
    }
}

void ListFunction::evaluate(std::span<const double* const> blocks, double* residual,
                            double* const* jacobians) const {
    const Eigen::Vector2d n = Eigen::Vector2d(blocks[0][0], blocks[0][1]) - centre_;
    int at = 0;
    const double turn = turn_ ? blocks[1][at++] : 0.0;
    const double scale = 1.0 + (scale_ ? blocks[1][at++] : 0.0);
    const Eigen::Vector2d shift = shift_ ? Eigen::Vector2d(blocks[1][at], blocks[1][at + 1])
                                         : Eigen::Vector2d(Eigen::Vector2d::Zero());
    const double c = std::cos(turn);
    const double s = std::sin(turn);
    // Clockwise from north: east' = e cos + n sin.
    const Eigen::Vector2d turned(c * n.x() + s * n.y(), c * n.y() - s * n.x());
    const Eigen::Vector2d r = scale * turned + centre_ + shift - value_;
    residual[0] = r.x();
    residual[1] = r.y();
    if (jacobians == nullptr) return;
    if (jacobians[0] != nullptr) {
        jacobians[0][0] = scale * c;
        jacobians[0][1] = scale * s;
        jacobians[0][2] = -scale * s;
        jacobians[0][3] = scale * c;
    }
    const int size = transform_size();
    if (size == 0 || jacobians[1] == nullptr) return;
    int column = 0;
    if (turn_) {
        jacobians[1][column] = scale * turned.y();
        jacobians[1][size + column] = -scale * turned.x();
        ++column;
    }
    if (scale_) {
        jacobians[1][column] = turned.x();
        jacobians[1][size + column] = turned.y();
        ++column;
    }
    if (shift_) {
        jacobians[1][column] = 1.0;
        jacobians[1][column + 1] = 0.0;
        jacobians[1][size + column] = 0.0;
        jacobians[1][size + column + 1] = 1.0;
    }
}

void TapeFunction::evaluate(std::span<const double* const> blocks, double* residual,
                            double* const* jacobians) const {
    const Eigen::Vector2d plan(blocks[1][0] - blocks[0][0], blocks[1][1] - blocks[0][1]);
    const double rise = is_slope_ ? blocks[3][0] - blocks[2][0] : 0.0;
    const double d = plan.norm() / scale_;
    const double length = std::max(std::hypot(d, rise), kShortest_m);
    residual[0] = length - value_m_;
    if (jacobians == nullptr) return;
    const Eigen::Vector2d by_plan = plan / (scale_ * scale_ * length);
    if (jacobians[0] != nullptr) {
        jacobians[0][0] = -by_plan.x();
        jacobians[0][1] = -by_plan.y();
    }
    if (jacobians[1] != nullptr) {
        jacobians[1][0] = by_plan.x();
        jacobians[1][1] = by_plan.y();
    }
    if (!is_slope_) return;
    if (jacobians[2] != nullptr) jacobians[2][0] = -rise / length;
    if (jacobians[3] != nullptr) jacobians[3][0] = rise / length;
}

void ValueFunction::evaluate(std::span<const double* const> blocks, double* residual,
                             double* const* jacobians) const {
    residual[0] = blocks[0][0] - value_;
    if (jacobians != nullptr && jacobians[0] != nullptr) jacobians[0][0] = 1.0;
}

void PolarFunction::evaluate(std::span<const double* const> blocks, double* residual,
                             double* const* jacobians) const {
    const double de = blocks[1][0] - blocks[0][0];
    const double dn = blocks[1][1] - blocks[0][1];
    const double plan = std::max(std::hypot(de, dn), kShortest_m);
    const double d = plan / scale_;
    const double v =
        with_height_ ? blocks[3][0] - blocks[2][0] + sight_.target_height_m - bend_ * d * d : 0.0;
    const double slope = std::max(std::hypot(d, v), kShortest_m);
    // By d and v of each part; d by east and north is (de, dn)/(plan·scale).
    const Eigen::Vector2d d_by(de / (plan * scale_), dn / (plan * scale_));
    const double v_by_d = with_height_ ? -2.0 * bend_ * d : 0.0;
    int row = 0;
    const auto fill = [&](double value, const Eigen::Vector2d& by_plan, double by_orientation,
                          double by_rise) {
        residual[row] = value;
        if (jacobians != nullptr) {
            if (jacobians[0] != nullptr) {
                jacobians[0][row * 3] = -by_plan.x();
                jacobians[0][row * 3 + 1] = -by_plan.y();
                jacobians[0][row * 3 + 2] = by_orientation;
            }
            if (jacobians[1] != nullptr) {
                jacobians[1][row * 2] = by_plan.x();
                jacobians[1][row * 2 + 1] = by_plan.y();
            }
            if (with_height_) {
                if (jacobians[2] != nullptr) jacobians[2][row] = -by_rise;
                if (jacobians[3] != nullptr) jacobians[3][row] = by_rise;
            }
        }
        ++row;
    };
    if (sight_.has_direction) {
        const double azimuth = std::atan2(de, dn);
        fill(measure::wrap_pi(azimuth - blocks[0][2] - sight_.direction_rad),
             Eigen::Vector2d(dn, -de) / (plan * plan), -1.0, 0.0);
    }
    if (sight_.has_zenith) {
        const double zenith = std::atan2(d, v);
        const double by_d = v / (slope * slope) - d / (slope * slope) * v_by_d;
        fill(zenith - sight_.zenith_rad, by_d * d_by, 0.0, -d / (slope * slope));
    }
    if (sight_.has_distance) {
        const bool level = sight_.distance_is_horizontal || !with_height_;
        if (level) {
            fill(d - sight_.distance_m, d_by, 0.0, 0.0);
        } else {
            fill(slope - sight_.distance_m, (d / slope + v / slope * v_by_d) * d_by, 0.0,
                 v / slope);
        }
    }
}

}  // namespace layproof::vet::internal
