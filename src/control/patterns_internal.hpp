#pragma once
// Errors of the ground and of single measurements as columns on the linear form, and what the
// evidence says about any set of them.

#include <Eigen/Core>
#include <vector>

#include "control/network_internal.hpp"

namespace layproof::control::internal {

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

/// Posterior of the amounts of some columns for one prior.
struct ColumnFit {
    double log_bayes = 0.0;
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
};

class Evidences {
public:
    /// `solved` must be usable and outlive this.
    Evidences(const Gathered& all, const Solved& solved);

    const std::vector<Pattern>& patterns() const { return patterns_; }
    /// Columns of patterns, one after another.
    std::vector<int> columns_of(const std::vector<int>& patterns) const;
    /// `sd` per column.
    ColumnFit fit(const std::vector<int>& columns, const Eigen::VectorXd& sd) const;
    double log_bayes(const std::vector<int>& columns, const Eigen::VectorXd& sd) const;
    /// How much of the statistic the columns take with free amounts.
    double explained(const std::vector<int>& columns) const;
    Eigen::MatrixXd information(const std::vector<int>& columns) const;

    /// Best values of the unknowns if the columns have these amounts, less Solved::values.
    Eigen::VectorXd step(const std::vector<int>& columns, const Eigen::VectorXd& amounts) const;
    /// Change of unknowns `rows` by the amounts.
    Eigen::MatrixXd by_amount(const std::vector<int>& rows, const std::vector<int>& columns) const;
    const Eigen::MatrixXd& covariance() const { return q_; }
    /// M y and M of a block of observations, for misfits.
    const Eigen::VectorXd& reduced_misfit() const { return reduced_; }
    Eigen::MatrixXd reduced_block(int block) const;

private:
    void add(Pattern pattern, const std::vector<Eigen::VectorXd>& columns);
    void make(const Gathered& all);
    Eigen::VectorXd on_block(int block, const Eigen::VectorXd& local) const;

    const Solved* solved_;
    std::vector<Pattern> patterns_;
    std::vector<Eigen::VectorXd> raw_;
    Eigen::MatrixXd b_, q_, g_matrix_, h_;
    Eigen::VectorXd g_, theta_, reduced_;
};

}  // namespace layproof::control::internal
