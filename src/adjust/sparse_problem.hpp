#pragma once
// A weighted least-squares problem of up to a million observation blocks.
//
// Model as in problem.hpp: residuals v = f(x) − l (adjusted minus observed), minimise Σ p vᵀQ⁻¹v
// over observation blocks that are independent of each other, with any covariance Q inside a block
// and a factor p ≥ 0 for each block (1 unless set_weight() says otherwise; 0 leaves the block out).
//
// Observation blocks come in batches: all blocks of a batch have the same number of rows and touch
// parameter blocks of the same sizes, so that everything is kept in flat arrays and one virtual
// call fills residuals and derivatives of some hundreds of blocks. Parameter blocks have 1 to 3
// numbers and may be held, weighted (observe_directly) or belong to an inner datum.

#include <Eigen/Core>
#include <array>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <utility>
#include <vector>

#include "adjust/problem.hpp"

namespace layproof::adjust {

/// The shape that all observation blocks of one batch share.
struct BatchShape {
    int rows = 1;            ///< 1 to SparseProblem::kMaxRows
    std::vector<int> sizes;  ///< of the parameter blocks, in the order in which the function takes
                             ///< them; 1 to kMaxBlocks of them, each 1 to kMaxSize
};

/// Work for a BatchFunction: blocks first … first + count − 1 of its batch.
struct Chunk {
    int first = 0;
    int count = 0;
    int blocks = 0;                  ///< parameter blocks per observation block
    int width = 0;                   ///< sum of their sizes
    const double* values = nullptr;  ///< all parameter values of the problem
    const int* offsets = nullptr;  ///< count × blocks: where each parameter block begins in values
    double* residual = nullptr;    ///< out: count × rows
    /// out: null, or count × rows × width, row-major, the columns block after block: ∂f/∂x. Columns
    /// of held blocks may be filled or not.
    double* jacobian = nullptr;
};

/// Implementations are immutable and thread-safe. Angles in residuals are already wrapped.
class BatchFunction {
public:
    BatchFunction() = default;
    BatchFunction(const BatchFunction&) = delete;
    BatchFunction& operator=(const BatchFunction&) = delete;
    virtual ~BatchFunction() = default;
    virtual void evaluate(const Chunk& chunk) const = 0;
};

/// A batch from one plain struct per observation block. `Block` has
///   static constexpr int kRows;
///   static constexpr std::array<int, k> kSizes;
///   void evaluate(const double* const* x, double* residual, double* jacobian) const;
/// with x[b] the b-th parameter block and `jacobian` null or kRows × (sum of kSizes), row-major.
/// The call is compiled into the loop.
template <class Block>
class Blockwise final : public BatchFunction {
public:
    explicit Blockwise(std::vector<Block> blocks) : blocks_(std::move(blocks)) {}

    static BatchShape shape() {
        return {Block::kRows, {Block::kSizes.begin(), Block::kSizes.end()}};
    }
    const std::vector<Block>& blocks() const { return blocks_; }

    void evaluate(const Chunk& chunk) const override {
        constexpr std::size_t count = Block::kSizes.size();
        std::array<const double*, count> x{};
        const auto step = static_cast<std::ptrdiff_t>(Block::kRows) * chunk.width;
        for (int i = 0; i < chunk.count; ++i) {
            const int* offset = chunk.offsets + static_cast<std::ptrdiff_t>(i) * chunk.blocks;
            for (std::size_t b = 0; b < count; ++b) x[b] = chunk.values + offset[b];
            blocks_[static_cast<std::size_t>(chunk.first + i)].evaluate(
                x.data(), chunk.residual + static_cast<std::ptrdiff_t>(i) * Block::kRows,
                chunk.jacobian == nullptr ? nullptr : chunk.jacobian + i * step);
        }
    }

private:
    std::vector<Block> blocks_;
};

/// One observation block.
struct ObservationId {
    int batch = -1;
    int index = -1;
    friend bool operator==(const ObservationId&, const ObservationId&) = default;
};

class SparseProblem {
public:
    static constexpr int kMaxSize = 3;
    static constexpr int kMaxRows = 3;
    static constexpr int kMaxBlocks = 6;

