#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>

#include "adjust/sparse_solve.hpp"
#include "adjust/sparse_state_internal.hpp"
#include "adjust/tests.hpp"

namespace layproof::adjust {
namespace {

using internal::kChunk;
using internal::kNowhere;
using AnalysedBatch = SparseProblem::Batch;

constexpr double kNothingChecks = std::numeric_limits<double>::infinity();
constexpr int kMostRows = SparseProblem::kMaxRows;
constexpr double kUsualSignificance = 0.001;
constexpr double kUsualPower = 0.80;

std::size_t number_at(int index) {
    return static_cast<std::size_t>(index);
}

// spread += J_a Z_ab J_bᵀ (and its transpose where a ≠ b) for each block of the chunk.
using Spread = void (*)(const double* a, const double* b, int count, int width, bool both,
                        const std::uint32_t* target, int stride, const double* inverse,
                        double* spread);

template <int Rows, int SizeA, int SizeB>
void add_spread(const double* a, const double* b, int count, int width, bool both,
                const std::uint32_t* target, int stride, const double* inverse, double* spread) {
    const std::ptrdiff_t step = static_cast<std::ptrdiff_t>(Rows) * width;
    for (int i = 0; i < count; ++i, a += step, b += step, target += stride, spread += Rows * Rows) {
        const std::uint32_t from = *target >> 1;
        if (from == kNowhere) continue;
        const double* z = inverse + from;
        const bool transposed = (*target & 1) != 0;
        const int row_step = transposed ? 1 : SizeB;
        const int column_step = transposed ? SizeA : 1;
        std::array<std::array<double, std::size_t{SizeB}>, std::size_t{Rows}> product;
        for (int r = 0; r < Rows; ++r) {
            for (int q = 0; q < SizeB; ++q) {
                double sum = 0.0;
                for (int p = 0; p < SizeA; ++p)
                    sum += a[r * width + p] * z[p * row_step + q * column_step];
                product[number_at(r)][number_at(q)] = sum;
            }
        }
        for (int r = 0; r < Rows; ++r) {
            for (int s = 0; s < Rows; ++s) {
                double sum = 0.0;
                for (int q = 0; q < SizeB; ++q)
                    sum += product[number_at(r)][number_at(q)] * b[s * width + q];
                spread[r * Rows + s] += sum;
                if (both) spread[s * Rows + r] += sum;
            }
        }
    }
}

template <int Rows>
Spread choose_spread(int size_a, int size_b) {
    static constexpr Spread kTable[3][3] = {
        {add_spread<Rows, 1, 1>, add_spread<Rows, 1, 2>, add_spread<Rows, 1, 3>},
        {add_spread<Rows, 2, 1>, add_spread<Rows, 2, 2>, add_spread<Rows, 2, 3>},
        {add_spread<Rows, 3, 1>, add_spread<Rows, 3, 2>, add_spread<Rows, 3, 3>}};
    return kTable[size_a - 1][size_b - 1];
}

Spread choose_spread(int rows, int size_a, int size_b) {
    switch (rows) {
        case 1:
            return choose_spread<1>(size_a, size_b);
        case 2:
            return choose_spread<2>(size_a, size_b);
        default:
            return choose_spread<3>(size_a, size_b);
    }
}

using RowMatrix =
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor, kMostRows, kMostRows>;
using RowVector = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, kMostRows, 1>;

// T = ṽᵀP⁺ṽ with the rank of P.
void test_block(const RowMatrix& p, const RowVector& v, double rounding, double& statistic,
                std::uint8_t& dimension) {
    statistic = 0.0;
    dimension = 0;
    if (p.rows() == 1) {
        if (!(p(0, 0) > rounding)) return;
        statistic = v(0) * v(0) / p(0, 0);
        dimension = 1;
        return;
    }
    const Eigen::SelfAdjointEigenSolver<RowMatrix> solver(p);
    for (Eigen::Index i = 0; i < p.rows(); ++i) {
        const double eigenvalue = solver.eigenvalues()(i);
        if (!(eigenvalue > rounding)) continue;
        const double part = solver.eigenvectors().col(i).dot(v);
        statistic += part * part / eigenvalue;
        ++dimension;
    }
}

// The same where P is well away from singular, by its factor. False if it is not.
bool test_regular_block(const RowMatrix& p, const RowVector& v, double& statistic) {
    constexpr double kWellAway = 1e-5;
    const Eigen::Index n = p.rows();
    RowMatrix lower(n, n);
    RowVector y(n);
    statistic = 0.0;
    for (Eigen::Index i = 0; i < n; ++i) {
        double rest = v(i);
        for (Eigen::Index j = 0; j < i; ++j) {
            double sum = p(i, j);
            for (Eigen::Index k = 0; k < j; ++k) sum -= lower(i, k) * lower(j, k);
            lower(i, j) = sum / lower(j, j);
            rest -= lower(i, j) * y(j);
        }
        double pivot = p(i, i);
        for (Eigen::Index k = 0; k < i; ++k) pivot -= lower(i, k) * lower(i, k);
        if (!(pivot > kWellAway)) return false;
        lower(i, i) = std::sqrt(pivot);
        y(i) = rest / lower(i, i);
        statistic += y(i) * y(i);
    }
    return true;
}

// Everything about one block from its whitening factor F = L⁻¹ (packed), ṽ and P (of a block left
// out: the inverse of I + J̃ZJ̃ᵀ, and ṽ multiplied by it).
struct RowFigures {
    double share = 0.0;     // (Q_vW)_ii = (F⁻¹PF)_ii
    double weighted = 0.0;  // (Wv)_i
    double check = 0.0;     // M_ii
    double weight = 0.0;    // W_ii
};

RowFigures describe_row(const double* factor, const RowMatrix& p, const RowVector& v, int i) {
    const auto size = static_cast<int>(p.rows());
    const auto f = [factor](int r, int c) { return c > r ? 0.0 : factor[r * (r + 1) / 2 + c]; };
    RowFigures out;
    std::array<double, kMostRows> left{};  // row i of F⁻¹
    for (int j = i; j >= 0; --j) {
        double sum = i == j ? 1.0 : 0.0;
        for (int k = j + 1; k <= i; ++k) sum -= left[number_at(k)] * f(k, j);
        left[number_at(j)] = sum / f(j, j);
    }
    for (int k = 0; k < size; ++k) {
        double column = 0.0;  // (PF)_ki
        for (int l = i; l < size; ++l) column += p(k, l) * f(l, i);
        out.check += f(k, i) * column;
        if (k <= i) out.share += left[number_at(k)] * column;
        out.weighted += f(k, i) * v(k);
        out.weight += f(k, i) * f(k, i);
    }
    return out;
}

}  // namespace

struct SparseAnalysis::Data {
    struct BatchFigures {
        int rows = 0;
        std::vector<double> residual;
        std::vector<double> redundancy;
        std::vector<double> standardised;
        std::vector<double> root_weight;  // √M_ii; zero where nothing checks the row
        std::vector<double> statistic;
        std::vector<std::uint8_t> dimension;
        double redundancy_sum = 0.0;
        double square_sum = 0.0;
    };

