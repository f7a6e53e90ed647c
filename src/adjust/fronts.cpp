#include <algorithm>
#include <cassert>
#include <cstdint>
#include <numeric>
#include <utility>

#include "adjust/elimination_internal.hpp"

namespace layproof::adjust::internal {
namespace {

std::size_t front_at(int index) {
    return static_cast<std::size_t>(index);
}

// A child joins its parent while few zeros are stored for it: fewer, larger fronts are faster.
// Thresholds by the number of columns together, found by trial (bench/network_bench).
struct MergeRule {
    int columns;
    double zeros;
};
constexpr MergeRule kMergeRules[] = {{8, 0.7}, {24, 0.4}, {64, 0.15}, {1 << 30, 0.05}};

double trapezoid(double columns, double rows) {
    return 0.5 * columns * (columns + 1.0) + columns * rows;
}

// Fronts before they are numbered: columns with the same rows, then merged.
class FrontTree {
public:
    FrontTree(const BlockGraph& graph, const EliminationTree& tree);

    /// Fronts in an order in which little has to be kept; their columns as positions of the tree.
    std::vector<std::vector<int>> arrange(std::vector<int>& parent);

private:
    struct Node {
        int parent = -1;
        int columns = 0;
        int rows = 0;
        double filled = 0.0;  // numbers of the factor that are not zeros of merging
        int first = -1;       // its columns, a chain in next_
        int last = -1;
        bool is_merged = false;
    };

    void collect(const BlockGraph& graph, const EliminationTree& tree);
    void merge();
    bool is_worth_merging(const Node& child, const Node& parent) const;

