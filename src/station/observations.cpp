#include <algorithm>
#include <cmath>

#include "measure/angle.hpp"
#include "station/observations_internal.hpp"

namespace layproof::station::internal {

void SightFunction::evaluate(std::span<const double* const> blocks, double* residual,
                             double* const* jacobians) const {
    const double* pose = blocks[0];
    const double* mark = blocks[1];
    const int pose_size = has_height_ ? 4 : 3;
    const int mark_size = has_height_ ? 3 : 2;
    const double east = mark[0] - pose[0];
    const double north = mark[1] - pose[1];
    const double plan_square = east * east + north * north;
    const double plan = std::sqrt(plan_square);
    const double ground = plan / scale_;
    double rise = 0.0;
    if (has_height_) {
        rise = mark[2] + sight_.target_height_m - pose[3] - bend_ * ground * ground;
    }
    const double slope = std::hypot(ground, rise);

    double* const pose_jacobian = jacobians ? jacobians[0] : nullptr;
    double* const mark_jacobian = jacobians ? jacobians[1] : nullptr;
    if (pose_jacobian) std::fill_n(pose_jacobian, sight_.size() * pose_size, 0.0);
    if (mark_jacobian) std::fill_n(mark_jacobian, sight_.size() * mark_size, 0.0);

    // Partial derivatives with respect to the target's east, north, height; the station's are their
    // negatives.
    int row = 0;
    const auto put = [&](double by_east, double by_north, double by_height, double by_orientation) {
        if (pose_jacobian) {
            double* const p = pose_jacobian + row * pose_size;
            p[0] = -by_east;
            p[1] = -by_north;
            p[2] = by_orientation;
            if (has_height_) p[3] = -by_height;
        }
        if (mark_jacobian) {
            double* const m = mark_jacobian + row * mark_size;
            m[0] = by_east;
            m[1] = by_north;
            if (has_height_) m[2] = by_height;
        }
        ++row;
    };

    const double ground_by_east = plan > 0.0 ? east / (plan * scale_) : 0.0;
    const double ground_by_north = plan > 0.0 ? north / (plan * scale_) : 0.0;
    const double rise_by_ground = has_height_ ? -2.0 * bend_ * ground : 0.0;
    if (sight_.has_direction) {
        residual[row] = measure::wrap_pi(std::atan2(east, north) - pose[2] - sight_.direction_rad);
        const double inverse = plan_square > 0.0 ? 1.0 / plan_square : 0.0;
        put(north * inverse, -east * inverse, 0.0, -1.0);
    }
    if (sight_.has_zenith) {
        residual[row] = std::atan2(ground, rise) - sight_.zenith_rad;
        const double square = slope * slope;
        const double by_ground = square > 0.0 ? (rise - ground * rise_by_ground) / square : 0.0;
        const double by_height = square > 0.0 ? -ground / square : 0.0;
        put(by_ground * ground_by_east, by_ground * ground_by_north, by_height, 0.0);
    }
    if (sight_.has_distance) {
        if (sight_.distance_is_horizontal) {
            residual[row] = ground - sight_.distance_m;
            put(ground_by_east, ground_by_north, 0.0, 0.0);
        } else {
            residual[row] = slope - sight_.distance_m;
            const double by_ground = slope > 0.0 ? (ground + rise * rise_by_ground) / slope : 0.0;
            put(by_ground * ground_by_east, by_ground * ground_by_north,
                slope > 0.0 ? rise / slope : 0.0, 0.0);
        }
    }
}

void OverMarkFunction::evaluate(std::span<const double* const> blocks, double* residual,
                                double* const* jacobians) const {
    const double* pose = blocks[0];
    const double* mark = blocks[1];
    // The pose has a height whenever the mark block has one; rows: east, north, and height if used.
    residual[0] = pose[0] - mark[0];
    residual[1] = pose[1] - mark[1];
    if (with_height_) residual[2] = pose[3] - mark[2] - instrument_height_m_;
    if (jacobians == nullptr) return;
    const int pose_size = pose_size_;
    const int mark_size = pose_size_ - 1;
    const int rows = with_height_ ? 3 : 2;
    if (jacobians[0]) {
        std::fill_n(jacobians[0], rows * pose_size, 0.0);
        jacobians[0][0] = 1.0;
        jacobians[0][pose_size + 1] = 1.0;
        if (with_height_) jacobians[0][2 * pose_size + 3] = 1.0;
    }
    if (jacobians[1]) {
        std::fill_n(jacobians[1], rows * mark_size, 0.0);
        for (int i = 0; i < rows; ++i) jacobians[1][i * mark_size + i] = -1.0;
    }
}

GivenFunction::GivenFunction(std::span<const double> given, std::span<const int> components,
                             int block_size)
    : count_(static_cast<int>(components.size())), block_size_(block_size) {
    std::copy(given.begin(), given.end(), given_.begin());
    std::copy(components.begin(), components.end(), components_.begin());
}

void GivenFunction::evaluate(std::span<const double* const> blocks, double* residual,
                             double* const* jacobians) const {
    for (int i = 0; i < count_; ++i) {
        const auto at = static_cast<std::size_t>(i);
        residual[i] = blocks[0][components_[at]] - given_[at];
    }
    if (jacobians == nullptr || jacobians[0] == nullptr) return;
    std::fill_n(jacobians[0], count_ * block_size_, 0.0);
    for (int i = 0; i < count_; ++i)
        jacobians[0][i * block_size_ + components_[static_cast<std::size_t>(i)]] = 1.0;
}

}  // namespace layproof::station::internal
