#pragma once
// Errors of the ground and of single measurements as columns on the linear form, and what the
// evidence says about any set of them.

#include <Eigen/Core>
#include <map>
#include <utility>
#include <vector>

#include "infer/linear_evidence.hpp"
#include "vet/network_internal.hpp"

namespace layproof::vet::internal {

enum class AmountKind { plan, height, whole, length, ratio };  ///< whole: plan and height

/// One error at one subject: consecutive columns with one prior standard deviation for all.
struct Pattern {
    Trap trap = Trap::nothing_wrong;
    AmountKind kind = AmountKind::length;
    int mark = -1;
    int list = -1;
    int item = -1;  ///< into Rows::tapes, levels or sights
    int column = 0;
    int columns = 0;
    double frequency = 0.0;
    std::vector<double> sizes{};
};

/// Of the amounts of some columns, for one prior.
using ColumnFit = infer::AmountFit<Eigen::Dynamic>;
using ColumnData = infer::ColumnData<Eigen::Dynamic>;
/// Columns of one pattern.
inline constexpr int kMostColumns = 3;

class Evidences {
public:
    /// `solved` must be usable and outlive this.
    Evidences(const Gathered& all, const Solved& solved);

    const std::vector<Pattern>& patterns() const { return patterns_; }
    /// Columns of patterns, one after another.
    std::vector<int> columns_of(const std::vector<int>& patterns) const;
    ColumnData data(const std::vector<int>& columns) const;
    /// `sd` per column.
    ColumnFit fit(const std::vector<int>& columns, const Eigen::VectorXd& sd) const {
        return infer::fit_amounts(data(columns), sd);
    }
    /// The same in a fixed size, columns that a pattern does not have left at zero.
    infer::ColumnData<kMostColumns> data(const Pattern& pattern) const;
    /// BᵀMB of the columns of two.
    infer::AmountMatrix<kMostColumns> between(const Pattern& b, const Pattern& a) const;
    /// How much of the statistic the columns take with free amounts.
    double explained(const std::vector<int>& columns) const;
    Eigen::MatrixXd information(const std::vector<int>& columns) const;

    /// Best values of the unknowns if the columns have these amounts, less Solved::values.
    Eigen::VectorXd step(const std::vector<int>& columns, const Eigen::VectorXd& amounts) const;
    /// Change of unknowns `rows` by the amounts.
    Eigen::MatrixXd by_amount(const std::vector<int>& rows, const std::vector<int>& columns) const;
    /// Posterior covariance of these unknowns if nothing has an amount. Not for two threads.
    const Eigen::MatrixXd& covariance_of(const std::vector<int>& rows) const;
    /// M y and M of a block of observations, for misfits.
    const Eigen::VectorXd& reduced_misfit() const { return reduced_; }
    Eigen::MatrixXd reduced_block(int block) const;

private:
    /// Rows of a column that are not zero: whole observation blocks.
    using Column = std::vector<std::pair<int, Eigen::VectorXd>>;

    void add(Pattern pattern, std::vector<Column> columns);
    void make(const Gathered& all);
    /// An amount `local` in the observations of a block, whitened.
    std::pair<int, Eigen::VectorXd> on_block(int block, const Eigen::VectorXd& local) const;
    /// bᵢᵀMbₖ; most of the matrix is never asked for.
    double information(int i, int k) const;

    const Solved* solved_;
    std::vector<Pattern> patterns_;
    std::vector<Column> raw_;
    SparseMatrix b_, jb_;
    Eigen::MatrixXd h_;
    Eigen::VectorXd g_, theta_, reduced_;
    mutable std::map<std::vector<int>, Eigen::MatrixXd> covariances_;
};

}  // namespace layproof::vet::internal
