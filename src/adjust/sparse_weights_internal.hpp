#pragma once
// Weights of all observation blocks, to be changed and put back. Not for other rooms.

#include <cstddef>
#include <vector>

#include "adjust/sparse_problem.hpp"

namespace layproof::adjust::internal {

class KeptWeights {
public:
    explicit KeptWeights(const SparseProblem& problem) {
        for (const auto& batch : problem.batches()) weights_.push_back(batch.weights);
    }
    const std::vector<std::vector<double>>& weights() const { return weights_; }
    double weight(std::size_t batch, int index) const {
        return weights_[batch][static_cast<std::size_t>(index)];
    }
    void restore(SparseProblem& problem) const {
        for (std::size_t n = 0; n < weights_.size(); ++n) {
            for (std::size_t i = 0; i < weights_[n].size(); ++i)
                problem.set_weight({static_cast<int>(n), static_cast<int>(i)}, weights_[n][i]);
        }
    }

private:
    std::vector<std::vector<double>> weights_;
};

/// vᵀQ⁻¹v of one observation block.
inline double whitened_square(const SparseProblem::Batch& batch, int index,
                              const double* residual) {
    const double* f =
        batch.factors.data() + static_cast<std::ptrdiff_t>(index) * batch.factor_size();
    double out = 0.0;
    for (int i = 0; i < batch.rows; ++i) {
        double sum = 0.0;
        for (int j = 0; j <= i; ++j) sum += *f++ * residual[j];
        out += sum * sum;
    }
    return out;
}

}  // namespace layproof::adjust::internal
