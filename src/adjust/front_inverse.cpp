// Selected inverse on the fronts (Erisman and Tinney 1975; in multifrontal form after Campbell and
// Davis 1995, "Computing the sparse inverse subset").
//
// For a front with columns C and rows R below, Y = L_RC L_CC⁻¹:
//   Z_RC = −Z_RR Y,  Z_CC = L_CC⁻ᵀL_CC⁻¹ − YᵀZ_RC,
// and Z_RR is part of the parent's front. Parents come before children.

#include <algorithm>
#include <array>

#include "adjust/dense_kernels_internal.hpp"
#include "adjust/front_factor_internal.hpp"

namespace layproof::adjust::internal {
namespace {

std::size_t index_of(int index) {
    return static_cast<std::size_t>(index);
}

// Z_RR of a child out of its parent's front: the mirror image of adding a remainder.
void take_remainder(const Fronts& fronts, const Front& child, double* to, const Front& parent,
                    const double* panel, const double* remainder) {
    const RowRun* run = fronts.run.data() + child.run_begin;
    const RowRun* end = run + child.run_count;
    for (; run != end; ++run) {
        for (int k = 0; k < run->length; ++k) {
            const int from = run->to + k;
            const double* column =
                from < parent.columns
                    ? panel + static_cast<std::ptrdiff_t>(from) * parent.height()
                    : remainder + static_cast<std::ptrdiff_t>(from - parent.columns) * parent.rows -
                          parent.columns;
            double* target = to + static_cast<std::ptrdiff_t>(run->from + k) * child.rows;
            for (int i = k; i < run->length; ++i) target[run->from + i] = column[run->to + i];
            for (const RowRun* below = run + 1; below != end; ++below)
                std::copy_n(column + below->to, below->length, target + below->from);
        }
    }
}

}  // namespace

void FrontFactor::selected_inverse(std::vector<double>& out) const {
    std::array<std::vector<double>, 2> stack;
    for (std::size_t k = 0; k < 2; ++k) stack[k].resize(fronts_->stack_numbers[k]);
    std::vector<double> panel(fronts_->largest_panel);
    std::vector<double> quotient(fronts_->largest_panel);
    std::array<std::size_t, 2> top{};
    for (int s = static_cast<int>(fronts_->front.size()) - 1; s >= 0; --s) {
        const Front& front = fronts_->front[index_of(s)];
        const int height = front.height();
        const int columns = front.columns;
        const int rows = front.rows;
        const auto own = static_cast<std::size_t>(rows) * index_of(rows);
        const auto side = static_cast<std::size_t>(fronts_->side[index_of(s)]);
        top[side] -= own;
        double* remainder = stack[side].data() + top[side];
        const double* factor = numbers_.get() + front.numbers_begin;
        double* y = quotient.data();
        bool any_open = false;
        for (int j = 0; j < columns; ++j) {
            const double* from = factor + static_cast<std::ptrdiff_t>(j) * height;
            double* to = panel.data() + static_cast<std::ptrdiff_t>(j) * height;
            std::copy_n(from + j, columns - j, to + j);
            std::copy_n(from + columns, rows, y + static_cast<std::ptrdiff_t>(j) * rows);
            any_open = any_open || is_open(front.first_column + j);
        }
        for (int k = 0; any_open && k < columns; ++k) {
            if (!is_open(front.first_column + k)) continue;
            for (int j = 0; j < k; ++j)
                panel[static_cast<std::size_t>(j) * index_of(height) + index_of(k)] = 0.0;
        }
        if (rows > 0) {
            divide(rows, columns, panel.data(), height, y, rows);
            negated_symmetric_product(rows, columns, remainder, rows, y, rows,
                                      panel.data() + columns, height);
        }
        invert_from_factor(columns, panel.data(), height);
        if (rows > 0)
            subtract_inner_product(columns, rows, y, rows, panel.data() + columns, height,
                                   panel.data(), height);
        for (int k = 0; any_open && k < columns; ++k) {
            if (!is_open(front.first_column + k)) continue;
            for (int j = 0; j < k; ++j)
                panel[static_cast<std::size_t>(j) * index_of(height) + index_of(k)] = 0.0;
            std::fill_n(panel.data() + static_cast<std::ptrdiff_t>(k) * height + k, height - k,
                        0.0);
        }

        const FrontEntry* entry = fronts_->entry.data() + front.entry_begin;
        for (int e = 0; e < front.entry_count; ++e, ++entry) {
            double* target = out.data() + entry->source;
            const int row_step = entry->transposed ? 1 : entry->columns;
            const int column_step = entry->transposed ? entry->rows : 1;
            const bool is_diagonal = entry->row == entry->column;
            for (int c = 0; c < entry->columns; ++c) {
                const double* source = panel.data() +
                                       static_cast<std::ptrdiff_t>(entry->column + c) * height +
                                       entry->row;
                for (int r = is_diagonal ? c : 0; r < entry->rows; ++r) {
                    target[r * row_step + c * column_step] = source[r];
                    if (is_diagonal) target[c * row_step + r * column_step] = source[r];
                }
            }
        }

        // Children's parts wait on the other stack. The last child comes next.
        std::size_t& end = top[1 - side];
        for (int c = 0; c < front.child_count; ++c) {
            const Front& child =
                fronts_->front[index_of(fronts_->child[index_of(front.child_begin + c)])];
            take_remainder(*fronts_, child, stack[1 - side].data() + end, front, panel.data(),
                           remainder);
            end += static_cast<std::size_t>(child.rows) * index_of(child.rows);
        }
    }
}

}  // namespace layproof::adjust::internal
