#include "adjust/problem.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

namespace layproof::adjust {
namespace {

constexpr int kLimit = Problem::kMaxObservationSize;
using PackedSquare = std::array<double, static_cast<std::size_t>(kLimit) * kLimit>;

// A covariance put together from products is symmetric only within rounding.
constexpr double kAsymmetry = 1e-9;
// A pivot below this share of its diagonal is rounding: a correlation of one.
constexpr double kSmallestPivot = 1e-14;

bool is_symmetric_and_finite(const Eigen::Ref<const Eigen::MatrixXd>& q) {
    for (Eigen::Index i = 0; i < q.rows(); ++i) {
        if (!std::isfinite(q(i, i)) || q(i, i) <= 0.0) return false;
        for (Eigen::Index j = 0; j < i; ++j) {
            const double scale = std::sqrt(q(i, i)) * std::sqrt(q(j, j));
            if (!(std::abs(q(i, j) - q(j, i)) <= kAsymmetry * scale)) return false;
        }
    }
    return true;
}

// Fills `inverse` (row-major, size × size) with L⁻¹ of Q = L Lᵀ. False if Q is not positive
// definite.
bool invert_factor(const Eigen::Ref<const Eigen::MatrixXd>& q, int size, PackedSquare& inverse) {
    PackedSquare lower{};
    const auto at = [size](int i, int j) { return static_cast<std::size_t>(i * size + j); };
    for (int i = 0; i < size; ++i) {
        for (int j = 0; j <= i; ++j) {
            double sum = 0.5 * (q(i, j) + q(j, i));
            for (int k = 0; k < j; ++k) sum -= lower[at(i, k)] * lower[at(j, k)];
            if (i == j) {
                if (!(sum > kSmallestPivot * q(i, i))) return false;
                lower[at(i, i)] = std::sqrt(sum);
            } else {
                lower[at(i, j)] = sum / lower[at(j, j)];
            }
        }
    }
    for (int i = 0; i < size; ++i) {
        const double pivot = 1.0 / lower[at(i, i)];
        if (!std::isfinite(pivot)) return false;
        for (int j = 0; j < i; ++j) {
            double sum = 0.0;
            for (int k = j; k < i; ++k) sum -= lower[at(i, k)] * inverse[at(k, j)];
            inverse[at(i, j)] = sum * pivot;
        }
        inverse[at(i, i)] = pivot;
    }
    return true;
}

class DirectObservation final : public ObservationFunction {
public:
    explicit DirectObservation(std::span<const double> value) : size_(value.size()) {
        std::copy(value.begin(), value.end(), value_.begin());
    }

    void evaluate(std::span<const double* const> blocks, double* residual,
                  double* const* jacobians) const override {
        for (std::size_t i = 0; i < size_; ++i) residual[i] = blocks[0][i] - value_[i];
        if (jacobians == nullptr || jacobians[0] == nullptr) return;
        std::fill_n(jacobians[0], size_ * size_, 0.0);
        for (std::size_t i = 0; i < size_; ++i) jacobians[0][i * size_ + i] = 1.0;
    }

private:
    std::size_t size_;
    std::array<double, kLimit> value_{};
};

}  // namespace

bool Problem::is_known(ParameterId id) const {
    return id.index >= 0 && id.index < static_cast<int>(parameters_.size());
}

ParameterId Problem::add_parameter(std::span<const double> start) {
    if (start.empty() || start.size() > kMaxParameterSize) return {};
    parameters_.push_back(
        {static_cast<int>(values_.size()), static_cast<int>(start.size()), false});
    values_.insert(values_.end(), start.begin(), start.end());
    return {static_cast<int>(parameters_.size()) - 1};
}

void Problem::hold(ParameterId id) {
    if (is_known(id)) parameters_[static_cast<std::size_t>(id.index)].held = true;
}

int Problem::add_observation(std::unique_ptr<const ObservationFunction> function,
                             std::span<const ParameterId> blocks,
                             const Eigen::Ref<const Eigen::MatrixXd>& covariance) {
    const Eigen::Index rows = covariance.rows();
    if (!function || rows < 1 || rows > kMaxObservationSize || rows != covariance.cols()) return -1;
    if (blocks.empty() || blocks.size() > kMaxBlocksPerObservation) return -1;
    for (std::size_t k = 0; k < blocks.size(); ++k) {
        if (!is_known(blocks[k])) return -1;
        if (std::find(blocks.begin(), blocks.begin() + static_cast<std::ptrdiff_t>(k), blocks[k]) !=
            blocks.begin() + static_cast<std::ptrdiff_t>(k))
            return -1;
    }
    const int size = static_cast<int>(rows);
    PackedSquare factor{};
    if (!is_symmetric_and_finite(covariance) || !invert_factor(covariance, size, factor)) return -1;

    ObservationBlock block;
    block.function = function.get();
    block.size = size;
    block.first_row = rows_;
    block.block_begin = static_cast<int>(block_list_.size());
    block.block_count = static_cast<int>(blocks.size());
    block.factor_begin = static_cast<int>(factors_.size());
    functions_.push_back(std::move(function));
    for (const ParameterId id : blocks) block_list_.push_back(id.index);
    factors_.insert(factors_.end(), factor.begin(), factor.begin() + size * size);
    observations_.push_back(block);
    rows_ += size;
    return static_cast<int>(observations_.size()) - 1;
}

int Problem::observe_directly(ParameterId id, std::span<const double> value,
                              const Eigen::Ref<const Eigen::MatrixXd>& covariance) {
    if (!is_known(id) || value.size() > kMaxObservationSize) return -1;
    const auto size =
        static_cast<std::size_t>(parameters_[static_cast<std::size_t>(id.index)].size);
    if (value.size() != size || covariance.rows() != static_cast<Eigen::Index>(size)) return -1;
    return add_observation(std::make_unique<DirectObservation>(value), std::span(&id, 1),
                           covariance);
}

void Problem::set_inner_datum(std::vector<ParameterId> blocks) {
    std::erase_if(blocks, [this](ParameterId id) { return !is_known(id); });
    inner_datum_ = std::move(blocks);
}

std::span<const double> Problem::value(ParameterId id) const {
    if (!is_known(id)) return {};
    const ParameterBlock& block = parameters_[static_cast<std::size_t>(id.index)];
    return {values_.data() + block.offset, static_cast<std::size_t>(block.size)};
}

int Problem::unknown_count() const {
    int count = 0;
    for (const ParameterBlock& block : parameters_) {
        if (!block.held) count += block.size;
    }
    return count;
}

}  // namespace layproof::adjust
