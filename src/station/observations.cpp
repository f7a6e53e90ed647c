#include <algorithm>
#include <cmath>

#include "measure/angle.hpp"
#include "station/observations_internal.hpp"

namespace layproof::station::internal {

SightPartials sight_partials(const measure::ReducedSight& sight, double scale_factor, double bend,
                             bool has_height, const Eigen::Vector3d& to_m, double orientation_rad) {
    SightPartials out;
    const double east = to_m.x();
    const double north = to_m.y();
    const double plan_square = east * east + north * north;
    const double plan = std::sqrt(plan_square);
    const double ground = plan / scale_factor;
    double rise = 0.0;
    if (has_height) rise = to_m.z() + sight.target_height_m - bend * ground * ground;
    const double slope_square = ground * ground + rise * rise;
    const double slope = std::sqrt(slope_square);
    const double to_ground = plan > 0.0 ? 1.0 / (plan * scale_factor) : 0.0;
    const double ground_by_east = east * to_ground;
    const double ground_by_north = north * to_ground;
    const double rise_by_ground = has_height ? -2.0 * bend * ground : 0.0;
    if (sight.has_direction) {
        double turn = std::atan2(east, north) - orientation_rad - sight.direction_rad;
        // One turn off is the usual case and cheaper than the general wrap.
        if (turn < -measure::kPi) turn += measure::kTwoPi;
        if (!(std::abs(turn) < measure::kPi)) turn = measure::wrap_pi(turn);
        out.residual[0] = turn;
        const double inverse = plan_square > 0.0 ? 1.0 / plan_square : 0.0;
        out.by_target[0] = {north * inverse, -east * inverse, 0.0};
    }
    if (sight.has_zenith) {
        out.residual[1] = std::atan2(ground, rise) - sight.zenith_rad;
        const double inverse = slope_square > 0.0 ? 1.0 / slope_square : 0.0;
        const double by_ground = (rise - ground * rise_by_ground) * inverse;
        out.by_target[1] = {by_ground * ground_by_east, by_ground * ground_by_north,
                            -ground * inverse};
    }
    if (sight.has_distance && sight.distance_is_horizontal) {
        out.residual[2] = ground - sight.distance_m;
        out.by_target[2] = {ground_by_east, ground_by_north, 0.0};
    } else if (sight.has_distance) {
        out.residual[2] = slope - sight.distance_m;
        const double inverse = slope > 0.0 ? 1.0 / slope : 0.0;
        const double by_ground = (ground + rise * rise_by_ground) * inverse;
        out.by_target[2] = {by_ground * ground_by_east, by_ground * ground_by_north,
                            rise * inverse};
    }
    return out;
}

void SightFunction::evaluate(std::span<const double* const> blocks, double* residual,
                             double* const* jacobians) const {
    const double* pose = blocks[0];
    const double* mark = blocks[1];
    const int pose_size = has_height_ ? 4 : 3;
    const int mark_size = has_height_ ? 3 : 2;
    const Eigen::Vector3d to(mark[0] - pose[0], mark[1] - pose[1],
                             has_height_ ? mark[2] - pose[3] : 0.0);
    const SightPartials partials = sight_partials(sight_, scale_, bend_, has_height_, to, pose[2]);
    double* const pose_jacobian = jacobians ? jacobians[0] : nullptr;
    double* const mark_jacobian = jacobians ? jacobians[1] : nullptr;
    const std::array<bool, 3> present{sight_.has_direction, sight_.has_zenith, sight_.has_distance};
    int row = 0;
    for (std::size_t part = 0; part < 3; ++part) {
        if (!present[part]) continue;
        const std::array<double, 3>& by = partials.by_target[part];
        residual[row] = partials.residual[part];
        if (pose_jacobian) {
            double* const p = pose_jacobian + row * pose_size;
            p[0] = -by[0];
            p[1] = -by[1];
            p[2] = part == 0 ? -1.0 : 0.0;
            if (has_height_) p[3] = -by[2];
        }
        if (mark_jacobian) std::copy_n(by.data(), mark_size, mark_jacobian + row * mark_size);
        ++row;
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
