#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <utility>

#include "vet/patterns_internal.hpp"

namespace layproof::vet::internal {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

VectorXd unit(int size, int at) {
    VectorXd out = VectorXd::Zero(size);
    out[at] = 1.0;
    return out;
}

}  // namespace

Evidences::Evidences(const Gathered& all, const Solved& solved) : solved_(&solved) {
    make(all);
    std::vector<Eigen::Triplet<double>> cells;
    for (std::size_t c = 0; c < raw_.size(); ++c)
        for (const auto& [first, local] : raw_[c])
            for (Eigen::Index r = 0; r < local.size(); ++r)
                cells.emplace_back(first + static_cast<int>(r), static_cast<int>(c), local[r]);
    b_.resize(solved.misfit.size(), static_cast<Eigen::Index>(raw_.size()));
    b_.setFromTriplets(cells.begin(), cells.end());
    raw_.clear();
    const SparseMatrix& j = solved.jacobian;
    jb_ = j.transpose() * b_;
    h_ = solved.normal->solve(MatrixXd(jb_));
    theta_ = solved.normal->solve(VectorXd(j.transpose() * solved.misfit));
    reduced_ = solved.misfit - j * theta_;
    g_ = b_.transpose() * reduced_;
}

std::pair<int, VectorXd> Evidences::on_block(int block, const VectorXd& local) const {
    const auto k = static_cast<std::size_t>(block);
    return {solved_->first_row[k], solved_->whitener[k] * local};
}

void Evidences::add(Pattern pattern, std::vector<Column> columns) {
    pattern.column = static_cast<int>(raw_.size());
    pattern.columns = static_cast<int>(columns.size());
    pattern.sizes = prior_of(pattern.trap).sizes;
    for (Column& column : columns) raw_.push_back(std::move(column));
    patterns_.push_back(std::move(pattern));
}

void Evidences::make(const Gathered& all) {
    const Rows& rows = solved_->rows;
    for (std::size_t m = 0; m < all.marks.size(); ++m) {
        if (rows.link_plan[m] >= 0)
            add({Trap::mark_off, AmountKind::plan, static_cast<int>(m)},
                {Column{on_block(rows.link_plan[m], -unit(2, 0))},
                 Column{on_block(rows.link_plan[m], -unit(2, 1))}});
        if (rows.link_height[m] >= 0)
            add({Trap::mark_height_off, AmountKind::height, static_cast<int>(m)},
                {Column{on_block(rows.link_height[m], -unit(1, 0))}});
    }
    for (const Rows::ListRow& row : rows.lists) {
        if (row.plan >= 0)
            add({Trap::entry_wrong, AmountKind::plan, row.mark, row.list},
                {Column{on_block(row.plan, unit(2, 0))}, Column{on_block(row.plan, unit(2, 1))}});
        if (row.height >= 0)
            add({Trap::entry_wrong, AmountKind::height, row.mark, row.list},
                {Column{on_block(row.height, unit(1, 0))}});
        if (row.plan >= 0 && row.height >= 0) {
            // A row copied from another mark: plan and height at once, the columns just added.
            Pattern whole{Trap::entry_wrong, AmountKind::whole, row.mark, row.list};
            whole.column = static_cast<int>(raw_.size()) - 3;
            whole.columns = 3;
            whole.sizes = prior_of(whole.trap).sizes;
            patterns_.push_back(std::move(whole));
        }
    }
    Column scale;
    Column prism;
    for (std::size_t t = 0; t < rows.tapes.size(); ++t) {
        add({Trap::tape_wrong, AmountKind::length, -1, -1, static_cast<int>(t)},
            {Column{on_block(rows.tapes[t], unit(1, 0))}});
        scale.push_back(on_block(rows.tapes[t], VectorXd::Constant(1, all.tapes[t].value_m)));
    }
    for (std::size_t t = 0; t < rows.levels.size(); ++t)
        add({Trap::level_wrong, AmountKind::height, -1, -1, static_cast<int>(t)},
            {Column{on_block(rows.levels[t], unit(1, 0))}});
    for (std::size_t i = 0; i < rows.sights.size(); ++i) {
        const Rows::SightRow& row = rows.sights[i];
        const auto k = static_cast<std::size_t>(row.block);
        const auto m = static_cast<std::size_t>(row.mark);
        const int first = solved_->first_row[k];
        const int size = solved_->size[k];
        const auto by = [&](int unknown) {
            VectorXd out = VectorXd::Zero(size);
            for (const Solved::Part& part : solved_->parts[k])
                if (unknown >= part.at && unknown < part.at + part.rows.cols())
                    out = part.rows.col(unknown - part.at);
            return Column{{first, std::move(out)}};
        };
        add({Trap::sight_wrong, AmountKind::plan, row.mark, -1, static_cast<int>(i)},
            {by(solved_->plan_at[m]), by(solved_->plan_at[m] + 1)});
        if (row.with_height)
            add({Trap::sight_height_wrong, AmountKind::height, row.mark, -1, static_cast<int>(i)},
                {by(solved_->height_at[m])});
        if (row.distance) {
            const double d = all.setups[static_cast<std::size_t>(row.setup)]
                                 .prepared.sights[static_cast<std::size_t>(row.sight)]
                                 .reduced.distance_m;
            scale.push_back(on_block(row.block, d * unit(size, size - 1)));
            prism.push_back(on_block(row.block, unit(size, size - 1)));
        }
    }
    if (!scale.empty()) add({Trap::grid_for_ground, AmountKind::ratio}, {std::move(scale)});
    if (!prism.empty()) add({Trap::prism_constant_wrong, AmountKind::length}, {std::move(prism)});
    for (Pattern& pattern : patterns_) {
        const auto alike = std::count_if(patterns_.begin(), patterns_.end(),
                                         [&](const Pattern& p) { return p.trap == pattern.trap; });
        pattern.frequency = prior_of(pattern.trap).frequency / static_cast<double>(alike);
    }
}

