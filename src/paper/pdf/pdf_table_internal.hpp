#pragma once
// Widths of a table's columns on paper.

#include <vector>

#include "paper/paper.hpp"
#include "paper/pdf/pdf_text_internal.hpp"

namespace layproof::paper {

inline constexpr double kCellGap = 9.0;    ///< between columns
inline constexpr double kSignWidth = 9.5;  ///< of a verdict's sign before its word
inline constexpr int kMostCellLines = 14;

struct ColumnPlan {
    std::vector<double> lefts, widths;
    double factor = 1.0;  ///< by which the table's letters are smaller
    double width = 0.0;
};

/// Columns are as wide as their texts; where that is too wide, those that may wrap become narrower,
/// then those with text on the left but no verdict, and at last all letters become smaller.
ColumnPlan plan_columns(const Table& table, double width, TextSetter& text);

}  // namespace layproof::paper
