#include "adjust/sparse_problem.hpp"

#include <algorithm>
#include <cmath>

namespace layproof::adjust {
namespace {

constexpr int kRowLimit = SparseProblem::kMaxRows;
// As in Problem: a covariance put together from products is symmetric only within rounding, and a
// pivot below this share of its diagonal is a correlation of one.
constexpr double kBatchAsymmetry = 1e-9;
constexpr double kBatchSmallestPivot = 1e-14;

std::size_t packed(int i, int j) {
    return static_cast<std::size_t>(i * (i + 1) / 2 + j);
}

// Packed L⁻¹ of Q = LLᵀ (row-major `q`). False if Q is not symmetric positive definite.
bool whitening_factor(const double* q, int size, double* inverse) {
    std::array<double, std::size_t{kRowLimit} * (kRowLimit + 1) / 2> lower{};
    for (int i = 0; i < size; ++i) {
        const double diagonal = q[i * size + i];
        if (!std::isfinite(diagonal) || diagonal <= 0.0) return false;
        for (int j = 0; j <= i; ++j) {
            const double a = q[i * size + j];
            const double b = q[j * size + i];
            const double scale = std::sqrt(diagonal) * std::sqrt(q[j * size + j]);
            if (!(std::abs(a - b) <= kBatchAsymmetry * scale)) return false;
            double sum = 0.5 * (a + b);
            for (int k = 0; k < j; ++k) sum -= lower[packed(i, k)] * lower[packed(j, k)];
            if (i != j) {
                lower[packed(i, j)] = sum / lower[packed(j, j)];
            } else {
                if (!(sum > kBatchSmallestPivot * diagonal)) return false;
                lower[packed(i, i)] = std::sqrt(sum);
            }
        }
    }
    for (int i = 0; i < size; ++i) {
        const double pivot = 1.0 / lower[packed(i, i)];
        if (!std::isfinite(pivot)) return false;
        for (int j = 0; j < i; ++j) {
            double sum = 0.0;
            for (int k = j; k < i; ++k) sum -= lower[packed(i, k)] * inverse[packed(k, j)];
            inverse[packed(i, j)] = sum * pivot;
        }
        inverse[packed(i, i)] = pivot;
    }
    return true;
}

bool is_shape_taken(const BatchShape& shape) {
    if (shape.rows < 1 || shape.rows > kRowLimit) return false;
    if (shape.sizes.empty() || shape.sizes.size() > SparseProblem::kMaxBlocks) return false;
    return std::all_of(shape.sizes.begin(), shape.sizes.end(),
                       [](int size) { return size >= 1 && size <= SparseProblem::kMaxSize; });
}

bool is_named_twice(std::span<const ParameterId> blocks) {
    for (std::size_t i = 1; i < blocks.size(); ++i) {
        for (std::size_t j = 0; j < i; ++j) {
            if (blocks[i] == blocks[j]) return true;
        }
    }
    return false;
}

}  // namespace

// Grows while the problem is put together.
class SparseProblem::DirectValues final : public BatchFunction {
public:
    void append(std::span<const double> value) {
        observed_.insert(observed_.end(), value.begin(), value.end());
    }