std::vector<int> Evidences::columns_of(const std::vector<int>& patterns) const {
    std::vector<int> out;
    for (const int p : patterns) {
        const Pattern& pattern = patterns_[static_cast<std::size_t>(p)];
        for (int c = 0; c < pattern.columns; ++c) out.push_back(pattern.column + c);
    }
    return out;
}

double Evidences::information(int i, int k) const {
    return b_.col(i).dot(b_.col(k)) - jb_.col(i).dot(h_.col(k));
}

MatrixXd Evidences::information(const std::vector<int>& columns) const {
    const auto n = static_cast<Eigen::Index>(columns.size());
    MatrixXd out(n, n);
    for (Eigen::Index i = 0; i < n; ++i)
        for (Eigen::Index k = i; k < n; ++k) {
            const int a = columns[static_cast<std::size_t>(i)];
            const int b = columns[static_cast<std::size_t>(k)];
            out(i, k) = out(k, i) = information(std::min(a, b), std::max(a, b));
        }
    return out;
}

const MatrixXd& Evidences::covariance_of(const std::vector<int>& rows) const {
    const auto [at, is_new] = covariances_.try_emplace(rows);
    if (!is_new) return at->second;
    const auto n = static_cast<Eigen::Index>(rows.size());
    MatrixXd units = MatrixXd::Zero(solved_->jacobian.cols(), n);
    for (Eigen::Index i = 0; i < n; ++i) units(rows[static_cast<std::size_t>(i)], i) = 1.0;
    const MatrixXd columns = solved_->normal->solve(units);
    MatrixXd out(n, n);
    for (Eigen::Index i = 0; i < n; ++i)
        for (Eigen::Index k = 0; k < n; ++k)
            out(i, k) = columns(rows[static_cast<std::size_t>(i)], k);
    at->second = 0.5 * (out + out.transpose());
    return at->second;
}

ColumnData Evidences::data(const std::vector<int>& columns) const {
    return {g_(columns), information(columns)};
}

infer::ColumnData<kMostColumns> Evidences::data(const Pattern& pattern) const {
    infer::ColumnData<kMostColumns> out{infer::Amounts<kMostColumns>::Zero(),
                                        between(pattern, pattern)};
    out.g.head(pattern.columns) = g_.segment(pattern.column, pattern.columns);
    return out;
}

infer::AmountMatrix<kMostColumns> Evidences::between(const Pattern& b, const Pattern& a) const {
    infer::AmountMatrix<kMostColumns> out = infer::AmountMatrix<kMostColumns>::Zero();
    for (int i = 0; i < b.columns; ++i)
        for (int k = 0; k < a.columns; ++k)
            out(i, k) = information(std::min(b.column + i, a.column + k),
                                    std::max(b.column + i, a.column + k));
    return out;
}

double Evidences::explained(const std::vector<int>& columns) const {
    const ColumnData some = data(columns);
    return some.g.dot(some.gram.completeOrthogonalDecomposition().solve(some.g));
}

VectorXd Evidences::step(const std::vector<int>& columns, const VectorXd& amounts) const {
    VectorXd out = theta_;
    for (std::size_t c = 0; c < columns.size(); ++c)
        out -= h_.col(columns[c]) * amounts[static_cast<Eigen::Index>(c)];
    return out;
}

MatrixXd Evidences::by_amount(const std::vector<int>& rows, const std::vector<int>& columns) const {
    MatrixXd out(static_cast<Eigen::Index>(rows.size()), static_cast<Eigen::Index>(columns.size()));
    for (std::size_t r = 0; r < rows.size(); ++r)
        for (std::size_t c = 0; c < columns.size(); ++c)
            out(static_cast<Eigen::Index>(r), static_cast<Eigen::Index>(c)) =
                -h_(rows[r], columns[c]);
    return out;
}

MatrixXd Evidences::reduced_block(int block) const {
    const auto k = static_cast<std::size_t>(block);
    const auto size = static_cast<Eigen::Index>(solved_->size[k]);
    MatrixXd across = MatrixXd::Zero(solved_->jacobian.cols(), size);
    for (const Solved::Part& part : solved_->parts[k])
        across.middleRows(part.at, part.rows.cols()) = part.rows.transpose();
    const MatrixXd solved = solved_->normal->solve(across);
    return MatrixXd::Identity(size, size) - across.transpose() * solved;
}

}  // namespace layproof::vet::internal
