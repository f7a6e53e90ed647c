#include "adjust/front_factor_internal.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "adjust/dense_kernels_internal.hpp"

namespace layproof::adjust::internal {
namespace {

std::size_t slot(int index) {
    return static_cast<std::size_t>(index);
}

// A pivot below the first share of its diagonal is nothing; one below the second is looked at
// again.
constexpr double kNoPivot = 1e-15;
constexpr double kSuspectPivot = 1e-6;

std::ptrdiff_t square(int n) {
    return static_cast<std::ptrdiff_t>(n) * n;
}

// A child's remainder into the front of its parent: columns of its own first, then the remainder.
void add_remainder(const Fronts& fronts, const Front& child, const double* from,
                   const Front& parent, double* panel, double* remainder) {
    const RowRun* run = fronts.run.data() + child.run_begin;
    const RowRun* end = run + child.run_count;
    for (; run != end; ++run) {
        for (int k = 0; k < run->length; ++k) {
            const int j = run->from + k;
            const int to = run->to + k;
            // Rows count from the first of the front; the remainder's own begin at parent.columns.
            double* column =
                to < parent.columns
                    ? panel + static_cast<std::ptrdiff_t>(to) * parent.height()
                    : remainder + static_cast<std::ptrdiff_t>(to - parent.columns) * parent.rows -
                          parent.columns;
            const double* source = from + static_cast<std::ptrdiff_t>(j) * child.rows;
            for (int i = k; i < run->length; ++i) column[run->to + i] += source[run->from + i];
            for (const RowRun* below = run + 1; below != end; ++below) {
                double* target = column + below->to;
                const double* s = source + below->from;
                for (int i = 0; i < below->length; ++i) target[i] += s[i];
            }
        }
    }
}

}  // namespace

FrontFactor::FrontFactor(std::shared_ptr<const Fronts> fronts)
    : fronts_(std::move(fronts)),
      numbers_(std::make_unique_for_overwrite<double[]>(fronts_->factor_numbers)),
      stack_begin_(fronts_->front.size(), 0),
      is_open_(slot(fronts_->column_count()), 0),
      is_held_(slot(fronts_->column_count()), 0) {}

void FrontFactor::compute(const std::vector<double>& matrix, const Setting& setting) {
    std::fill(is_open_.begin(), is_open_.end(), char{0});
    std::fill(is_held_.begin(), is_held_.end(), char{0});
    for (const int column : setting.held) is_held_[slot(column)] = 1;
    open_.clear();
    suspects_.clear();
    smallest_pivot_ = 1.0;
    for (std::size_t k = 0; k < 2; ++k) stack_[k].resize(fronts_->stack_numbers[k]);
    std::array<std::size_t, 2> top{};
    const int count = static_cast<int>(fronts_->front.size());
    for (int s = 0; s < count; ++s) {
        const Front& front = fronts_->front[slot(s)];
        const auto side = static_cast<std::size_t>(fronts_->side[slot(s)]);
        factor_front(s, matrix, setting, stack_[side].data() + top[side]);
        stack_begin_[slot(s)] = top[side];
        top[side] += static_cast<std::size_t>(square(front.rows));
        if (front.child_count > 0)
            top[1 - side] = stack_begin_[slot(fronts_->child[slot(front.child_begin)])];
    }
}

void FrontFactor::factor_front(int index, const std::vector<double>& matrix, const Setting& setting,
                               double* remainder) {
    const Front& front = fronts_->front[slot(index)];
    const int height = front.height();
    double* panel = numbers_.get() + front.numbers_begin;
    // Only lower triangles are read.
    for (int j = 0; j < front.columns; ++j)
        std::fill_n(panel + static_cast<std::ptrdiff_t>(j) * height + j, height - j, 0.0);
    const FrontEntry* entry = fronts_->entry.data() + front.entry_begin;
    for (int e = 0; e < front.entry_count; ++e, ++entry) {
        const double* source = matrix.data() + entry->source;
        const int row_step = entry->transposed ? 1 : entry->columns;
        const int column_step = entry->transposed ? entry->rows : 1;
        double* target = panel + static_cast<std::ptrdiff_t>(entry->column) * height + entry->row;
        for (int c = 0; c < entry->columns; ++c, target += height) {
            for (int r = 0; r < entry->rows; ++r)
                target[r] = source[r * row_step + c * column_step];
        }
    }
    diagonal_.resize(slot(front.columns));
    for (int j = 0; j < front.columns; ++j) {
        double& pivot = panel[static_cast<std::ptrdiff_t>(j) * height + j];
        if (setting.extra != nullptr) pivot += setting.extra[front.first_column + j];
        diagonal_[slot(j)] = pivot;
    }
    for (int j = 0; j < front.rows; ++j)
        std::fill_n(remainder + static_cast<std::ptrdiff_t>(j) * front.rows + j, front.rows - j,
                    0.0);
    const std::vector<double>& waiting =
        stack_[1 - static_cast<std::size_t>(fronts_->side[slot(index)])];
    for (int c = 0; c < front.child_count; ++c) {
        const int child = fronts_->child[slot(front.child_begin + c)];
        add_remainder(*fronts_, fronts_->front[slot(child)],
                      waiting.data() + stack_begin_[slot(child)], front, panel, remainder);
    }
    factor_columns(front, panel, diagonal_.data());
    subtract_square(front.rows, front.columns, panel + front.columns, height, remainder,
                    front.rows);
}

void FrontFactor::factor_columns(const Front& front, double* panel, const double* diagonal) {
    constexpr int kBlock = 32;
    const int height = front.height();
    const auto at = [&](int i, int j) -> double& {
        return panel[static_cast<std::ptrdiff_t>(j) * height + i];
    };
    for (int first = 0; first < front.columns; first += kBlock) {
        const int end = std::min(first + kBlock, front.columns);
        bool any_open = false;
        for (int j = first; j < end; ++j) {
            for (int k = first; k < j; ++k) {
                const double f = at(j, k);
                if (f == 0.0) continue;
                for (int i = j; i < end; ++i) at(i, j) -= at(i, k) * f;
            }
            const double pivot = at(j, j);
            const int column = front.first_column + j;
            if (is_held_[slot(column)] || !(pivot > kNoPivot * diagonal[j])) {
                any_open = true;
                is_open_[slot(column)] = 1;
                open_.push_back(column);
                at(j, j) = 1.0;
                for (int i = j + 1; i < height; ++i) at(i, j) = 0.0;
                continue;
            }
            const double share = pivot / diagonal[j];
            smallest_pivot_ = std::min(smallest_pivot_, share);
            if (share < kSuspectPivot) suspects_.push_back({column, share});
            const double root = std::sqrt(pivot);
            const double inverse = 1.0 / root;
            at(j, j) = root;
            for (int i = j + 1; i < end; ++i) at(i, j) *= inverse;
        }
        if (!any_open) {
            divide_by_transposed(height - end, end - first, &at(first, first), height,
                                 &at(0, first) + end, height);
        } else {
            // Open columns stay zero below; what was added to them since is dropped.
            for (int j = first; j < end; ++j) {
                double* own = &at(0, j);
                const bool open = is_open_[slot(front.first_column + j)] != 0;
                for (int k = first; !open && k < j; ++k) {
                    const double f = at(j, k);
                    const double* other = &at(0, k);
                    for (int i = end; i < height; ++i) own[i] -= other[i] * f;
                }
                const double inverse = open ? 0.0 : 1.0 / own[j];
                for (int i = end; i < height; ++i) own[i] *= inverse;
            }
        }
        if (end < front.columns)
            subtract_product(height - end, front.columns - end, end - first, &at(0, first) + end,
                             height, &at(0, first) + end, height, &at(0, end) + end, height);
    }
}

void FrontFactor::solve(double* x) const {
    std::vector<double> rows;
    const int count = static_cast<int>(fronts_->front.size());
    for (int s = 0; s < count; ++s) {
        const Front& front = fronts_->front[slot(s)];
        const int height = front.height();
        const double* panel = numbers_.get() + front.numbers_begin;
        const int* row = fronts_->row.data() + front.row_begin;
        double* own = x + front.first_column;
        rows.assign(slot(front.rows), 0.0);
        for (int j = 0; j < front.columns; ++j) {
            const double* l = panel + static_cast<std::ptrdiff_t>(j) * height;
            if (is_open_[slot(front.first_column + j)]) {
                own[j] = 0.0;
                continue;
            }
            const double y = own[j] / l[j];
            own[j] = y;
            for (int i = j + 1; i < front.columns; ++i) own[i] -= l[i] * y;
            for (int i = 0; i < front.rows; ++i) rows[slot(i)] += l[front.columns + i] * y;
        }
        for (int i = 0; i < front.rows; ++i) x[row[i]] -= rows[slot(i)];
    }
    for (int s = count - 1; s >= 0; --s) {
        const Front& front = fronts_->front[slot(s)];
        const int height = front.height();
        const double* panel = numbers_.get() + front.numbers_begin;
        const int* row = fronts_->row.data() + front.row_begin;
        double* own = x + front.first_column;
        rows.resize(slot(front.rows));
        for (int i = 0; i < front.rows; ++i) rows[slot(i)] = x[row[i]];
        for (int j = front.columns - 1; j >= 0; --j) {
            const double* l = panel + static_cast<std::ptrdiff_t>(j) * height;
            if (is_open_[slot(front.first_column + j)]) continue;  // x is zero there
            double sum = own[j];
            for (int i = j + 1; i < front.columns; ++i) sum -= l[i] * own[i];
            for (int i = 0; i < front.rows; ++i) sum -= l[front.columns + i] * rows[slot(i)];
            own[j] = sum / l[j];
        }
    }
}

// Lᵀx = 0 with x = 1 at the open column: only its descendants in the tree can differ from zero.
int FrontFactor::null_vector(int open_column, double* x) const {
    const auto owner = std::upper_bound(
        fronts_->front.begin(), fronts_->front.end(), open_column,
        [](int column, const Front& front) { return column < front.first_column; });
    const int last = static_cast<int>(owner - fronts_->front.begin()) - 1;
    x[open_column] = 1.0;
    // Descendants are one stretch that ends with the front itself; walk down while there are any.
    int first = last;
    while (fronts_->front[slot(first)].child_count > 0)
        first = fronts_->child[slot(fronts_->front[slot(first)].child_begin)];
    for (int s = last; s >= first; --s) {
        const Front& front = fronts_->front[slot(s)];
        const int height = front.height();
        const double* panel = numbers_.get() + front.numbers_begin;
        const int* row = fronts_->row.data() + front.row_begin;
        double* own = x + front.first_column;
        for (int j = front.columns - 1; j >= 0; --j) {
            if (front.first_column + j >= open_column) continue;
            if (is_open_[slot(front.first_column + j)]) continue;
            const double* l = panel + static_cast<std::ptrdiff_t>(j) * height;
            double sum = 0.0;
            for (int i = j + 1; i < front.columns; ++i) sum -= l[i] * own[i];
            for (int i = 0; i < front.rows; ++i) sum -= l[front.columns + i] * x[row[i]];
            own[j] = sum / l[j];
        }
    }
    return fronts_->front[slot(first)].first_column;
}

FrontFactor::Walk FrontFactor::walk(int position) const {
    const int begin = fronts_->first_column[slot(position)];
    const int size = fronts_->first_column[slot(position) + 1] - begin;
    Walk out;
    Eigen::MatrixXd carried;  // what the rows below still get × size
    int s = fronts_->front_of[slot(position)];
    bool is_first = true;
    while (s >= 0) {
        const Front& front = fronts_->front[slot(s)];
        const int height = front.height();
        const double* panel = numbers_.get() + front.numbers_begin;
        Eigen::MatrixXd own = Eigen::MatrixXd::Zero(height, size);
        if (is_first) {
            for (int k = 0; k < size; ++k) own(begin - front.first_column + k, k) = 1.0;
            is_first = false;
        } else {
            // Rows carried up lie in the parent's front by the runs of the child.
            const Front& child = fronts_->front[slot(out.parts.back().front)];
            const RowRun* run = fronts_->run.data() + child.run_begin;
            for (int r = 0; r < child.run_count; ++r, ++run)
                own.middleRows(run->to, run->length) = carried.middleRows(run->from, run->length);
        }
        for (int j = 0; j < front.columns; ++j) {
            const double* l = panel + static_cast<std::ptrdiff_t>(j) * height;
            if (is_open_[slot(front.first_column + j)]) {
                own.row(j).setZero();
                continue;
            }
            for (int k = 0; k < size; ++k) {
                const double y = own(j, k) / l[j];
                own(j, k) = y;
                if (y == 0.0) continue;
                for (int i = j + 1; i < height; ++i) own(i, k) -= l[i] * y;
            }
        }
        carried = own.bottomRows(front.rows);
        out.parts.push_back({s, own.topRows(front.columns)});
        s = front.parent;
    }
    return out;
}

Eigen::MatrixXd FrontFactor::inner_product(const Walk& a, const Walk& b) {
    Eigen::MatrixXd out;
    out.setZero(a.parts.front().numbers.cols(), b.parts.front().numbers.cols());
    std::size_t i = 0;
    std::size_t j = 0;
    while (i < a.parts.size() && j < b.parts.size()) {
        if (a.parts[i].front == b.parts[j].front) {
            out.noalias() += a.parts[i].numbers.transpose() * b.parts[j].numbers;
            ++i;
            ++j;
        } else if (a.parts[i].front < b.parts[j].front) {
            ++i;
        } else {
            ++j;
        }
    }
    return out;
}

}  // namespace layproof::adjust::internal
