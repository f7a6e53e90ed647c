#include <Eigen/OrderingMethods>
#include <Eigen/SparseCore>
#include <algorithm>
#include <numeric>
#include <utility>

#include "adjust/elimination_internal.hpp"
#ifdef LAYPROOF_FRONT_LIBRARY
#include <stdexcept>

#include "adjust/front_library.hpp"
#endif

namespace layproof::adjust::internal {
namespace {

std::size_t number_of(int index) {
    return static_cast<std::size_t>(index);
}

// Parent of each position (Liu 1990, "The role of elimination trees in sparse factorization").
std::vector<int> find_parents(const BlockGraph& graph, const std::vector<int>& order,
                              const std::vector<int>& position) {
    const int n = graph.count();
    std::vector<int> parent(number_of(n), -1);
    std::vector<int> ancestor(number_of(n), -1);
    for (int j = 0; j < n; ++j) {
        const int block = order[number_of(j)];
        for (int e = graph.begin[number_of(block)]; e < graph.begin[number_of(block) + 1]; ++e) {
            int i = position[number_of(graph.neighbour[number_of(e)])];
            while (i != -1 && i < j) {
                const int next = ancestor[number_of(i)];
                ancestor[number_of(i)] = j;
                if (next == -1) parent[number_of(i)] = j;
                i = next;
            }
        }
    }
    return parent;
}

// Nodes so that every subtree is one stretch that ends with its root.
std::vector<int> postorder(const std::vector<int>& parent) {
    const int n = static_cast<int>(parent.size());
    std::vector<int> first_child(number_of(n), -1);
    std::vector<int> sibling(number_of(n), -1);
    std::vector<int> roots;
    for (int j = n - 1; j >= 0; --j) {
        const int p = parent[number_of(j)];
        if (p < 0) {
            roots.push_back(j);
        } else {
            sibling[number_of(j)] = first_child[number_of(p)];
            first_child[number_of(p)] = j;
        }
    }
    std::vector<int> out;
    out.reserve(number_of(n));
    std::vector<int> path;
    for (auto root = roots.rbegin(); root != roots.rend(); ++root) {
        path.push_back(*root);
        while (!path.empty()) {
            const int node = path.back();
            const int child = first_child[number_of(node)];
            if (child >= 0) {
                first_child[number_of(node)] = sibling[number_of(child)];
                path.push_back(child);
            } else {
                out.push_back(node);
                path.pop_back();
            }
        }
    }
    return out;
}

std::vector<int> inverse_of(const std::vector<int>& order) {
    std::vector<int> out(order.size());
    for (std::size_t k = 0; k < order.size(); ++k) out[number_of(order[k])] = static_cast<int>(k);
    return out;
}

// Numbers per column, by row subtrees (Gilbert, Ng and Peyton 1994, "An efficient algorithm to
// compute row and column counts for sparse Cholesky factorization"), each row counted with its
// block's size. Positions are in postorder.
std::vector<std::int64_t> column_heights(const BlockGraph& graph, const std::vector<int>& order,
                                         const std::vector<int>& position,
                                         const std::vector<int>& parent) {
    const int n = graph.count();
    const auto size = [&](int j) { return graph.size[number_of(order[number_of(j)])]; };
    std::vector<std::int64_t> height(number_of(n), 0);
    std::vector<int> first(number_of(n), -1);
    for (int k = 0; k < n; ++k) {
        if (first[number_of(k)] == -1) height[number_of(k)] = size(k);
        for (int j = k; j != -1 && first[number_of(j)] == -1; j = parent[number_of(j)])
            first[number_of(j)] = k;
    }
    std::vector<int> largest_first(number_of(n), -1);
    std::vector<int> previous_leaf(number_of(n), -1);
    std::vector<int> ancestor(number_of(n));
    std::iota(ancestor.begin(), ancestor.end(), 0);
    for (int j = 0; j < n; ++j) {
        if (parent[number_of(j)] != -1) height[number_of(parent[number_of(j)])] -= size(j);
        const int block = order[number_of(j)];
        for (int e = graph.begin[number_of(block)]; e < graph.begin[number_of(block) + 1]; ++e) {
            const int i = position[number_of(graph.neighbour[number_of(e)])];
            if (i <= j || first[number_of(j)] <= largest_first[number_of(i)]) continue;
            largest_first[number_of(i)] = first[number_of(j)];
            const int previous = std::exchange(previous_leaf[number_of(i)], j);
            height[number_of(j)] += size(i);
            if (previous == -1) continue;
            int q = previous;
            while (q != ancestor[number_of(q)]) q = ancestor[number_of(q)];
            for (int s = previous; s != q;) {
                const int next = ancestor[number_of(s)];
                ancestor[number_of(s)] = q;
                s = next;
            }
            height[number_of(q)] -= size(i);
        }
        if (parent[number_of(j)] != -1) ancestor[number_of(j)] = parent[number_of(j)];
    }
    for (int j = 0; j < n; ++j) {
        if (parent[number_of(j)] != -1)
            height[number_of(parent[number_of(j)])] += height[number_of(j)];
    }
    return height;
}

}  // namespace

std::vector<int> minimum_degree_order(const BlockGraph& graph) {
    const int n = graph.count();
    std::vector<int> order(number_of(n));
    std::iota(order.begin(), order.end(), 0);
    if (graph.neighbour.empty()) return order;
    // Eigen's ordering reads the pattern alone; it wants the diagonal too.
    Eigen::SparseMatrix<char, Eigen::ColMajor, int> pattern(n, n);
    pattern.resizeNonZeros(static_cast<Eigen::Index>(graph.neighbour.size()) + n);
    int* outer = pattern.outerIndexPtr();
    int* inner = pattern.innerIndexPtr();
    int filled = 0;
    for (int j = 0; j < n; ++j) {
        outer[j] = filled;
        inner[filled++] = j;
        for (int e = graph.begin[number_of(j)]; e < graph.begin[number_of(j) + 1]; ++e)
            inner[filled++] = graph.neighbour[number_of(e)];
    }
    outer[n] = filled;
    std::fill_n(pattern.valuePtr(), filled, char{1});
    Eigen::PermutationMatrix<Eigen::Dynamic, Eigen::Dynamic, int> permutation;
    Eigen::internal::minimum_degree_ordering(pattern, permutation);
    for (int k = 0; k < n; ++k) order[number_of(k)] = permutation.indices()(k);
    return order;
}

#ifdef LAYPROOF_FRONT_LIBRARY
std::vector<int> nested_dissection_order(const BlockGraph& graph) {
    const int n = graph.count();
    std::vector<int> order(number_of(n));
    std::iota(order.begin(), order.end(), 0);
    if (graph.neighbour.empty()) return order;
    const auto& library = front_library();
    if (!library) throw std::runtime_error(library.refusal().to_text());
    // METIS takes pointers to what it does not change.
    std::vector<int> begin(graph.begin);
    std::vector<int> neighbour(graph.neighbour);
    std::vector<int> size(graph.size);
    std::vector<int> position(number_of(n));
    if (!(*library)->dissect(n, begin.data(), neighbour.data(), size.data(), order.data(),
                             position.data()))
        return {};
    return order;
}
#else
std::vector<int> nested_dissection_order(const BlockGraph&) {
    return {};
}
#endif

ReducedGraph::ReducedGraph(const BlockGraph& graph) {
    // More neighbours than this, and the pairs they make cost more than they save.
    constexpr int kFewNeighbours = 48;
    constexpr double kMostOfGraph = 0.6;
    constexpr int kSmall = 2000;
    const int n = graph.count();
    if (n < kSmall) return;
    std::vector<char> state(number_of(n), 0);  // 1: goes first, 2: has a neighbour that does
    const auto degree = [&](int v) {
        return graph.begin[number_of(v) + 1] - graph.begin[number_of(v)];
    };
    // Blocks of low degree get the choice.
    std::vector<std::vector<int>> by_degree(number_of(kFewNeighbours + 1));
    for (int v = 0; v < n; ++v) {
        if (degree(v) <= kFewNeighbours) by_degree[number_of(degree(v))].push_back(v);
    }
    for (const auto& level : by_degree) {
        for (const int v : level) {
            if (state[number_of(v)] != 0) continue;
            state[number_of(v)] = 1;
            first.push_back(v);
            for (int e = graph.begin[number_of(v)]; e < graph.begin[number_of(v) + 1]; ++e)
                state[number_of(graph.neighbour[number_of(e)])] = 2;
        }
    }
    if (static_cast<double>(first.size()) < kMostOfGraph * n) {
        first.clear();
        return;
    }
    is_worthwhile = true;
    std::vector<int> number(number_of(n), -1);
    for (int v = 0; v < n; ++v) {
        if (state[number_of(v)] == 1) continue;
        number[number_of(v)] = static_cast<int>(kept.size());
        kept.push_back(v);
        rest.size.push_back(graph.size[number_of(v)]);
    }
    std::vector<int> seen(kept.size(), -1);
    rest.begin.push_back(0);
    for (const int v : kept) {
        const int own = number[number_of(v)];
        seen[number_of(own)] = own;
        const auto meet = [&](int other) {
            if (seen[number_of(other)] == own) return;
            seen[number_of(other)] = own;
            rest.neighbour.push_back(other);
        };
        for (int e = graph.begin[number_of(v)]; e < graph.begin[number_of(v) + 1]; ++e) {
            const int w = graph.neighbour[number_of(e)];
            if (number[number_of(w)] >= 0) {
                meet(number[number_of(w)]);
                continue;
            }
            for (int k = graph.begin[number_of(w)]; k < graph.begin[number_of(w) + 1]; ++k)
                meet(number[number_of(graph.neighbour[number_of(k)])]);
        }
        rest.begin.push_back(static_cast<int>(rest.neighbour.size()));
    }
}

std::vector<int> ReducedGraph::extend(const std::vector<int>& order) const {
    std::vector<int> out(first);
    out.reserve(first.size() + order.size());
    for (const int k : order) out.push_back(kept[number_of(k)]);
    return out;
}

EliminationTree::EliminationTree(const BlockGraph& graph, std::vector<int> given)
    : order(std::move(given)) {
    const int n = graph.count();
    position = inverse_of(order);
    const std::vector<int> loose_parent = find_parents(graph, order, position);
    const std::vector<int> visit = postorder(loose_parent);
    const std::vector<int> visited_as = inverse_of(visit);
    std::vector<int> arranged(number_of(n));
    parent.resize(number_of(n));
    for (int k = 0; k < n; ++k) {
        const int old = visit[number_of(k)];
        arranged[number_of(k)] = order[number_of(old)];
        const int p = loose_parent[number_of(old)];
        parent[number_of(k)] = p < 0 ? -1 : visited_as[number_of(p)];
    }
    order = std::move(arranged);
    position = inverse_of(order);
    height = column_heights(graph, order, position, parent);
    for (int k = 0; k < n; ++k) {
        const double size = graph.size[number_of(order[number_of(k)])];
        const double tall = static_cast<double>(height[number_of(k)]);
        multiplications += 0.5 * size * tall * tall;
    }
}

}  // namespace layproof::adjust::internal