    std::vector<Node> nodes_;
    std::vector<int> next_;
};

FrontTree::FrontTree(const BlockGraph& graph, const EliminationTree& tree) {
    collect(graph, tree);
    merge();
}

void FrontTree::collect(const BlockGraph& graph, const EliminationTree& tree) {
    const int n = graph.count();
    next_.assign(front_at(n), -1);
    std::vector<int> node_of(front_at(n));
    for (int j = 0; j < n; ++j) {
        const int size = graph.size[front_at(tree.order[front_at(j)])];
        const bool joins =
            j > 0 && tree.parent[front_at(j - 1)] == j &&
            tree.height[front_at(j - 1)] ==
                tree.height[front_at(j)] + graph.size[front_at(tree.order[front_at(j - 1)])];
        if (!joins) {
            nodes_.push_back({});
            nodes_.back().first = j;
        } else {
            next_[front_at(j - 1)] = j;
        }
        Node& node = nodes_.back();
        node.columns += size;
        node.rows = static_cast<int>(tree.height[front_at(j)]) - size;
        node.last = j;
        node_of[front_at(j)] = static_cast<int>(nodes_.size()) - 1;
    }
    for (Node& node : nodes_) {
        const int p = tree.parent[front_at(node.last)];
        node.parent = p < 0 ? -1 : node_of[front_at(p)];
        node.filled = trapezoid(node.columns, node.rows);
    }
}

bool FrontTree::is_worth_merging(const Node& child, const Node& parent) const {
    const int columns = child.columns + parent.columns;
    const double zeros = 1.0 - (child.filled + parent.filled) / trapezoid(columns, parent.rows);
    for (const MergeRule& rule : kMergeRules) {
        if (columns <= rule.columns) return zeros <= rule.zeros;
    }
    return false;
}

void FrontTree::merge() {
    // Children come before parents. The child with the tallest remainder first: it costs least.
    const int n = static_cast<int>(nodes_.size());
    std::vector<int> begin(front_at(n) + 1, 0);
    for (const Node& node : nodes_) {
        if (node.parent >= 0) ++begin[front_at(node.parent) + 1];
    }
    std::partial_sum(begin.begin(), begin.end(), begin.begin());
    std::vector<int> children(front_at(begin.back()));
    std::vector<int> fill(begin.begin(), begin.end() - 1);
    for (int s = 0; s < n; ++s) {
        if (nodes_[front_at(s)].parent >= 0)
            children[front_at(fill[front_at(nodes_[front_at(s)].parent)]++)] = s;
    }
    for (int p = 0; p < n; ++p) {
        const auto from = children.begin() + begin[front_at(p)];
        const auto to = children.begin() + begin[front_at(p) + 1];
        std::stable_sort(from, to, [this](int a, int b) {
            return nodes_[front_at(a)].rows > nodes_[front_at(b)].rows;
        });
        Node& parent = nodes_[front_at(p)];
        for (auto it = from; it != to; ++it) {
            Node& child = nodes_[front_at(*it)];
            if (!is_worth_merging(child, parent)) continue;
            child.is_merged = true;
            next_[front_at(child.last)] = parent.first;
            parent.first = child.first;
            parent.columns += child.columns;
            parent.filled += child.filled;
        }
    }
    for (Node& node : nodes_) {
        while (node.parent >= 0 && nodes_[front_at(node.parent)].is_merged)
            node.parent = nodes_[front_at(node.parent)].parent;
    }
}

std::vector<std::vector<int>> FrontTree::arrange(std::vector<int>& parent) {
    const int n = static_cast<int>(nodes_.size());
    std::vector<std::vector<int>> children(front_at(n));
    std::vector<int> roots;
    std::vector<std::size_t> peak(front_at(n), 0);
    // Liu 1986, "On the storage requirement in the out-of-core multifrontal method": children in
    // falling order of what they need beyond what they leave.
    for (int s = 0; s < n; ++s) {
        const Node& node = nodes_[front_at(s)];
        if (node.is_merged) continue;
        const auto left = [this](int c) {
            const auto rows = static_cast<std::size_t>(nodes_[front_at(c)].rows);
            return rows * rows;
        };
        auto& own = children[front_at(s)];
        std::stable_sort(own.begin(), own.end(), [&](int a, int b) {
            return peak[front_at(a)] - left(a) > peak[front_at(b)] - left(b);
        });
        std::size_t kept = 0;
        for (const int c : own) {
            peak[front_at(s)] = std::max(peak[front_at(s)], kept + peak[front_at(c)]);
            kept += left(c);
        }
        peak[front_at(s)] = std::max(peak[front_at(s)], kept + left(s));
        if (node.parent >= 0) {
            children[front_at(node.parent)].push_back(s);
        } else {
            roots.push_back(s);
        }
    }
    std::vector<std::vector<int>> fronts;
    std::vector<int> number(front_at(n), -1);
    std::vector<int> source;
    std::vector<std::pair<int, std::size_t>> path;
    for (const int root : roots) {
        path.emplace_back(root, 0);
        while (!path.empty()) {
            auto& [s, done] = path.back();
            if (done < children[front_at(s)].size()) {
                const int child = children[front_at(s)][done++];
                path.emplace_back(child, 0);
                continue;
            }
            number[front_at(s)] = static_cast<int>(fronts.size());
            source.push_back(s);
            std::vector<int> columns;
            for (int j = nodes_[front_at(s)].first; j != -1; j = next_[front_at(j)])
                columns.push_back(j);
            fronts.push_back(std::move(columns));
            path.pop_back();
        }
    }
    parent.clear();
    for (const int s : source) {
        const int p = nodes_[front_at(s)].parent;
        parent.push_back(p < 0 ? -1 : number[front_at(p)]);
    }
    return fronts;
}

}  // namespace

Fronts::Fronts(const BlockGraph& graph, const EliminationTree& tree,
               const std::vector<std::uint32_t>& diagonal) {
    const int n = graph.count();
    std::vector<int> parent;
    std::vector<std::vector<int>> members;
    {
        FrontTree merged(graph, tree);
        members = merged.arrange(parent);
    }
    const int count = static_cast<int>(members.size());
    front.resize(front_at(count));
    order.reserve(front_at(n));
    position.resize(front_at(n));
    front_of.resize(front_at(n));
    first_column.reserve(front_at(n) + 1);
    int column = 0;
    for (int s = 0; s < count; ++s) {
        Front& own = front[front_at(s)];
        own.first_position = static_cast<int>(order.size());
        own.block_count = static_cast<int>(members[front_at(s)].size());
        own.first_column = column;
        own.parent = parent[front_at(s)];
        for (const int j : members[front_at(s)]) {
            const int block = tree.order[front_at(j)];
            position[front_at(block)] = static_cast<int>(order.size());
            front_of[order.size()] = s;
            order.push_back(block);
            first_column.push_back(column);
            column += graph.size[front_at(block)];
        }
        own.columns = column - own.first_column;
    }
    first_column.push_back(column);
    members = {};

    for (int s = 0; s < count; ++s) {
        if (parent[front_at(s)] >= 0) ++front[front_at(parent[front_at(s)])].child_count;
    }
    int children = 0;
    for (Front& own : front) {
        own.child_begin = children;
        children += std::exchange(own.child_count, 0);
    }
    child.resize(front_at(children));
    for (int s = 0; s < count; ++s) {
        if (parent[front_at(s)] < 0) continue;
        Front& above = front[front_at(parent[front_at(s)])];
        child[front_at(above.child_begin + above.child_count++)] = s;
    }

    // Rows of each front, as positions; then everything that is found through them.
    std::vector<std::vector<int>> rows(front_at(count));
    std::vector<int> seen(front_at(n), -1);
    std::vector<int> local(front_at(n), -1);  // row of the front at work
    for (int s = 0; s < count; ++s) {
        Front& own = front[front_at(s)];
        const int end = own.first_position + own.block_count;
        std::vector<int>& list = rows[front_at(s)];
        const auto add = [&](int k) {
            if (k < end || seen[front_at(k)] == s) return;
            seen[front_at(k)] = s;
            list.push_back(k);
        };
        for (int c = 0; c < own.child_count; ++c) {
            for (const int k : rows[front_at(child[front_at(own.child_begin + c)])]) add(k);
        }
        for (int k = own.first_position; k < end; ++k) {
            const int block = order[front_at(k)];
            for (int e = graph.begin[front_at(block)]; e < graph.begin[front_at(block) + 1]; ++e)
                add(position[front_at(graph.neighbour[front_at(e)])]);
        }
        std::sort(list.begin(), list.end());

        for (int k = own.first_position; k < end; ++k)
            local[front_at(k)] = first_column[front_at(k)] - own.first_column;
        own.row_begin = static_cast<int>(row.size());
        for (const int k : list) {
            local[front_at(k)] = own.columns + static_cast<int>(row.size()) - own.row_begin;
            for (int i = first_column[front_at(k)]; i < first_column[front_at(k) + 1]; ++i)
                row.push_back(i);
        }
        own.rows = static_cast<int>(row.size()) - own.row_begin;

        for (int c = 0; c < own.child_count; ++c) {
            Front& below = front[front_at(child[front_at(own.child_begin + c)])];
            std::vector<int>& below_rows = rows[front_at(child[front_at(own.child_begin + c)])];
            below.run_begin = static_cast<int>(run.size());
            int from = 0;
            for (const int k : below_rows) {
                const int size = first_column[front_at(k) + 1] - first_column[front_at(k)];
                const int to = local[front_at(k)];
                const bool starts = static_cast<int>(run.size()) == below.run_begin;
                if (!starts && run.back().to + run.back().length == to)
                    run.back().length += size;
                else
                    run.push_back({from, to, size});
                from += size;
            }
            below.run_count = static_cast<int>(run.size()) - below.run_begin;
            below_rows = {};
        }

        own.entry_begin = static_cast<int>(entry.size());
        for (int k = own.first_position; k < end; ++k) {
            const int block = order[front_at(k)];
            const auto size = static_cast<std::uint8_t>(graph.size[front_at(block)]);
            entry.push_back({diagonal[front_at(block)], local[front_at(k)], local[front_at(k)],
                             size, size, false});
            for (int e = graph.begin[front_at(block)]; e < graph.begin[front_at(block) + 1]; ++e) {
                const int other = graph.neighbour[front_at(e)];
                const int k_other = position[front_at(other)];
                if (k_other < k) continue;
                const auto other_size = static_cast<std::uint8_t>(graph.size[front_at(other)]);
                // Stored with the block of the larger index as rows.
                entry.push_back({graph.edge[front_at(e)], local[front_at(k_other)],
                                 local[front_at(k)], other_size, size, other < block});
            }
        }
        own.entry_count = static_cast<int>(entry.size()) - own.entry_begin;

        own.numbers_begin = factor_numbers;
        const auto panel =
            static_cast<std::size_t>(own.height()) * static_cast<std::size_t>(own.columns);
        factor_numbers += panel;
        largest_panel = std::max(largest_panel, panel);
        largest_front = std::max(largest_front, own.height());
    }

    // Remainders wait on two stacks by the parity of their depth: a front's own and those it takes
    // in are never on the same one.
    side.assign(front_at(count), 0);
    for (int s = count - 1; s >= 0; --s) {
        const int above = front[front_at(s)].parent;
        if (above >= 0) side[front_at(s)] = side[front_at(above)] == 0 ? 1 : 0;
    }
    std::array<std::size_t, 2> top{};
    for (int s = 0; s < count; ++s) {
        const Front& own = front[front_at(s)];
        const auto here = static_cast<std::size_t>(side[front_at(s)]);
        top[here] += static_cast<std::size_t>(own.rows) * static_cast<std::size_t>(own.rows);
        stack_numbers[here] = std::max(stack_numbers[here], top[here]);
        for (int c = 0; c < own.child_count; ++c) {
            const auto left = static_cast<std::size_t>(
                front[front_at(child[front_at(own.child_begin + c)])].rows);
            top[1 - here] -= left * left;
        }
    }
}

}  // namespace layproof::adjust::internal
