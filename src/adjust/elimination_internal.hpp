#pragma once
// In what order blocks are eliminated, and the dense fronts that come of it. Not for other rooms.
//
// Multifrontal elimination (Duff and Reid 1983; Liu 1992, "The multifrontal method for sparse
// matrix solution"): columns of the Cholesky factor with (nearly) the same rows form a front, a
// dense trapezoid. Fronts form a tree; what a front leaves over is added into its parent's. All of
// this is found from the pattern alone, once.

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace layproof::adjust::internal {

/// Which blocks stand together somewhere: both directions, no loops.
struct BlockGraph {
    std::vector<int> begin;  ///< per block, and one past the end
    std::vector<int> neighbour;
    std::vector<std::uint32_t>
        edge;               ///< per entry of neighbour: where the pair's product is stored
    std::vector<int> size;  ///< numbers in each block

    int count() const { return static_cast<int>(size.size()); }
};

/// order[k]: the block to be eliminated as the k-th.
std::vector<int> minimum_degree_order(const BlockGraph& graph);
/// Empty where this build has no METIS (front_library.hpp).
std::vector<int> nested_dissection_order(const BlockGraph& graph);

/// Blocks that touch only a few others, none of them among themselves, may all go first: where they
/// are most of the graph, only what they leave need be ordered with care.
struct ReducedGraph {
    explicit ReducedGraph(const BlockGraph& graph);

    bool is_worthwhile = false;  ///< else nothing below is filled
    std::vector<int> first;      ///< blocks that go first
    std::vector<int> kept;       ///< the others: block of the whole graph, per block of `rest`
    BlockGraph rest;  ///< with the pairs that eliminating the first ones makes; no `edge`

    /// An order of the whole graph from one of the rest.
    std::vector<int> extend(const std::vector<int>& order) const;
};

/// Elimination tree of an order, with what each column costs.
struct EliminationTree {
    EliminationTree(const BlockGraph& graph, std::vector<int> order);

    std::vector<int> order;     ///< as given, rearranged into a postorder of the tree
    std::vector<int> position;  ///< its inverse
    std::vector<int> parent;    ///< per position; −1 at a root
    std::vector<std::int64_t>
        height;  ///< per position: numbers in a column of its block, own included
    double multiplications = 0.0;
};

/// A stretch of rows of a front's remainder that stay side by side in its parent.
struct RowRun {
    int from = 0;  ///< row of the child's remainder
    int to = 0;    ///< row of the parent's front
    int length = 0;
};

/// A product of the normal matrix and its place in a front.
struct FrontEntry {
    std::uint32_t source = 0;  ///< into the normal matrix
    int row = 0;               ///< of the front
    int column = 0;
    std::uint8_t rows = 0;
    std::uint8_t columns = 0;
    bool transposed = false;
};

struct Front {
    int first_position = 0;  ///< of its blocks
    int block_count = 0;
    int first_column = 0;  ///< of the whole matrix
    int columns = 0;
    int rows = 0;       ///< below its own columns
    int row_begin = 0;  ///< into Fronts::row: `rows` numbers
    int parent = -1;
    int child_begin = 0;  ///< into Fronts::child
    int child_count = 0;
    int run_begin = 0;  ///< into Fronts::run: how its remainder goes into the parent
    int run_count = 0;
    int entry_begin = 0;  ///< into Fronts::entry
    int entry_count = 0;
    std::size_t numbers_begin = 0;  ///< of its (columns + rows) × columns in the factor

    int height() const { return columns + rows; }
};

struct Fronts {
    Fronts(const BlockGraph& graph, const EliminationTree& tree,
           const std::vector<std::uint32_t>& diagonal);

    std::vector<int> order;         ///< blocks in order of elimination
    std::vector<int> position;      ///< its inverse
    std::vector<int> first_column;  ///< per position, and one past the end
    std::vector<int> front_of;      ///< per position
    std::vector<Front> front;       ///< children before parents
    std::vector<int> child;         ///< in ascending order for each front
    std::vector<char> side;  ///< per front: on which of two stacks its remainder waits, by depth
    std::vector<int> row;    ///< columns of the whole matrix
    std::vector<RowRun> run;
    std::vector<FrontEntry> entry;
    std::size_t factor_numbers = 0;
    std::array<std::size_t, 2> stack_numbers{};  ///< what each stack has to hold
    std::size_t largest_panel = 0;               ///< of height × columns
    int largest_front = 0;

    int column_count() const { return first_column.back(); }
};

}  // namespace layproof::adjust::internal
