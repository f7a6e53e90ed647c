#include <algorithm>
#include <array>

#include "network/site_network_internal.hpp"
#include "station/observations.hpp"

namespace layproof::network::internal {

void SightBatch::evaluate(const adjust::Chunk& chunk) const {
    const int width = chunk.width;
    for (int i = 0; i < chunk.count; ++i) {
        const One& one = sights_[static_cast<std::size_t>(chunk.first + i)];
        const int* at = chunk.offsets + static_cast<std::ptrdiff_t>(i) * chunk.blocks;
        const double* pose = chunk.values + at[0];
        const double* plan = chunk.values + at[1];
        const Eigen::Vector3d to(plan[0] - pose[0], plan[1] - pose[1],
                                 with_height_ ? chunk.values[at[3]] - chunk.values[at[2]] : 0.0);
        const station::SightPartials partials =
            station::sight_partials(one.sight, scale_, one.bend, with_height_, to, pose[2]);
        const std::ptrdiff_t first = static_cast<std::ptrdiff_t>(i) * one.sight.size();
        double* residual = chunk.residual + first;
        double* row = chunk.jacobian == nullptr ? nullptr : chunk.jacobian + first * width;
        for (const int part : station::parts_of(one.sight)) {
            const auto p = static_cast<std::size_t>(part);
            *residual++ = partials.residual[p];
            if (row == nullptr) continue;
            const std::array<double, 3>& by = partials.by_target[p];
            row[0] = -by[0];
            row[1] = -by[1];
            row[2] = part == 0 ? -1.0 : 0.0;
            row[3] = by[0];
            row[4] = by[1];
            if (with_height_) {
                row[5] = -by[2];
                row[6] = by[2];
            }
            row += width;
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
        const double rise = is_slope_ ? chunk.values[at[3]] - chunk.values[at[2]] : 0.0;
        const station::TapePartials tape =
            station::tape_partials(to[0] - from[0], to[1] - from[1], rise, scale_);
        chunk.residual[i] = tape.length_m - values_[static_cast<std::size_t>(chunk.first + i)];
        if (chunk.jacobian == nullptr) continue;
        double* row = chunk.jacobian + static_cast<std::ptrdiff_t>(i) * chunk.width;
        row[0] = -tape.by_end[0];
        row[1] = -tape.by_end[1];
        row[2] = tape.by_end[0];
        row[3] = tape.by_end[1];
        if (is_slope_) {
            row[4] = -tape.by_end[2];
            row[5] = tape.by_end[2];
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
