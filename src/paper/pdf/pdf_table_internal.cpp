#include "paper/pdf/pdf_table_internal.hpp"

#include <algorithm>
#include <numeric>

namespace layproof::paper {
namespace {

constexpr double kLeastWrapped = 42.0;
constexpr double kLeastFactor = 0.5;
/// More than this no column is widened to fill the page.
constexpr double kMostSlack = 16.0;

}  // namespace

ColumnPlan plan_columns(const Table& table, double width, TextSetter& text) {
    const std::size_t count = table.columns.size();
    ColumnPlan plan;
    std::vector<double> natural(count, 0.0), least(count, 0.0);
    std::vector<bool> wraps(count, false);
    std::vector<bool> has_sign(count, false);
    for (std::size_t c = 0; c < count; ++c) {
        wraps[c] = table.columns[c].wraps;
        const std::string head = settable(table.columns[c].head);
        // A head of several words goes over several lines.
        natural[c] = text.longest_word(head, Face::table_strong);
        if (wraps[c]) natural[c] = std::max(natural[c], text.width(head, Face::table_strong));
        least[c] = std::max(kLeastWrapped, text.longest_word(head, Face::table_strong));
    }
    for (const Row& row : table.rows) {
        for (std::size_t c = 0; c < std::min(count, row.cells.size()); ++c) {
            const Cell& cell = row.cells[c];
            const double sign = cell.word ? kSignWidth : 0.0;
            has_sign[c] = has_sign[c] || cell.word.has_value();
            natural[c] = std::max(natural[c], sign + text.width(settable(cell.text), Face::table));
        }
    }
    const double room = width - kCellGap * static_cast<double>(count > 0 ? count - 1 : 0);
    const auto sum = [](const std::vector<double>& v) {
        return std::accumulate(v.begin(), v.end(), 0.0);
    };
    plan.widths = natural;
    // Narrower where it may be, the widest first.
    while (sum(plan.widths) > room) {
        double over = sum(plan.widths) - room;
        std::size_t widest = count;
        for (std::size_t c = 0; c < count; ++c)
            if (wraps[c] && plan.widths[c] > least[c] + 1e-6 &&
                (widest == count || plan.widths[c] > plan.widths[widest]))
                widest = c;
        if (widest == count) {
            // No such column is left: the widest text on the left may wrap too, but no verdict.
            for (std::size_t c = 0; c < count; ++c)
                if (!wraps[c] && !has_sign[c] && table.columns[c].align == Align::left &&
                    plan.widths[c] > least[c] + 1e-6 &&
                    (widest == count || plan.widths[c] > plan.widths[widest]))
                    widest = c;
            if (widest == count) break;
            wraps[widest] = true;
            continue;
        }
        double second = least[widest];
        for (std::size_t c = 0; c < count; ++c)
            if (wraps[c] && c != widest && plan.widths[c] < plan.widths[widest])
                second = std::max(second, plan.widths[c]);
        const double step = std::max(1.0, std::min(over, plan.widths[widest] - second));
        plan.widths[widest] = std::max(least[widest], plan.widths[widest] - step);
    }
    const double total = sum(plan.widths);
    if (total > room && total > 0.0) {
        plan.factor = std::max(kLeastFactor, room / total);
        for (double& w : plan.widths) w *= plan.factor;
    } else if (count > 1) {
        const double slack = std::min(kMostSlack, (room - total) / static_cast<double>(count));
        for (double& w : plan.widths) w += slack;
    }
    double left = 0.0;
    for (const double w : plan.widths) {
        plan.lefts.push_back(left);
        left += w + kCellGap;
    }
    plan.width = std::max(0.0, left - kCellGap);
    return plan;
}

}  // namespace layproof::paper
