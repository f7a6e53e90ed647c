#include <algorithm>
#include <cmath>

#include "measure/angle.hpp"
#include "network/site_network_internal.hpp"

namespace layproof::network::internal {

void SightBatch::evaluate(const adjust::Chunk& chunk) const {
    const int width = chunk.width;
    for (int i = 0; i < chunk.count; ++i) {
        const One& one = sights_[static_cast<std::size_t>(chunk.first + i)];
        const measure::ReducedSight& sight = one.sight;
        const int* at = chunk.offsets + static_cast<std::ptrdiff_t>(i) * chunk.blocks;
        const double* pose = chunk.values + at[0];
        const double* plan_of = chunk.values + at[1];
        const double east = plan_of[0] - pose[0];
        const double north = plan_of[1] - pose[1];
        const double plan_square = east * east + north * north;
        const double plan = std::sqrt(plan_square);
        const double ground = plan / scale_;
        double rise = 0.0;
        if (with_height_)
            rise = chunk.values[at[3]] - chunk.values[at[2]] + sight.target_height_m -
                   one.bend * ground * ground;
        const double slope_square = ground * ground + rise * rise;
        const double slope = std::sqrt(slope_square);
        const double to_ground = plan > 0.0 ? 1.0 / (plan * scale_) : 0.0;
        const double by_east = east * to_ground;
        const double by_north = north * to_ground;
        const double rise_by_ground = with_height_ ? -2.0 * one.bend * ground : 0.0;
        const int rows = sight.size();
        double* residual = chunk.residual + static_cast<std::ptrdiff_t>(i) * rows;
        double* row = chunk.jacobian == nullptr
                          ? nullptr
                          : chunk.jacobian + static_cast<std::ptrdiff_t>(i) * rows * width;
        // The pose's place has the negative derivatives of the point's.
        const auto fill = [&](double e, double n, double turn, double h) {
            if (row == nullptr) return;
            row[0] = -e;
            row[1] = -n;
            row[2] = turn;
            row[3] = e;
            row[4] = n;
            if (with_height_) {
                row[5] = -h;
                row[6] = h;
            }
            row += width;
        };
        if (sight.has_direction) {
            *residual++ = measure::wrap_pi(std::atan2(east, north) - pose[2] - sight.direction_rad);
            const double inverse = plan_square > 0.0 ? 1.0 / plan_square : 0.0;
            fill(north * inverse, -east * inverse, -1.0, 0.0);
        }
        if (sight.has_zenith) {
            *residual++ = std::atan2(ground, rise) - sight.zenith_rad;
            const double inverse = slope_square > 0.0 ? 1.0 / slope_square : 0.0;
            const double by_ground = (rise - ground * rise_by_ground) * inverse;
            fill(by_ground * by_east, by_ground * by_north, 0.0, -ground * inverse);
        }
        if (sight.has_distance && sight.distance_is_horizontal) {
            *residual++ = ground - sight.distance_m;
            fill(by_east, by_north, 0.0, 0.0);
        } else if (sight.has_distance) {
            *residual++ = slope - sight.distance_m;
            const double inverse = slope > 0.0 ? 1.0 / slope : 0.0;
            const double by_ground = (ground + rise * rise_by_ground) * inverse;
            fill(by_ground * by_east, by_ground * by_north, 0.0, rise * inverse);
        }
    }
}

void DifferenceBatch::evaluate(const adjust::Chunk& chunk) const {
    for (int i = 0; i < chunk.count; ++i) {
        const int* at = chunk.offsets + static_cast<std::ptrdiff_t>(i) * chunk.blocks;
        double* residual = chunk.residual + static_cast<std::ptrdiff_t>(i) * rows_;
        for (int r = 0; r < rows_; ++r)
            residual[r] = chunk.values[at[0] + r] - chunk.values[at[1] + r] -
                          values_[static_cast<std::size_t>((chunk.first + i) * rows_ + r)];
        if (chunk.jacobian == nullptr) continue;
        double* jacobian = chunk.jacobian + static_cast<std::ptrdiff_t>(i) * rows_ * chunk.width;
        std::fill_n(jacobian, rows_ * chunk.width, 0.0);
        for (int r = 0; r < rows_; ++r) {
            jacobian[r * chunk.width + r] = 1.0;
            jacobian[r * chunk.width + first_ + r] = -1.0;
        }
    }
}

void TapeBatch::evaluate(const adjust::Chunk& chunk) const {
    for (int i = 0; i < chunk.count; ++i) {
        const int* at = chunk.offsets + static_cast<std::ptrdiff_t>(i) * chunk.blocks;
        const double* from = chunk.values + at[0];
        const double* to = chunk.values + at[1];
        const double east = to[0] - from[0];
        const double north = to[1] - from[1];
        const double plan = std::hypot(east, north);
        const double ground = plan / scale_;
        const double rise = is_slope_ ? chunk.values[at[3]] - chunk.values[at[2]] : 0.0;
        const double length = std::hypot(ground, rise);
        chunk.residual[i] = length - values_[static_cast<std::size_t>(chunk.first + i)];
        if (chunk.jacobian == nullptr) continue;
        double* row = chunk.jacobian + static_cast<std::ptrdiff_t>(i) * chunk.width;
        const double by = plan > 0.0 && length > 0.0 ? ground / length / (plan * scale_) : 0.0;
        row[0] = -east * by;
        row[1] = -north * by;
        row[2] = east * by;
        row[3] = north * by;
        if (is_slope_) {
            const double by_rise = length > 0.0 ? rise / length : 0.0;
            row[4] = -by_rise;
            row[5] = by_rise;
        }
    }
}

Eigen::MatrixXd whitener_of(const NetworkForm& form, adjust::ObservationId id) {
    const auto& batch = form.problem.batches()[static_cast<std::size_t>(id.batch)];
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(batch.rows, batch.rows);
    const double* packed =
        batch.factors.data() + static_cast<std::ptrdiff_t>(id.index) * batch.factor_size();
    for (int r = 0; r < batch.rows; ++r)
        for (int c = 0; c <= r; ++c) out(r, c) = *packed++;
    return out;
}

Eigen::VectorXd residual_of(const NetworkForm& form, adjust::ObservationId id) {
    const int rows = form.problem.batches()[static_cast<std::size_t>(id.batch)].rows;
    const auto all = form.analysis->residual(id.batch);
    return Eigen::Map<const Eigen::VectorXd>(
        all.data() + static_cast<std::ptrdiff_t>(id.index) * rows, rows);
}

Eigen::VectorXd weighted_residual(const NetworkForm& form, adjust::ObservationId id) {
    const Eigen::MatrixXd whitener = whitener_of(form, id);
    return whitener.transpose() * (whitener * residual_of(form, id));
}

Eigen::MatrixXd jacobian_of(const NetworkForm& form, adjust::ObservationId id,
                            std::vector<adjust::ParameterId>& blocks) {
    const auto& batch = form.problem.batches()[static_cast<std::size_t>(id.batch)];
    const int count = batch.block_count();
    std::vector<double> residual(static_cast<std::size_t>(batch.rows));
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor> jacobian =
        Eigen::MatrixXd::Zero(batch.rows, batch.width);
    adjust::Chunk chunk;
    chunk.first = id.index;
    chunk.count = 1;
    chunk.blocks = count;
    chunk.width = batch.width;
    chunk.values = form.problem.values().data();
    chunk.offsets = batch.offsets.data() + static_cast<std::ptrdiff_t>(id.index) * count;
    chunk.residual = residual.data();
    chunk.jacobian = jacobian.data();
    batch.function->evaluate(chunk);
    blocks.clear();
    for (int b = 0; b < count; ++b)
        blocks.push_back({batch.parameters[static_cast<std::size_t>(id.index * count + b)]});
    return jacobian;
}

}  // namespace layproof::network::internal