    std::vector<SparseProblem::ParameterBlock> parameters;
    std::vector<int> free_index;
    std::shared_ptr<const internal::Fronts> fronts;
    std::shared_ptr<const internal::FrontFactor> factor;  // null: nothing is known
    std::vector<std::uint32_t> diagonal;
    std::vector<int>
        edge_begin;  // per free block: its pairs with blocks of smaller index, ascending
    std::vector<int> edge_other;
    std::vector<std::uint32_t> edge_place;
    std::vector<double> inverse;  // laid out as the normal matrix
    std::vector<char> is_loose;   // per free block
    Eigen::MatrixXd basis;        // of the S-transformation, rows in order of elimination
    Eigen::MatrixXd correction;
    std::vector<BatchFigures> batches;
    double usual_root = 0.0;

    int size(int parameter) const { return parameters[number_at(parameter)].size; }
    int free_of(int parameter) const { return free_index[number_at(parameter)]; }
    bool is_open_block(int parameter) const {
        return free_of(parameter) >= 0 && is_loose[number_at(free_of(parameter))] != 0;
    }
    int column_of(int free) const {
        return fronts->first_column[number_at(fronts->position[number_at(free)])];
    }

    void know_nothing();
    void keep_pairs(const internal::NormalPattern& pattern);
    void apply_datum(const internal::NormalPattern& pattern);
    void describe_batches(const SparseProblem& problem, const internal::NormalPattern& pattern);
    void describe_block(const AnalysedBatch& batch, int index, const double* plain,
                        const double* whitened, const double* spread, bool reaches_loose,
                        double rounding, BatchFigures& out) const;
    SmallMatrix datum_part(int free_row, int free_column) const;
    bool find_pair(int free_row, int free_column, SmallMatrix& out) const;
};

void SparseAnalysis::Data::know_nothing() {
    factor.reset();
    std::fill(is_loose.begin(), is_loose.end(), char{1});
    basis.resize(0, 0);
    for (BatchFigures& batch : batches) {
        for (auto* list : {&batch.residual, &batch.redundancy, &batch.standardised,
                           &batch.root_weight, &batch.statistic})
            std::fill(list->begin(), list->end(), 0.0);
        std::fill(batch.dimension.begin(), batch.dimension.end(), std::uint8_t{0});
        batch.redundancy_sum = 0.0;
        batch.square_sum = 0.0;
    }
}

void SparseAnalysis::Data::keep_pairs(const internal::NormalPattern& pattern) {
    const internal::BlockGraph& graph = pattern.graph;
    edge_begin.push_back(0);
    for (int c = 0; c < graph.count(); ++c) {
        const auto first = edge_other.size();
        for (int e = graph.begin[number_at(c)]; e < graph.begin[number_at(c) + 1]; ++e) {
            if (graph.neighbour[number_at(e)] > c) continue;
            edge_other.push_back(graph.neighbour[number_at(e)]);
            edge_place.push_back(graph.edge[number_at(e)]);
        }
        // Places ascend with the order in which pairs were met; sort both by block.
        std::vector<std::pair<int, std::uint32_t>> own;
        for (std::size_t k = first; k < edge_other.size(); ++k)
            own.emplace_back(edge_other[k], edge_place[k]);
        std::sort(own.begin(), own.end());
        for (std::size_t k = 0; k < own.size(); ++k) {
            edge_other[first + k] = own[k].first;
            edge_place[first + k] = own[k].second;
        }
        edge_begin.push_back(static_cast<int>(edge_other.size()));
    }
}

SmallMatrix SparseAnalysis::Data::datum_part(int free_row, int free_column) const {
    const int row = column_of(free_row);
    const int column = column_of(free_column);
    const int rows =
        fronts->first_column[number_at(fronts->position[number_at(free_row)]) + 1] - row;
    const int columns =
        fronts->first_column[number_at(fronts->position[number_at(free_column)]) + 1] - column;
    return basis.middleRows(row, rows) * correction.middleRows(column, columns).transpose() +
           correction.middleRows(row, rows) * basis.middleRows(column, columns).transpose();
}

// SZSᵀ for every pair that is kept.
void SparseAnalysis::Data::apply_datum(const internal::NormalPattern& pattern) {
    if (basis.cols() == 0) return;
    const internal::BlockGraph& graph = pattern.graph;
    const auto subtract = [&](int row, int column, std::uint32_t to) {
        const SmallMatrix part = datum_part(row, column);
        for (Eigen::Index i = 0; i < part.rows(); ++i) {
            for (Eigen::Index j = 0; j < part.cols(); ++j)
                inverse[to + static_cast<std::size_t>(i * part.cols() + j)] -= part(i, j);
        }
    };
    for (int c = 0; c < graph.count(); ++c) {
        subtract(c, c, diagonal[number_at(c)]);
        for (int e = edge_begin[number_at(c)]; e < edge_begin[number_at(c) + 1]; ++e)
            subtract(c, edge_other[number_at(e)], edge_place[number_at(e)]);
    }
}

bool SparseAnalysis::Data::find_pair(int free_row, int free_column, SmallMatrix& out) const {
    const int high = std::max(free_row, free_column);
    const int low = std::min(free_row, free_column);
    std::uint32_t place = diagonal[number_at(high)];
    if (high != low) {
        const auto begin = edge_other.begin() + edge_begin[number_at(high)];
        const auto end = edge_other.begin() + edge_begin[number_at(high) + 1];
        const auto found = std::lower_bound(begin, end, low);
        if (found == end || *found != low) return false;
        place = edge_place[static_cast<std::size_t>(found - edge_other.begin())];
    }
    // out has its final size; stored with the larger index as rows.
    const bool transposed = free_row != high;
    const Eigen::Index columns = transposed ? out.rows() : out.cols();
    for (Eigen::Index i = 0; i < out.rows(); ++i) {
        for (Eigen::Index j = 0; j < out.cols(); ++j)
            out(i, j) = inverse[place + static_cast<std::size_t>(transposed ? j * columns + i
                                                                            : i * columns + j)];
    }
    return true;
}

void SparseAnalysis::Data::describe_block(const AnalysedBatch& batch, int index,
                                          const double* plain, const double* whitened,
                                          const double* spread, bool reaches_loose, double rounding,
                                          BatchFigures& out) const {
    const int rows = batch.rows;
    const double weight = batch.weights[number_at(index)];
    const bool left_out = weight == 0.0;
    const double root = left_out ? 1.0 : std::sqrt(weight);
    const double* own_factor =
        batch.factors.data() + static_cast<std::ptrdiff_t>(index) * batch.factor_size();
    RowMatrix p(rows, rows);
    RowVector v(rows);
    for (int i = 0; i < rows; ++i) {
        v(i) = whitened[i] * root;
        for (int j = 0; j < rows; ++j) {
            const double share = spread[i * rows + j];
            p(i, j) = (i == j ? 1.0 : 0.0) + (left_out ? share : -weight * share);
        }
    }
    const int first = index * rows;
    std::copy_n(plain, rows, out.residual.begin() + first);
    if (left_out && reaches_loose) return;  // its misfit says nothing
    double& statistic = out.statistic[number_at(index)];
    std::uint8_t& dimension = out.dimension[number_at(index)];
    if (test_regular_block(p, v, statistic)) {
        dimension = static_cast<std::uint8_t>(rows);
    } else {
        test_block(p, v, rounding, statistic, dimension);
    }
    if (left_out) {
        p = RowMatrix(p.llt().solve(RowMatrix::Identity(rows, rows)));
        v = RowVector(p * v);
    } else {
        out.square_sum += v.squaredNorm();
    }
    for (int i = 0; i < rows; ++i) {
        const RowFigures row = describe_row(own_factor, p, v, i);
        if (!left_out) {
            out.redundancy[number_at(first + i)] = row.share;
            out.redundancy_sum += row.share;
        }
        if (!(row.check > rounding * row.weight)) continue;
        // F belongs to weight one; v and M carry the block's own.
        const double own = std::sqrt(row.check);
        out.standardised[number_at(first + i)] = row.weighted / own;
        out.root_weight[number_at(first + i)] = own * root;
    }
}

void SparseAnalysis::Data::describe_batches(const SparseProblem& problem,
                                            const internal::NormalPattern& pattern) {
    constexpr double kGuard = 64.0 * std::numeric_limits<double>::epsilon();
    const double rounding =
        std::clamp(kGuard / std::max(factor->smallest_pivot(), 1e-300), 1e-12, 1e-6);
    internal::WhitenedChunk work;
    std::vector<double> spread;
    for (std::size_t n = 0; n < problem.batches().size(); ++n) {
        const AnalysedBatch& batch = problem.batches()[n];
        const int blocks = batch.block_count();
        const int pairs = blocks * (blocks + 1) / 2;
        const int square = batch.rows * batch.rows;
        spread.resize(number_at(kChunk * square));
        for (int first = 0; first < batch.count; first += kChunk) {
            const int count = std::min(kChunk, batch.count - first);
            work.evaluate(batch, problem.values().data(), first, count, true);
            std::fill_n(spread.begin(), count * square, 0.0);
            const std::uint32_t* target =
                pattern.target[n].data() + static_cast<std::ptrdiff_t>(first) * pairs;
            for (int a = 0, pair = 0; a < blocks; ++a) {
                for (int b = 0; b <= a; ++b, ++pair)
                    choose_spread(batch.rows, batch.sizes[number_at(a)], batch.sizes[number_at(b)])(
                        work.jacobian.data() + batch.columns[number_at(a)],
                        work.jacobian.data() + batch.columns[number_at(b)], count, batch.width,
                        a != b, target + pair, pairs, inverse.data(), spread.data());
            }
            for (int i = 0; i < count; ++i) {
                const int* own =
                    batch.parameters.data() + static_cast<std::ptrdiff_t>(first + i) * blocks;
                bool reaches_loose = false;
                for (int b = 0; b < blocks; ++b)
                    reaches_loose = reaches_loose || is_open_block(own[b]);
                describe_block(batch, first + i, work.plain.data() + i * batch.rows,
                               work.residual.data() + i * batch.rows, spread.data() + i * square,
                               reaches_loose, rounding, batches[n]);
            }
        }
    }
}

SparseAnalysis SparseSolver::analyse() {
    const SparseProblem& problem = data_->problem;
    const internal::Elimination& elimination = data_->elimination;
    const auto out = std::make_shared<SparseAnalysis::Data>();
    out->parameters = problem.parameters();
    out->free_index = elimination.pattern.free_index;
    out->fronts = elimination.fronts;
    out->diagonal = elimination.pattern.diagonal;
    out->is_loose.assign(elimination.pattern.parameter.size(), 0);
    out->usual_root = std::sqrt(noncentrality(kUsualSignificance, kUsualPower, 1));
    out->keep_pairs(elimination.pattern);
    for (const AnalysedBatch& batch : problem.batches()) {
        SparseAnalysis::Data::BatchFigures figures;
        figures.rows = batch.rows;
        const std::size_t rows = number_at(batch.rows) * number_at(batch.count);
        for (auto* list :
             {&figures.residual, &figures.redundancy, &figures.standardised, &figures.root_weight})
            list->assign(rows, 0.0);
        figures.statistic.assign(number_at(batch.count), 0.0);
        figures.dimension.assign(number_at(batch.count), 0);
        out->batches.push_back(std::move(figures));
    }

    // The factor of solve() serves if nothing has moved since by more than would show.
    constexpr double kUnmoved = 1e-9;
    bool is_current = data_->revision_at_factor == problem.weight_revision() &&
                      data_->values_at_factor.size() == problem.values().size();
    for (std::size_t i = 0; is_current && i < problem.values().size(); ++i)
        is_current = std::abs(problem.values()[i] - data_->values_at_factor[i]) <= kUnmoved;
    if (!is_current) {
        internal::SparseNormal normal;
        const bool finite = std::all_of(problem.values().begin(), problem.values().end(),
                                        [](double x) { return std::isfinite(x); });
        if (!finite || !accumulate(problem, elimination.pattern, problem.values().data(),
                                   internal::Depth::matrix, normal)) {
            out->know_nothing();
            return SparseAnalysis(out);
        }
        factorise(problem, elimination, normal, data_->options.rank_tolerance, data_->factored);
        data_->values_at_factor = problem.values();
        data_->revision_at_factor = problem.weight_revision();
    }
    out->factor = data_->factored.factor;
    out->inverse.assign(elimination.pattern.numbers, 0.0);
    out->factor->selected_inverse(out->inverse);
    if (data_->factored.open) {
        out->is_loose = data_->factored.open->is_loose();
        out->basis = data_->factored.open->basis();
        if (out->basis.cols() > 0) out->correction = data_->factored.open->correction(*out->factor);
        out->apply_datum(elimination.pattern);
    }
    out->describe_batches(problem, elimination.pattern);
    return SparseAnalysis(out);
}

SmallMatrix SparseAnalysis::covariance(ParameterId block) const {
    return covariance(block, block);
}

SmallMatrix SparseAnalysis::covariance(ParameterId row_block, ParameterId column_block) const {
    const Data& d = *data_;
    SmallMatrix out = SmallMatrix::Zero(d.size(row_block.index), d.size(column_block.index));
    const int row = d.free_of(row_block.index);
    const int column = d.free_of(column_block.index);
    if (row < 0 || column < 0) return out;
    if (d.is_loose[number_at(row)] || d.is_loose[number_at(column)]) {
        if (row == column) out.diagonal().setConstant(kNothingChecks);
        return out;
    }
    if (d.find_pair(row, column, out)) return out;
    const auto a = d.factor->walk(d.fronts->position[number_at(row)]);
    const auto b = d.factor->walk(d.fronts->position[number_at(column)]);
    out = internal::FrontFactor::inner_product(a, b);
    if (d.basis.cols() > 0) out -= d.datum_part(row, column);
    return out;
}

Eigen::MatrixXd SparseAnalysis::joint_covariance(std::span<const ParameterId> blocks) const {
    const Data& d = *data_;
    std::vector<int> begin{0};
    std::vector<internal::FrontFactor::Walk> walks(blocks.size());
    for (std::size_t k = 0; k < blocks.size(); ++k) {
        begin.push_back(begin.back() + d.size(blocks[k].index));
        const int free = d.free_of(blocks[k].index);
        if (free >= 0 && !d.is_loose[number_at(free)])
            walks[k] = d.factor->walk(d.fronts->position[number_at(free)]);
    }
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(begin.back(), begin.back());
    for (std::size_t i = 0; i < blocks.size(); ++i) {
        for (std::size_t j = 0; j <= i; ++j) {
            const int rows = begin[i + 1] - begin[i];
            const int columns = begin[j + 1] - begin[j];
            auto part = out.block(begin[i], begin[j], rows, columns);
            if (walks[i].parts.empty() || walks[j].parts.empty()) {
                if (i == j) part = covariance(blocks[i]);
                continue;
            }
            const int row = d.free_of(blocks[i].index);
            const int column = d.free_of(blocks[j].index);
            part = internal::FrontFactor::inner_product(walks[i], walks[j]);
            if (d.basis.cols() > 0) part -= d.datum_part(row, column);
            if (i != j) out.block(begin[j], begin[i], columns, rows) = part.transpose();
        }
    }
    return out;
}

bool SparseAnalysis::is_loose(ParameterId block) const {
    return data_->is_open_block(block.index);
}

std::span<const double> SparseAnalysis::residual(int batch) const {
    return data_->batches[number_at(batch)].residual;
}
std::span<const double> SparseAnalysis::redundancy(int batch) const {
    return data_->batches[number_at(batch)].redundancy;
}
std::span<const double> SparseAnalysis::standardised(int batch) const {
    return data_->batches[number_at(batch)].standardised;
}

double SparseAnalysis::detectable(int batch, int row, double significance, double power) const {
    const double root = data_->batches[number_at(batch)].root_weight[number_at(row)];
    if (!(root > 0.0)) return kNothingChecks;
    const bool usual = significance == kUsualSignificance && power == kUsualPower;
    return (usual ? data_->usual_root : std::sqrt(noncentrality(significance, power, 1))) / root;
}

double SparseAnalysis::estimated_bias(int batch, int row) const {
    const auto& figures = data_->batches[number_at(batch)];
    const double root = figures.root_weight[number_at(row)];
    return root > 0.0 ? -figures.standardised[number_at(row)] / root : 0.0;
}

SparseAnalysis::BlockTest SparseAnalysis::block_test(ObservationId block) const {
    const auto& figures = data_->batches[number_at(block.batch)];
    return {figures.statistic[number_at(block.index)], figures.dimension[number_at(block.index)]};
}

double SparseAnalysis::redundancy_sum(int batch) const {
    return data_->batches[number_at(batch)].redundancy_sum;
}

double SparseAnalysis::weighted_square_sum(int batch) const {
    return data_->batches[number_at(batch)].square_sum;
}

}  // namespace layproof::adjust
