#include "station/observations.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::station {
namespace {

std::size_t index_at(int i) {
    return static_cast<std::size_t>(i);
}

}  // namespace

Eigen::Matrix3d covariance_of(const measure::ReducedSight& sight,
                              const measure::Instrument& instrument, double ground_m) {
    if (sight.has_distance || !std::isfinite(ground_m)) return sight.covariance;
    // Given as a horizontal distance: the direction's part is then exact however steep the sight.
    const double rounds = std::max(sight.rounds, 1);
    const double share = std::max(sight.pointings, 1) / rounds;
    return measure::sight_covariance(instrument, std::max(ground_m, kNearest_m),
                                     sight.has_zenith ? sight.zenith_rad : 0.5 * measure::kPi,
                                     sight.target_height_m, true, share, share) /
           rounds;
}

Eigen::MatrixXd present_covariance(const measure::ReducedSight& sight) {
    const SightParts parts = parts_of(sight);
    Eigen::MatrixXd out(parts.count, parts.count);
    for (int i = 0; i < parts.count; ++i) {
        for (int j = 0; j < parts.count; ++j)
            out(i, j) = sight.covariance(parts.part[index_at(i)], parts.part[index_at(j)]);
        out(i, i) = std::max(out(i, i), kLeastVariance);
    }
    return out;
}

measure::ReducedSight level_part(const measure::ReducedSight& sight) {
    measure::ReducedSight out = sight;
    out.has_zenith = false;
    if (!sight.has_distance) return out;
    if (!sight.distance_is_horizontal && sight.has_zenith) {
        Eigen::Matrix3d by = Eigen::Matrix3d::Identity();
        by(2, 1) = sight.distance_m * std::cos(sight.zenith_rad);
        by(2, 2) = std::sin(sight.zenith_rad);
        out.distance_m = sight.distance_m * std::sin(sight.zenith_rad);
        out.covariance = by * sight.covariance * by.transpose();
    }
    out.distance_is_horizontal = true;
    return out;
}

double ground_distance(const measure::ReducedSight& sight) {
    if (!sight.has_distance) return 0.0;
    const bool is_slope = !sight.distance_is_horizontal && sight.has_zenith;
    return is_slope ? sight.distance_m * std::sin(sight.zenith_rad) : sight.distance_m;
}

void SightFunction::evaluate(std::span<const double* const> blocks, double* residual,
                             double* const* jacobians) const {
    const double* pose = blocks[0];
    const double* mark = blocks[1];
    double rise = 0.0;
    if (has_height_) rise = is_split_ ? blocks[3][0] - blocks[2][0] : mark[2] - pose[3];
    const Eigen::Vector3d to(mark[0] - pose[0], mark[1] - pose[1], rise);
    const SightPartials partials = sight_partials(sight_, scale_, bend_, has_height_, to, pose[2]);
    const bool has_split_heights = is_split_ && has_height_;
    const bool has_joint_heights = !is_split_ && has_height_;
    const int pose_size = has_joint_heights ? 4 : 3;
    const int mark_size = has_joint_heights ? 3 : 2;
    double* const by_pose = jacobians != nullptr ? jacobians[0] : nullptr;
    double* const by_mark = jacobians != nullptr ? jacobians[1] : nullptr;
    double* const by_axes = jacobians != nullptr && has_split_heights ? jacobians[2] : nullptr;
    double* const by_height = jacobians != nullptr && has_split_heights ? jacobians[3] : nullptr;
    int row = 0;
    for (const int part : parts_of(sight_)) {
        const std::array<double, 3>& by = partials.by_target[index_at(part)];
        residual[row] = partials.residual[index_at(part)];
        if (by_pose != nullptr) {
            double* const p = by_pose + row * pose_size;
            p[0] = -by[0];
            p[1] = -by[1];
            p[2] = part == 0 ? -1.0 : 0.0;
            if (has_joint_heights) p[3] = -by[2];
        }
        if (by_mark != nullptr) std::copy_n(by.data(), mark_size, by_mark + row * mark_size);
        if (by_axes != nullptr) by_axes[row] = -by[2];
        if (by_height != nullptr) by_height[row] = by[2];
        ++row;
    }
}

DifferenceFunction::DifferenceFunction(std::span<const double> value, int first_size,
                                       int second_size)
    : count_(static_cast<int>(value.size())), first_size_(first_size), second_size_(second_size) {
    std::copy(value.begin(), value.end(), value_.begin());
}

DifferenceFunction::DifferenceFunction(std::span<const double> value, std::span<const int> numbers,
                                       int first_size, int second_size)
    : DifferenceFunction(value, first_size, second_size) {
    std::copy(numbers.begin(), numbers.end(), number_.begin());
}

void DifferenceFunction::evaluate(std::span<const double* const> blocks, double* residual,
                                  double* const* jacobians) const {
    for (int i = 0; i < count_; ++i)
        residual[i] = blocks[0][number_[index_at(i)]] - blocks[1][i] - value_[index_at(i)];
    if (jacobians == nullptr) return;
    if (jacobians[0] != nullptr) {
        std::fill_n(jacobians[0], count_ * first_size_, 0.0);
        for (int i = 0; i < count_; ++i) jacobians[0][i * first_size_ + number_[index_at(i)]] = 1.0;
    }
    if (jacobians[1] != nullptr) {
        std::fill_n(jacobians[1], count_ * second_size_, 0.0);
        for (int i = 0; i < count_; ++i) jacobians[1][i * second_size_ + i] = -1.0;
    }
}

std::unique_ptr<DifferenceFunction> over_mark(double instrument_height_m, bool with_height,
                                              int pose_size) {
    constexpr std::array kNumbers{0, 1, 3};
    const std::array value{0.0, 0.0, instrument_height_m};
    const std::size_t count = with_height ? 3 : 2;
    return std::make_unique<DifferenceFunction>(
        std::span(value).first(count), std::span(kNumbers).first(count), pose_size, pose_size - 1);
}

Eigen::Vector3d over_mark_sd_m(const measure::Instrument& instrument) {
    return Eigen::Vector3d(instrument.instrument_centring_m, instrument.instrument_centring_m,
                           instrument.height_tape_m)
        .cwiseMax(kHeldSd_m);
}

void TapeFunction::evaluate(std::span<const double* const> blocks, double* residual,
                            double* const* jacobians) const {
    const double rise = is_slope_ ? blocks[3][0] - blocks[2][0] : 0.0;
    const TapePartials tape =
        tape_partials(blocks[1][0] - blocks[0][0], blocks[1][1] - blocks[0][1], rise, scale_);
    residual[0] = tape.length_m - value_m_;
    if (jacobians == nullptr) return;
    for (const std::size_t end : {0U, 1U}) {
        const double sign = end == 0 ? -1.0 : 1.0;
        if (double* const plan = jacobians[end]) {
            plan[0] = sign * tape.by_end[0];
            plan[1] = sign * tape.by_end[1];
        }
        if (is_slope_ && jacobians[2 + end] != nullptr)
            jacobians[2 + end][0] = sign * tape.by_end[2];
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
    for (int i = 0; i < count_; ++i)
        residual[i] = blocks[0][components_[index_at(i)]] - given_[index_at(i)];
    if (jacobians == nullptr || jacobians[0] == nullptr) return;
    std::fill_n(jacobians[0], count_ * block_size_, 0.0);
    for (int i = 0; i < count_; ++i) jacobians[0][i * block_size_ + components_[index_at(i)]] = 1.0;
}

}  // namespace layproof::station
