#include "network/site_network_core_sum_internal.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>

#include "cause/shipped.hpp"
#include "network/site_jobs.hpp"

namespace layproof::network {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// All observations of a job at once: derivatives by all unknowns, and the misfits.
struct Stacked {
    MatrixXd jacobian;
    VectorXd misfit;
    std::vector<Eigen::Index> first_row;  ///< per block
};

Stacked stack(const SiteNetwork& network, const internal::NetworkColumns& columns) {
    const auto& parameters = network.form->problem.parameters();
    std::vector<Eigen::Index> first_column;
    Eigen::Index unknowns = 0;
    for (const auto& parameter : parameters) {
        first_column.push_back(unknowns);
        unknowns += parameter.size;
    }
    Eigen::Index rows = 0;
    for (const auto& block : columns.blocks) rows += block.misfit.size();
    Stacked out{MatrixXd::Zero(rows, unknowns), VectorXd(rows), {}};
    Eigen::Index row = 0;
    for (const auto& block : columns.blocks) {
        out.first_row.push_back(row);
        out.misfit.segment(row, block.misfit.size()) = block.misfit;
        for (std::size_t b = 0; b < block.blocks.size(); ++b) {
            const int size = block.end_of(b) - block.first[b];
            out.jacobian.block(row, first_column[at(block.blocks[b].index)], block.misfit.size(),
                               size) = block.jacobian.middleCols(block.first[b], size);
        }
        row += block.misfit.size();
    }
    return out;
}

// Every suspect against dense algebra over all observations and all unknowns, points of one sight
// among them.
TEST(core_sum, is_what_is_left_with_all_unknowns_taken_out) {
    testing::SiteJobOptions options;
    options.setups = 4;
    options.points_each = 2;
    const auto network = adjust_network(testing::draw_site_job(77, options).input);
    ASSERT_TRUE(network);
    internal::NetworkColumns columns;
    ASSERT_TRUE(internal::linearise_network(*network, columns));
    const auto suspects =
        internal::suspect_network(*network, testing::shipped_table(), false, columns);
    ASSERT_GT(suspects.who.size(), 100U);
    const Stacked all = stack(*network, columns);
    const Eigen::CompleteOrthogonalDecomposition<MatrixXd> solver(all.jacobian);
    std::vector<char> is_leaf(columns.blocks.size(), 0);
    for (const int block : columns.leaf_block)
        if (block >= 0) is_leaf[at(block)] = 1;
    ASSERT_GT(std::count(is_leaf.begin(), is_leaf.end(), 1), 0);
    internal::CoreSum sum(columns, is_leaf);
    for (std::size_t h = 0; h < suspects.who.size(); ++h) {
        const int size = columns.suspects[h].columns;
        MatrixXd b = MatrixXd::Zero(all.jacobian.rows(), size);
        sum.clear(size);
        for (const auto& one : columns.rows_of(static_cast<int>(h))) {
            b.middleRows(all.first_row[at(one.block)], one.rows.rows()) = one.rows;
            sum.add(one);
        }
        const MatrixXd left = b - all.jacobian * solver.solve(b);
        const MatrixXd gram = b.transpose() * left;
        const VectorXd misfit = left.transpose() * all.misfit;
        EXPECT_LT((sum.gram() - gram).norm(), 1e-6 * (1.0 + b.squaredNorm())) << h;
        EXPECT_LT((sum.misfit() - misfit).norm(), 1e-5 * (1.0 + b.norm())) << h;
    }
}

// A change later in the day is in fewer sights: what is added for it is not lost for the earlier.
TEST(core_sum, goes_on_from_what_is_summed) {
    const auto network = adjust_network(testing::draw_site_job(78, {}).input);
    ASSERT_TRUE(network);
    internal::NetworkColumns columns;
    ASSERT_TRUE(internal::linearise_network(*network, columns));
    internal::suspect_network(*network, testing::shipped_table(), false, columns);
    const std::vector<char> is_leaf(columns.blocks.size(), 0);
    internal::CoreSum from_last(columns, is_leaf);
    internal::CoreSum from_first(columns, is_leaf);
    const internal::RowList* longest = &columns.lists.front();
    for (const auto& list : columns.lists)
        if (list.rows.size() > longest->rows.size()) longest = &list;
    ASSERT_GT(longest->rows.size(), 20U);
    const Eigen::Index size = longest->rows.front().rows.cols();
    from_last.clear(size);
    double squares = 1.0;  // what is left is a small difference of sums as large as this
    for (std::size_t first = longest->rows.size(); first-- > 0;) {
        from_last.add(longest->rows[first]);
        squares += longest->rows[first].rows.squaredNorm();
        from_first.clear(size);
        for (std::size_t i = first; i < longest->rows.size(); ++i) from_first.add(longest->rows[i]);
        ASSERT_LT((from_last.gram() - from_first.gram()).norm(), 1e-13 * squares) << first;
        ASSERT_LT((from_last.misfit() - from_first.misfit()).norm(), 1e-12 * squares) << first;
    }
}

}  // namespace
}  // namespace layproof::network
