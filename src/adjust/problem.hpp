#pragma once
// A weighted least-squares problem: blocks of unknowns, blocks of observations, a datum.
//
// Model: observations l with covariance Q (block diagonal), functions f(x), residuals v = f(x) − l
// (adjusted minus observed), minimise vᵀQ⁻¹v. Observation blocks are independent of each other;
// inside a block any covariance. Blocks touch few unknowns, so that the same description serves the
// dense solver for one small problem and a sparse one for a million blocks: nothing here stores a
// full matrix.
//
// Each unknown is counted once; a parameter block may be held (its values are then constants). The
// datum comes from held blocks, from weighted blocks (observe_directly) or from inner constraints.

#include <Eigen/Core>
#include <memory>
#include <span>
#include <vector>

namespace layproof::adjust {

/// Index of a parameter block inside its Problem.
struct ParameterId {
    int index = -1;
    friend bool operator==(const ParameterId&, const ParameterId&) = default;
};

/// One block of observations. Implementations are immutable and thread-safe.
class ObservationFunction {
public:
    ObservationFunction() = default;
    ObservationFunction(const ObservationFunction&) = delete;
    ObservationFunction& operator=(const ObservationFunction&) = delete;
    virtual ~ObservationFunction() = default;

    /// residual = f(x) − l, `size` numbers (angles already wrapped).
    /// blocks[k]: values of the k-th parameter block. jacobians: null, or one pointer per block,
    /// each null or to a row-major size × block-size array to be filled with ∂f/∂x_k.
    virtual void evaluate(std::span<const double* const> blocks, double* residual,
                          double* const* jacobians) const = 0;
};

class Problem {
public:
    /// Largest observation block and largest number of parameter blocks one block may touch.
    static constexpr int kMaxObservationSize = 8;
    static constexpr int kMaxBlocksPerObservation = 6;
    static constexpr int kMaxParameterSize = 16;

    /// 1 to kMaxParameterSize numbers; any other size adds nothing and returns index −1.
    ParameterId add_parameter(std::span<const double> start);
    /// Values stay as they are.
    void hold(ParameterId id);

    /// `covariance` is size × size, symmetric positive definite. Returns the observation block's
    /// index, or −1, and then nothing is added: the covariance is not square, finite, symmetric
    /// within rounding and positive definite; the block is larger than the limits above; there is
    /// no function; a parameter block is unknown or named twice. Values are not looked at: solve()
    /// says not_finite.
    int add_observation(std::unique_ptr<const ObservationFunction> function,
                        std::span<const ParameterId> blocks,
                        const Eigen::Ref<const Eigen::MatrixXd>& covariance);

    /// A weighted block: its values are observed as `value` with `covariance`. −1 as above, also if
    /// the sizes differ.
    int observe_directly(ParameterId id, std::span<const double> value,
                         const Eigen::Ref<const Eigen::MatrixXd>& covariance);

    /// Inner constraints: the datum defect is removed so that the corrections of these blocks have
    /// the smallest sum of squares (all unknowns of the blocks take part; the correction is counted
    /// from the values at the start of solve()). The defect itself is found by the solver. Unknown
    /// ids are left out; an empty list takes the inner datum away.
    void set_inner_datum(std::vector<ParameterId> blocks);

    struct ParameterBlock {
        int offset = 0;  ///< into values()
        int size = 0;
        bool held = false;
    };
    struct ObservationBlock {
        const ObservationFunction* function = nullptr;  ///< owned by the problem
        int size = 0;
        int first_row = 0;    ///< row of its first observation in the stacked vector
        int block_begin = 0;  ///< into block_list()
        int block_count = 0;
        int factor_begin = 0;  ///< into factors(): size × size, row-major, lower L⁻¹ with Q = L Lᵀ
    };

    const std::vector<ParameterBlock>& parameters() const { return parameters_; }
    const std::vector<ObservationBlock>& observations() const { return observations_; }
    const std::vector<int>& block_list() const { return block_list_; }
    const std::vector<double>& factors() const { return factors_; }
    const std::vector<double>& values() const { return values_; }
    std::vector<double>& values() { return values_; }
    const std::vector<ParameterId>& inner_datum() const { return inner_datum_; }
    std::span<const double> value(ParameterId id) const;

    int observation_count() const { return rows_; }  ///< scalar observations
    int unknown_count() const;                       ///< scalar unknowns that are not held

private:
    bool is_known(ParameterId id) const;

    std::vector<ParameterBlock> parameters_;
    std::vector<ObservationBlock> observations_;
    std::vector<int> block_list_;
    std::vector<double> factors_;
    std::vector<double> values_;
    std::vector<ParameterId> inner_datum_;
    std::vector<std::unique_ptr<const ObservationFunction>> functions_;
    int rows_ = 0;
};

}  // namespace layproof::adjust
