#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

#include "adjust/sparse_normal_internal.hpp"

namespace layproof::adjust::internal {
namespace {

using ProblemBatch = SparseProblem::Batch;

std::size_t place(int index) {
    return static_cast<std::size_t>(index);
}

// ---- one chunk ----

template <int Rows>
void whiten_rows(const double* factors, int count, int width, const double* plain, double* residual,
                 double* jacobian) {
    constexpr int kFactor = Rows * (Rows + 1) / 2;
    for (int i = 0; i < count; ++i) {
        const double* f = factors + i * kFactor;
        const double* v = plain + i * Rows;
        double* w = residual + i * Rows;
        // From the last row up: what is read has not been overwritten.
        double* j = jacobian == nullptr ? nullptr : jacobian + i * Rows * width;
        for (int r = Rows - 1; r >= 0; --r) {
            const double* row = f + r * (r + 1) / 2;
            double sum = row[r] * v[r];
            for (int k = 0; k < r; ++k) sum += row[k] * v[k];
            w[r] = sum;
            if (j == nullptr) continue;
            for (int c = 0; c < width; ++c) {
                double product = row[r] * j[r * width + c];
                for (int k = 0; k < r; ++k) product += row[k] * j[k * width + c];
                j[r * width + c] = product;
            }
        }
    }
}

// matrix += J_aᵀJ_b for each block of the chunk.
using Product = void (*)(const double* a, const double* b, int count, int width,
                         const std::uint32_t* target, int stride, double* matrix);

template <int Rows, int SizeA, int SizeB>
void add_products(const double* a, const double* b, int count, int width,
                  const std::uint32_t* target, int stride, double* matrix) {
    const std::ptrdiff_t step = static_cast<std::ptrdiff_t>(Rows) * width;
    for (int i = 0; i < count; ++i, a += step, b += step, target += stride) {
        double* out = matrix + (*target >> 1);
        const bool transposed = (*target & 1) != 0;
        const int row_step = transposed ? 1 : SizeB;
        const int column_step = transposed ? SizeA : 1;
        for (int p = 0; p < SizeA; ++p) {
            for (int q = 0; q < SizeB; ++q) {
                double sum = a[p] * b[q];
                for (int r = 1; r < Rows; ++r) sum += a[r * width + p] * b[r * width + q];
                out[p * row_step + q * column_step] += sum;
            }
        }
    }
}

template <int Rows>
Product choose_product(int size_a, int size_b) {
    static constexpr Product kTable[3][3] = {
        {add_products<Rows, 1, 1>, add_products<Rows, 1, 2>, add_products<Rows, 1, 3>},
        {add_products<Rows, 2, 1>, add_products<Rows, 2, 2>, add_products<Rows, 2, 3>},
        {add_products<Rows, 3, 1>, add_products<Rows, 3, 2>, add_products<Rows, 3, 3>}};
    return kTable[size_a - 1][size_b - 1];
}

Product choose_product(int rows, int size_a, int size_b) {
    switch (rows) {
        case 1:
            return choose_product<1>(size_a, size_b);
        case 2:
            return choose_product<2>(size_a, size_b);
        default:
            return choose_product<3>(size_a, size_b);
    }
}

void weigh(const double* weights, int count, int rows, int width, double* residual,
           double* jacobian) {
    for (int i = 0; i < count; ++i) {
        if (weights[i] == 1.0) continue;
        const double root = std::sqrt(weights[i]);
        for (int r = 0; r < rows; ++r) residual[i * rows + r] *= root;
        if (jacobian == nullptr) continue;
        double* j = jacobian + static_cast<std::ptrdiff_t>(i) * rows * width;
        for (int k = 0; k < rows * width; ++k) j[k] *= root;
    }
}

void add_gradient(const ProblemBatch& batch, int first, int count, const double* residual,
                  const double* jacobian, double* gradient) {
    const int blocks = batch.block_count();
    const int* offset = batch.offsets.data() + static_cast<std::ptrdiff_t>(first) * blocks;
    for (int i = 0; i < count; ++i, offset += blocks) {
        const double* v = residual + i * batch.rows;
        const double* j = jacobian + static_cast<std::ptrdiff_t>(i) * batch.rows * batch.width;
        int column = 0;
        for (int b = 0; b < blocks; ++b) {
            double* g = gradient + offset[b];
            for (int k = 0; k < batch.sizes[place(b)]; ++k, ++column) {
                double sum = 0.0;
                for (int r = 0; r < batch.rows; ++r) sum += j[r * batch.width + column] * v[r];
                g[k] += sum;
            }
        }
    }
}

// ---- the pattern ----

struct PairUse {
    int other = 0;
    std::uint32_t* target = nullptr;
    bool transposed = false;
};

}  // namespace

void WhitenedChunk::evaluate(const ProblemBatch& batch, const double* values, int first, int count,
                             bool with_jacobian) {
    const auto rows = place(count) * place(batch.rows);
    plain.resize(std::max(plain.size(), rows));
    residual.resize(std::max(residual.size(), rows));
    if (with_jacobian) jacobian.resize(std::max(jacobian.size(), rows * place(batch.width)));
    Chunk chunk;
    chunk.first = first;
    chunk.count = count;
    chunk.blocks = batch.block_count();
    chunk.width = batch.width;
    chunk.values = values;
    chunk.offsets = batch.offsets.data() + static_cast<std::ptrdiff_t>(first) * chunk.blocks;
    chunk.residual = plain.data();
    chunk.jacobian = with_jacobian ? jacobian.data() : nullptr;
    batch.function->evaluate(chunk);
    const double* factors =
        batch.factors.data() + static_cast<std::ptrdiff_t>(first) * batch.factor_size();
    switch (batch.rows) {
        case 1:
            whiten_rows<1>(factors, count, batch.width, plain.data(), residual.data(),
                           chunk.jacobian);
            break;
        case 2:
            whiten_rows<2>(factors, count, batch.width, plain.data(), residual.data(),
                           chunk.jacobian);
            break;
        default:
            whiten_rows<3>(factors, count, batch.width, plain.data(), residual.data(),
                           chunk.jacobian);
    }
}

bool accumulate(const SparseProblem& problem, const NormalPattern& pattern, const double* values,
                Depth depth, SparseNormal& out) {
    const bool with_jacobian = depth != Depth::square_sum;
    if (with_jacobian) out.gradient.assign(problem.values().size(), 0.0);
    if (depth == Depth::matrix) out.matrix.assign(pattern.numbers, 0.0);
    out.square_sum = 0.0;
    WhitenedChunk work;
    for (std::size_t n = 0; n < problem.batches().size(); ++n) {
        const ProblemBatch& batch = problem.batches()[n];
        const int blocks = batch.block_count();
        const int pairs = blocks * (blocks + 1) / 2;
        std::vector<Product> products;
        for (int a = 0; a < blocks; ++a) {
            for (int b = 0; b <= a; ++b)
                products.push_back(
                    choose_product(batch.rows, batch.sizes[place(a)], batch.sizes[place(b)]));
        }
        for (int first = 0; first < batch.count; first += kChunk) {
            const int count = std::min(kChunk, batch.count - first);
            work.evaluate(batch, values, first, count, with_jacobian);
            double* residual = work.residual.data();
            double* jacobian = with_jacobian ? work.jacobian.data() : nullptr;
            weigh(batch.weights.data() + first, count, batch.rows, batch.width, residual, jacobian);
            double sum = 0.0;
            for (int i = 0; i < count * batch.rows; ++i) sum += residual[i] * residual[i];
            out.square_sum += sum;
            if (!with_jacobian) continue;
            add_gradient(batch, first, count, residual, jacobian, out.gradient.data());
            if (depth != Depth::matrix) continue;
            const std::uint32_t* target =
                pattern.target[n].data() + static_cast<std::ptrdiff_t>(first) * pairs;
            for (int a = 0, pair = 0; a < blocks; ++a) {
                for (int b = 0; b <= a; ++b, ++pair)
                    products[place(pair)](jacobian + batch.columns[place(a)],
                                          jacobian + batch.columns[place(b)], count, batch.width,
                                          target + pair, pairs, out.matrix.data());
            }
        }
    }
    if (!std::isfinite(out.square_sum)) return false;
    if (!with_jacobian) return true;
    for (std::size_t f = 0; f < pattern.parameter.size(); ++f) {
        const auto& block = problem.parameters()[place(pattern.parameter[f])];
        for (int k = 0; k < block.size; ++k) {
            if (!std::isfinite(out.gradient[place(block.offset + k)])) return false;
            if (depth == Depth::matrix &&
                !std::isfinite(out.matrix[pattern.diagonal[f] + place(k * (block.size + 1))]))
                return false;
        }
    }
    return true;
}

NormalPattern::NormalPattern(const SparseProblem& problem) {
    const auto& parameters = problem.parameters();
    free_index.assign(parameters.size(), -1);
    for (std::size_t p = 0; p < parameters.size(); ++p) {
        if (parameters[p].held) continue;
        free_index[p] = static_cast<int>(parameter.size());
        parameter.push_back(static_cast<int>(p));
        graph.size.push_back(parameters[p].size);
        unknowns += parameters[p].size;
    }
    const int n = graph.count();

    // Pairs by the block of the larger index, so that equal pairs are met together.
    std::vector<std::size_t> begin(place(n) + 1, 0);
    const auto for_each_pair = [&](auto visit) {
        for (std::size_t m = 0; m < problem.batches().size(); ++m) {
            const ProblemBatch& batch = problem.batches()[m];
            const int blocks = batch.block_count();
            std::uint32_t* slot = target[m].data();
            for (int i = 0; i < batch.count; ++i) {
                const int* own = batch.parameters.data() + static_cast<std::ptrdiff_t>(i) * blocks;
                for (int a = 0; a < blocks; ++a) {
                    const int free_a = free_index[place(own[a])];
                    for (int b = 0; b <= a; ++b, ++slot) {
                        const int free_b = free_index[place(own[b])];
                        if (free_a >= 0 && free_b >= 0) visit(free_a, free_b, slot);
                    }
                }
            }
        }
    };
    for (const ProblemBatch& batch : problem.batches()) {
        const auto pairs = place(batch.block_count() * (batch.block_count() + 1) / 2);
        target.emplace_back(place(batch.count) * pairs, kNowhere);
    }
    for_each_pair([&](int a, int b, std::uint32_t*) {
        if (a != b) ++begin[place(std::max(a, b)) + 1];
    });
    std::partial_sum(begin.begin(), begin.end(), begin.begin());
    std::vector<PairUse> uses(begin.back());
    {
        std::vector<std::size_t> fill(begin.begin(), begin.end() - 1);
        for_each_pair([&](int a, int b, std::uint32_t* slot) {
            if (a != b) uses[fill[place(std::max(a, b))]++] = {std::min(a, b), slot, a < b};
        });
    }

    numbers = std::size_t{SparseProblem::kMaxSize} * SparseProblem::kMaxSize;  // kNowhere
    diagonal.resize(place(n));
    std::vector<int> lower_other;
    std::vector<std::uint32_t> lower_edge;
    std::vector<std::size_t> lower_begin(place(n) + 1, 0);
    std::vector<int> met_at(place(n), -1);
    std::vector<std::uint32_t> met_edge(place(n), 0);
    for (int c = 0; c < n; ++c) {
        const auto size = place(graph.size[place(c)]);
        diagonal[place(c)] = static_cast<std::uint32_t>(numbers);
        numbers += size * size;
        for (std::size_t u = begin[place(c)]; u < begin[place(c) + 1]; ++u) {
            const PairUse& use = uses[u];
            if (met_at[place(use.other)] != c) {
                met_at[place(use.other)] = c;
                met_edge[place(use.other)] = static_cast<std::uint32_t>(numbers);
                lower_other.push_back(use.other);
                lower_edge.push_back(static_cast<std::uint32_t>(numbers));
                numbers += size * place(graph.size[place(use.other)]);
            }
            *use.target = met_edge[place(use.other)] << 1 | (use.transposed ? 1U : 0U);
        }
        lower_begin[place(c) + 1] = lower_other.size();
    }
    for_each_pair([&](int a, int b, std::uint32_t* slot) {
        if (a == b) *slot = diagonal[place(a)] << 1;
    });

    graph.begin.assign(place(n) + 1, 0);
    for (int c = 0; c < n; ++c) {
        for (std::size_t e = lower_begin[place(c)]; e < lower_begin[place(c) + 1]; ++e) {
            ++graph.begin[place(c) + 1];
            ++graph.begin[place(lower_other[e]) + 1];
        }
    }
    std::partial_sum(graph.begin.begin(), graph.begin.end(), graph.begin.begin());
    graph.neighbour.resize(lower_other.size() * 2);
    graph.edge.resize(lower_other.size() * 2);
    std::vector<int> fill(graph.begin.begin(), graph.begin.end() - 1);
    for (int c = 0; c < n; ++c) {
        for (std::size_t e = lower_begin[place(c)]; e < lower_begin[place(c) + 1]; ++e) {
            const int other = lower_other[e];
            int to = fill[place(c)]++;
            graph.neighbour[place(to)] = other;
            graph.edge[place(to)] = lower_edge[e];
            to = fill[place(other)]++;
            graph.neighbour[place(to)] = c;
            graph.edge[place(to)] = lower_edge[e];
        }
    }
}

}  // namespace layproof::adjust::internal
