#pragma once
// Sparse normal equations of a SparseProblem: which products there are, and their sums. Not for
// other rooms.
//
// Every pair of free blocks that stands together in an observation has one product, stored
// row-major with the block of the larger index as rows, at a place found once. Where a block is
// held the place is kNowhere, which is written to and never read.

#include <cstddef>
#include <cstdint>
#include <vector>

#include "adjust/elimination_internal.hpp"
#include "adjust/sparse_problem.hpp"

namespace layproof::adjust::internal {

inline constexpr std::uint32_t kNowhere = 0;
inline constexpr int kChunk = 128;

struct NormalPattern {
    explicit NormalPattern(const SparseProblem& problem);

    std::vector<int> free_index;          ///< per parameter block; −1 if held
    std::vector<int> parameter;           ///< per free block
    BlockGraph graph;                     ///< of free blocks
    std::vector<std::uint32_t> diagonal;  ///< per free block: place of its own product
    /// Per batch and block, for each pair (a, b ≤ a) of its parameter blocks: place << 1, plus one
    /// if the product J_aᵀJ_b is stored transposed.
    std::vector<std::vector<std::uint32_t>> target;
    std::size_t numbers = 0;

    int unknowns = 0;
};

struct SparseNormal {
    std::vector<double> matrix;    ///< products, by place
    std::vector<double> gradient;  ///< JᵀWv, laid out as SparseProblem::values()
    double square_sum = 0.0;       ///< vᵀWv
};

enum class Depth { square_sum, gradient, matrix };

/// False if anything is not finite; `out` is then without meaning.
bool accumulate(const SparseProblem& problem, const NormalPattern& pattern, const double* values,
                Depth depth, SparseNormal& out);

/// One chunk evaluated and whitened: L⁻¹v and L⁻¹J, without the block's weight.
struct WhitenedChunk {
    std::vector<double> plain;     ///< v
    std::vector<double> residual;  ///< L⁻¹v
    std::vector<double> jacobian;  ///< L⁻¹J

    void evaluate(const SparseProblem::Batch& batch, const double* values, int first, int count,
                  bool with_jacobian);
};

}  // namespace layproof::adjust::internal
