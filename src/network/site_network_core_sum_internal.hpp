#pragma once
// What suspects do to the core of a network, for many suspects that share most of their rows.
//
// A change after the k-th sight is in all sights that follow, so its BᵀMB and BᵀMy are those of the
// change after the next sight and one more row. Summed from the last row on, all changes of a list
// cost what its rows do, not the square of that.

#include <Eigen/Core>
#include <utility>
#include <vector>

#include "base/index.hpp"
#include "network/site_network_columns_internal.hpp"

namespace layproof::network::internal {

/// BᵀMB and BᵀMy of rows added one by one, M the data with all unknowns taken out. A point of one
/// sight takes up all that is done to it: such a sight says nothing.
class CoreSum {
public:
    CoreSum(const NetworkColumns& columns, const std::vector<char>& is_leaf_block)
        : columns_(columns), is_leaf_(is_leaf_block) {
        sum_.setZero(columns.core_size, infer::kMostColumns);
        is_touched_.assign(at(columns.core_size), 0);
    }

    /// Nothing is added yet. `size`: columns of the suspects.
    void clear(Eigen::Index size) {
        for (const auto& [first, rows] : touched_) {
            sum_.middleRows(first, rows).setZero();
            is_touched_[at(first)] = 0;
        }
        touched_.clear();
        size_ = size;
        plain_.setZero(size, size);
        taken_out_.setZero(size, size);
        misfit_.setZero(size);
    }

    void add(const SuspectRows& one) {
        if (is_leaf_[at(one.block)] != 0) return;
        const WhiteBlock& block = columns_.blocks[at(one.block)];
        plain_.noalias() += one.rows.transpose() * one.rows;
        misfit_.noalias() += one.rows.transpose() * block.misfit;
        for (std::size_t b = 0; b < block.blocks.size(); ++b) {
            const int core = columns_.core_at[at(block.blocks[b].index)];
            if (core < 0) continue;
            const int rows = block.end_of(b) - block.first[b];
            add_to_core(core, rows,
                        block.jacobian.middleCols(block.first[b], rows).transpose() * one.rows);
        }
    }

    Eigen::MatrixXd gram() const {
        const Square left = plain_ - taken_out_;
        return 0.5 * (left + left.transpose());
    }
    Eigen::VectorXd misfit() const { return misfit_; }

    /// Adds JᵀB to `out`, core × columns of the suspects.
    template <class Out>
    void add_core_to(Out out) const {
        for (const auto& [first, rows] : touched_)
            out.middleRows(first, rows) += sum_.block(first, 0, rows, size_);
    }

private:
    using Few = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor,
                              infer::kMostColumns, infer::kMostColumns>;
    using Square = Few;

    void add_to_core(int core, int rows, const Few& product) {
        const auto& covariance = columns_.core_covariance;
        Few with = Few::Zero(rows, size_);  // what it shares with those before
        // Where most is touched, the whole at once is quicker.
        constexpr std::size_t kMany = 6;
        if (touched_.size() * kMany > at(columns_.core_size)) {
            with.noalias() = covariance.middleCols(core, rows).transpose() * sum_.leftCols(size_);
        } else {
            for (const auto& [first, count] : touched_)
                with.noalias() += covariance.block(first, core, count, rows).transpose() *
                                  sum_.block(first, 0, count, size_);
        }
        const Few cross = product.transpose() * with;
        taken_out_ += cross + cross.transpose();
        taken_out_.noalias() +=
            product.transpose() * covariance.block(core, core, rows, rows) * product;
        sum_.block(core, 0, rows, size_) += product;
        if (std::exchange(is_touched_[at(core)], char{1}) == 0) touched_.emplace_back(core, rows);
    }

    const NetworkColumns& columns_;
    const std::vector<char>& is_leaf_;
    Eigen::Index size_ = 0;
    Square plain_, taken_out_;
    Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, infer::kMostColumns, 1> misfit_;
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic> sum_;  ///< JᵀB: core × columns
    std::vector<std::pair<int, int>> touched_;                   ///< first and count of its rows
    std::vector<char> is_touched_;
};

}  // namespace layproof::network::internal