    SparseProblem();
    ~SparseProblem();
    SparseProblem(SparseProblem&&) noexcept;
    SparseProblem& operator=(SparseProblem&&) noexcept;

    /// 1 to kMaxSize numbers; any other size adds nothing and returns index −1.
    ParameterId add_parameter(std::span<const double> start);
    /// Values stay as they are.
    void hold(ParameterId id, bool held = true);

    struct Added {
        int batch = -1;  ///< −1: nothing was added
        int bad_block =
            -1;  ///< the first observation block that could not be taken, if one is to blame
    };

    /// `blocks`: the parameter blocks of the first observation block, then of the second, and so
    /// on. `covariances`: rows × rows numbers for each, symmetric positive definite. Nothing is
    /// added if the shape is beyond the limits, there is no function, the lists do not fit each
    /// other, a parameter block is unknown, of another size or named twice in one observation
    /// block, or a covariance is not finite, symmetric within rounding and positive definite. An
    /// empty list adds an empty batch.
    Added add_batch(const BatchShape& shape, std::unique_ptr<const BatchFunction> function,
                    std::span<const ParameterId> blocks, std::span<const double> covariances);
    /// The same for uncorrelated rows: one standard deviation per row.
    Added add_batch_with_sds(const BatchShape& shape, std::unique_ptr<const BatchFunction> function,
                             std::span<const ParameterId> blocks, std::span<const double> sds);

    /// A weighted block: its values are observed as `value` with `covariance`. Index −1 if the
    /// block is unknown, sizes differ or the covariance is not positive definite.
    ObservationId observe_directly(ParameterId id, std::span<const double> value,
                                   const Eigen::Ref<const Eigen::MatrixXd>& covariance);

    /// Factor p of an observation block's Q⁻¹: 0 leaves it out. Not finite or negative: nothing
    /// changes.
    void set_weight(ObservationId id, double weight);
    double weight(ObservationId id) const;
    /// Counts changes of weights.
    std::int64_t weight_revision() const { return weight_revision_; }

    /// Inner constraints: as in Problem::set_inner_datum, for the defect that the solver finds.
    void set_inner_datum(std::vector<ParameterId> blocks);

    struct ParameterBlock {
        int offset = 0;  ///< into values()
        int size = 0;
        bool held = false;
    };
    struct Batch {
        int rows = 0;
        int width = 0;
        int count = 0;
        std::vector<int> sizes;
        std::vector<int> columns;  ///< of each parameter block in a Jacobian row
        std::unique_ptr<const BatchFunction> function;
        std::vector<int> parameters;  ///< count × sizes.size()
        std::vector<int> offsets;     ///< into values(), likewise
        std::vector<double> factors;  ///< per block the lower L⁻¹ of Q = LLᵀ, packed row after row
        std::vector<double> weights;  ///< per block
        int block_count() const { return static_cast<int>(sizes.size()); }
        int factor_size() const { return rows * (rows + 1) / 2; }
    };

    const std::vector<ParameterBlock>& parameters() const { return parameters_; }
    const std::vector<Batch>& batches() const { return batches_; }
    std::vector<double>& values() { return values_; }
    const std::vector<double>& values() const { return values_; }
    std::span<const double> value(ParameterId id) const;
    const std::vector<ParameterId>& inner_datum() const { return inner_datum_; }
    bool is_known(ParameterId id) const;
    bool is_known(ObservationId id) const;

    /// Rows of all blocks whose weight is not zero.
    int observation_count() const;
    /// Numbers of all blocks that are not held.
    int unknown_count() const;

private:
    class DirectValues;

    Added add(const BatchShape& shape, std::unique_ptr<const BatchFunction> function,
              std::span<const ParameterId> blocks, std::span<const double> spread, bool are_sds);

    std::vector<ParameterBlock> parameters_;
    std::vector<Batch> batches_;
    std::vector<double> values_;
    std::vector<ParameterId> inner_datum_;
    std::int64_t weight_revision_ = 0;
    std::array<int, kMaxSize + 1> direct_batch_{};  ///< per size; −1 if there is none yet
    std::array<DirectValues*, kMaxSize + 1> direct_{};
};

}  // namespace layproof::adjust
