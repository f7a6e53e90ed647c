#include <Eigen/QR>
#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <utility>

#include "adjust/datum_internal.hpp"

namespace layproof::adjust::internal {
namespace {

// A block takes part in an open direction if its share, in units of what the data see of it alone,
// is more than rounding.
constexpr double kTakesPart = 1e-6;
// Inner constraints cannot remove a null vector whose part in the datum blocks is smaller than
// this.
constexpr double kInDatum = 1e-8;
// Null vectors are kept as full columns only for a datum.
constexpr double kMostNumbers = 2e7;

std::size_t at_column(Eigen::Index index) {
    return static_cast<std::size_t>(index);
}

}  // namespace

OpenDirections::OpenDirections(const FrontFactor& factor, const NormalPattern& pattern,
                               const std::vector<double>& diagonal,
                               const std::vector<char>& in_datum)
    : in_datum_(in_datum) {
    const Eigen::Index n = factor.fronts().column_count();
    is_loose_.assign(pattern.parameter.size(), 0);
    joined_.resize(pattern.parameter.size());
    std::iota(joined_.begin(), joined_.end(), 0);

    std::vector<Eigen::VectorXd> reaching;
    std::vector<int> reaching_columns;
    Eigen::VectorXd x = Eigen::VectorXd::Zero(n);
    for (const int column : factor.open()) {
        const int from = factor.null_vector(column, x.data());
        double largest = 0.0;
        double in_it = 0.0;
        for (int i = from; i <= column; ++i) {
            largest = std::max(largest, std::abs(x(i)));
            if (in_datum_[at_column(i)]) in_it = std::max(in_it, std::abs(x(i)));
        }
        if (in_it > kInDatum * largest) {
            if (static_cast<double>(n) * static_cast<double>(reaching.size() + 1) > kMostNumbers) {
                is_beyond_limits_ = true;
                return;
            }
            reaching.push_back(x);
            reaching_columns.push_back(column);
        } else {
            add_loose(x, from, column, column, factor, pattern, diagonal);
        }
        x.segment(from, column - from + 1).setZero();
    }

    if (!reaching.empty()) {
        // Combinations that do not move the datum stay loose; the rest becomes orthonormal in it.
        const auto d = static_cast<Eigen::Index>(reaching.size());
        Eigen::MatrixXd h(n, d);
        for (Eigen::Index k = 0; k < d; ++k) h.col(k) = reaching[at_column(k)].normalized();
        Eigen::Index members = 0;
        for (Eigen::Index i = 0; i < n; ++i) members += in_datum_[at_column(i)] ? 1 : 0;
        Eigen::MatrixXd part(members, d);
        for (Eigen::Index i = 0, r = 0; i < n; ++i) {
            if (in_datum_[at_column(i)]) part.row(r++) = h.row(i);
        }
        // Its length in the datum says how well a combination is caught; V comes from the small
        // triangle of the part.
        const Eigen::HouseholderQR<Eigen::MatrixXd> qr(
            members >= d ? part : Eigen::MatrixXd(d, d).setZero());
        Eigen::MatrixXd small = Eigen::MatrixXd::Zero(d, d);
        if (members >= d)
            small = qr.matrixQR().topRows(d).triangularView<Eigen::Upper>();
        else
            small.topRows(members) = part;
        const Eigen::JacobiSVD<Eigen::MatrixXd> svd(small, Eigen::ComputeFullV);
        const Eigen::MatrixXd turned = h * svd.matrixV();
        Eigen::Index kept = 0;
        while (kept < d && svd.singularValues()(kept) > kInDatum) ++kept;
        basis_.resize(n, kept);
        for (Eigen::Index k = 0; k < kept; ++k)
            basis_.col(k) = turned.col(k) / svd.singularValues()(k);
        for (Eigen::Index k = kept; k < d; ++k) {
            add_loose(turned.col(k), 0, static_cast<int>(n) - 1, reaching_columns[at_column(k)],
                      factor, pattern, diagonal);
        }
    }

    std::vector<int> part_of(pattern.parameter.size(), -1);
    for (const int block : loose_columns_) {
        int& number = part_of[at_column(find(block))];
        if (number < 0) {
            number = static_cast<int>(loose_.size());
            loose_.emplace_back();
        }
        ++loose_[at_column(number)].open_directions;
    }
    for (std::size_t f = 0; f < is_loose_.size(); ++f) {
        const int number = is_loose_[f] ? part_of[at_column(find(static_cast<int>(f)))] : -1;
        if (number >= 0) loose_[at_column(number)].blocks.push_back({pattern.parameter[f]});
    }
}

int OpenDirections::find(int block) {
    while (joined_[at_column(block)] != block) {
        joined_[at_column(block)] = joined_[at_column(joined_[at_column(block)])];
        block = joined_[at_column(block)];
    }
    return block;
}

void OpenDirections::add_loose(const Eigen::VectorXd& vector, int from, int to, int column,
                               const FrontFactor& factor, const NormalPattern& pattern,
                               const std::vector<double>& diagonal) {
    const Fronts& fronts = factor.fronts();
    const auto position_of = [&](int i) {
        return static_cast<int>(
                   std::upper_bound(fronts.first_column.begin(), fronts.first_column.end(), i) -
                   fronts.first_column.begin()) -
               1;
    };
    const int seed = fronts.order[at_column(position_of(column))];
    double largest = 0.0;
    for (int i = from; i <= to; ++i)
        largest = std::max(largest, std::abs(vector(i)) * std::sqrt(diagonal[at_column(i)]));
    int anchor = seed;
    bool any = false;
    const auto take = [&](int block) {
        is_loose_[at_column(block)] = 1;
        if (!any) anchor = block;
        any = true;
        joined_[at_column(find(block))] = find(anchor);
    };
    const int last = position_of(to);
    for (int k = position_of(from); k <= last; ++k) {
        for (int i = std::max(from, fronts.first_column[at_column(k)]);
             i <= std::min(to, fronts.first_column[at_column(k) + 1] - 1); ++i) {
            const double share = std::abs(vector(i)) * std::sqrt(diagonal[at_column(i)]);
            // An unknown that nothing observes has no share to compare.
            const bool unseen = diagonal[at_column(i)] == 0.0 && vector(i) != 0.0;
            if (!(share > kTakesPart * largest) && !unseen) continue;
            take(fronts.order[at_column(k)]);
            break;
        }
    }
    if (!any) take(seed);
    loose_columns_.push_back(anchor);
    (void)pattern;
}

std::vector<int> OpenDirections::best_held() const {
    std::vector<int> out;
    if (basis_.cols() == 0) return out;
    const Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(basis_.transpose());
    for (Eigen::Index k = 0; k < basis_.cols(); ++k)
        out.push_back(qr.colsPermutation().indices()(k));
    std::sort(out.begin(), out.end());
    return out;
}

void OpenDirections::centre(Eigen::VectorXd& x) const {
    if (basis_.cols() == 0) return;
    Eigen::VectorXd along = Eigen::VectorXd::Zero(basis_.cols());
    for (Eigen::Index i = 0; i < x.size(); ++i) {
        if (in_datum_[at_column(i)]) along += basis_.row(i).transpose() * x(i);
    }
    x.noalias() -= basis_ * along;
}

Eigen::MatrixXd OpenDirections::correction(const FrontFactor& factor) const {
    Eigen::MatrixXd q = Eigen::MatrixXd::Zero(basis_.rows(), basis_.cols());
    for (Eigen::Index i = 0; i < q.rows(); ++i) {
        if (in_datum_[at_column(i)]) q.row(i) = basis_.row(i);
    }
    for (Eigen::Index k = 0; k < q.cols(); ++k) factor.solve(q.col(k).data());
    Eigen::MatrixXd inner = Eigen::MatrixXd::Zero(basis_.cols(), basis_.cols());
    for (Eigen::Index i = 0; i < q.rows(); ++i) {
        if (in_datum_[at_column(i)]) inner.noalias() += basis_.row(i).transpose() * q.row(i);
    }
    return q - 0.5 * basis_ * inner;
}

}  // namespace layproof::adjust::internal