    void evaluate(const Chunk& chunk) const override {
        const int size = chunk.width;
        const double* observed = observed_.data() + static_cast<std::ptrdiff_t>(chunk.first) * size;
        for (int i = 0; i < chunk.count; ++i) {
            const double* x = chunk.values + chunk.offsets[i];
            for (int k = 0; k < size; ++k)
                chunk.residual[i * size + k] = x[k] - observed[i * size + k];
        }
        if (chunk.jacobian == nullptr) return;
        std::fill_n(chunk.jacobian, chunk.count * size * size, 0.0);
        for (int i = 0; i < chunk.count; ++i) {
            for (int k = 0; k < size; ++k) chunk.jacobian[(i * size + k) * size + k] = 1.0;
        }
    }

private:
    std::vector<double> observed_;
};

SparseProblem::SparseProblem() {
    direct_batch_.fill(-1);
}
SparseProblem::~SparseProblem() = default;
SparseProblem::SparseProblem(SparseProblem&&) noexcept = default;
SparseProblem& SparseProblem::operator=(SparseProblem&&) noexcept = default;

ParameterId SparseProblem::add_parameter(std::span<const double> start) {
    if (start.empty() || start.size() > kMaxSize) return {};
    parameters_.push_back(
        {static_cast<int>(values_.size()), static_cast<int>(start.size()), false});
    values_.insert(values_.end(), start.begin(), start.end());
    return {static_cast<int>(parameters_.size()) - 1};
}

bool SparseProblem::is_known(ParameterId id) const {
    return id.index >= 0 && id.index < static_cast<int>(parameters_.size());
}

bool SparseProblem::is_known(ObservationId id) const {
    return id.batch >= 0 && id.batch < static_cast<int>(batches_.size()) && id.index >= 0 &&
           id.index < batches_[static_cast<std::size_t>(id.batch)].count;
}

void SparseProblem::hold(ParameterId id, bool held) {
    if (is_known(id)) parameters_[static_cast<std::size_t>(id.index)].held = held;
}

SparseProblem::Added SparseProblem::add(const BatchShape& shape,
                                        std::unique_ptr<const BatchFunction> function,
                                        std::span<const ParameterId> blocks,
                                        std::span<const double> spread, bool are_sds) {
    if (!function || !is_shape_taken(shape)) return {};
    const std::size_t names = shape.sizes.size();
    const auto rows = static_cast<std::size_t>(shape.rows);
    const std::size_t count = blocks.size() / names;
    const std::size_t numbers = are_sds ? rows : rows * rows;
    if (blocks.size() != count * names || spread.size() != count * numbers) return {};

    Batch batch;
    batch.rows = shape.rows;
    batch.sizes = shape.sizes;
    batch.count = static_cast<int>(count);
    for (const int size : shape.sizes) {
        batch.columns.push_back(batch.width);
        batch.width += size;
    }
    const auto factor_size = static_cast<std::size_t>(batch.factor_size());
    batch.parameters.resize(count * names);
    batch.offsets.resize(count * names);
    batch.factors.resize(count * factor_size);
    batch.weights.assign(count, 1.0);
    for (std::size_t i = 0; i < count; ++i) {
        const auto own = blocks.subspan(i * names, names);
        const Added refused{-1, static_cast<int>(i)};
        if (is_named_twice(own)) return refused;
        for (std::size_t b = 0; b < names; ++b) {
            if (!is_known(own[b])) return refused;
            const ParameterBlock& parameter = parameters_[static_cast<std::size_t>(own[b].index)];
            if (parameter.size != shape.sizes[b]) return refused;
            batch.parameters[i * names + b] = own[b].index;
            batch.offsets[i * names + b] = parameter.offset;
        }
        double* factor = batch.factors.data() + i * factor_size;
        if (!are_sds) {
            if (!whitening_factor(spread.data() + i * numbers, shape.rows, factor)) return refused;
            continue;
        }
        for (int r = 0; r < shape.rows; ++r) {
            const double sd = spread[i * rows + static_cast<std::size_t>(r)];
            if (!(sd > 0.0) || !std::isfinite(sd) || !std::isfinite(1.0 / (sd * sd)))
                return refused;
            factor[packed(r, r)] = 1.0 / sd;
        }
    }
    batch.function = std::move(function);
    batches_.push_back(std::move(batch));
    return {static_cast<int>(batches_.size()) - 1, -1};
}

SparseProblem::Added SparseProblem::add_batch(const BatchShape& shape,
                                              std::unique_ptr<const BatchFunction> function,
                                              std::span<const ParameterId> blocks,
                                              std::span<const double> covariances) {
    return add(shape, std::move(function), blocks, covariances, false);
}

SparseProblem::Added SparseProblem::add_batch_with_sds(
    const BatchShape& shape, std::unique_ptr<const BatchFunction> function,
    std::span<const ParameterId> blocks, std::span<const double> sds) {
    return add(shape, std::move(function), blocks, sds, true);
}

ObservationId SparseProblem::observe_directly(ParameterId id, std::span<const double> value,
                                              const Eigen::Ref<const Eigen::MatrixXd>& covariance) {
    if (!is_known(id)) return {};
    const ParameterBlock& parameter = parameters_[static_cast<std::size_t>(id.index)];
    const auto size = static_cast<std::size_t>(parameter.size);
    const auto side = static_cast<Eigen::Index>(size);
    if (value.size() != size || covariance.rows() != side || covariance.cols() != side) return {};
    std::array<double, std::size_t{kMaxRows} * kMaxRows> square{};
    for (Eigen::Index i = 0; i < side; ++i) {
        for (Eigen::Index j = 0; j < side; ++j)
            square[static_cast<std::size_t>(i * side + j)] = covariance(i, j);
    }
    std::array<double, std::size_t{kMaxRows} * (kMaxRows + 1) / 2> factor{};
    if (!whitening_factor(square.data(), parameter.size, factor.data())) return {};

    if (direct_batch_[size] < 0) {
        auto function = std::make_unique<DirectValues>();
        DirectValues* values = function.get();
        const Added added =
            add({parameter.size, {parameter.size}}, std::move(function), {}, {}, false);
        direct_batch_[size] = added.batch;
        direct_[size] = values;
    }
    direct_[size]->append(value);
    Batch& batch = batches_[static_cast<std::size_t>(direct_batch_[size])];
    batch.parameters.push_back(id.index);
    batch.offsets.push_back(parameter.offset);
    batch.factors.insert(batch.factors.end(), factor.begin(), factor.begin() + batch.factor_size());
    batch.weights.push_back(1.0);
    return {direct_batch_[size], batch.count++};
}

void SparseProblem::set_weight(ObservationId id, double weight) {
    if (!is_known(id) || !std::isfinite(weight) || weight < 0.0) return;
    double& own =
        batches_[static_cast<std::size_t>(id.batch)].weights[static_cast<std::size_t>(id.index)];
    if (own == weight) return;
    own = weight;
    ++weight_revision_;
}

double SparseProblem::weight(ObservationId id) const {
    if (!is_known(id)) return 0.0;
    return batches_[static_cast<std::size_t>(id.batch)].weights[static_cast<std::size_t>(id.index)];
}

void SparseProblem::set_inner_datum(std::vector<ParameterId> blocks) {
    std::erase_if(blocks, [this](ParameterId id) { return !is_known(id); });
    inner_datum_ = std::move(blocks);
}

std::span<const double> SparseProblem::value(ParameterId id) const {
    if (!is_known(id)) return {};
    const ParameterBlock& block = parameters_[static_cast<std::size_t>(id.index)];
    return {values_.data() + block.offset, static_cast<std::size_t>(block.size)};
}

int SparseProblem::observation_count() const {
    int rows = 0;
    for (const Batch& batch : batches_) {
        const auto used = std::count_if(batch.weights.begin(), batch.weights.end(),
                                        [](double weight) { return weight > 0.0; });
        rows += batch.rows * static_cast<int>(used);
    }
    return rows;
}

int SparseProblem::unknown_count() const {
    int count = 0;
    for (const ParameterBlock& block : parameters_) {
        if (!block.held) count += block.size;
    }
    return count;
}

}  // namespace layproof::adjust
