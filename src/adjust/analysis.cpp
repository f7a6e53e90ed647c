#include "adjust/analysis.hpp"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "adjust/normal_internal.hpp"
#include "adjust/tests.hpp"
#include "base/index.hpp"

namespace layproof::adjust {
namespace {

using Eigen::Index;
using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
constexpr int kSize = Problem::kMaxObservationSize;
// One observation block's square, without a heap.
using Square = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor, kSize, kSize>;
using Column = Eigen::Matrix<double, Eigen::Dynamic, 1, Eigen::ColMajor, kSize, 1>;
constexpr double kInfinity = std::numeric_limits<double>::infinity();

// p −= A Q Bᵀ (and its transpose, for the other of the two off-diagonal parts); A: size × width_a,
// B: size × Width (any_width where Width is 0), Q inside a matrix of leading dimension `stride`.
template <int Width>
void subtract_product(const double* a, int width_a, const double* b, int any_width, const double* q,
                      int stride, int size, bool both, double* p) {
    const int width = Width == 0 ? any_width : Width;
    std::array<double, std::size_t{Width == 0 ? Problem::kMaxParameterSize : Width}> product{};
    for (int i = 0; i < size; ++i) {
        product.fill(0.0);
        for (int k = 0; k < width_a; ++k) {
            const double f = a[i * width_a + k];
            const double* source = q + k * stride;
            for (int j = 0; j < width; ++j) product[at(j)] += f * source[j];
        }
        for (int j = 0; j < size; ++j) {
            double sum = 0.0;
            for (int k = 0; k < width; ++k) sum += product[at(k)] * b[j * width + k];
            p[i * size + j] -= sum;
            if (both) p[j * size + i] -= sum;
        }
    }
}

}  // namespace

struct Analysis::Data {
    internal::Layout layout;
    std::vector<Problem::ParameterBlock> parameters;
    std::vector<Problem::ObservationBlock> observations;
    std::vector<int> block_list;
    std::vector<double> factors;
    internal::WhitenedRows rows;
    std::vector<double> inverse;         // N⁻¹ in elimination order, row-major
    std::vector<double> whitened_check;  // per block P = I − ÃN⁻¹Ãᵀ, laid out as `factors`
    std::vector<int> block_of_row;
    Eigen::VectorXd residual, redundancy, standardised, detectable, bias;
    double square_sum = 0.0;
    int degrees = 0;
    double rounding = 0.0;  // below this an eigenvalue of P, or its share in one row, is zero
    bool regular = true;

    explicit Data(const Problem& problem)
        : layout(problem),
          parameters(problem.parameters()),
          observations(problem.observations()),
          block_list(problem.block_list()),
          factors(problem.factors()) {}

    int n() const { return layout.unknowns; }

    Eigen::Map<const RowMajor> factor(const Problem::ObservationBlock& block) const {
        return {factors.data() + block.factor_begin, block.size, block.size};
    }
    Eigen::Map<const RowMajor> check(const Problem::ObservationBlock& block) const {
        return {whitened_check.data() + block.factor_begin, block.size, block.size};
    }

    bool invert(const Problem& problem);
    void check_block(const Problem::ObservationBlock& block);
    void describe_block(const Problem::ObservationBlock& block, double root_lambda);
    void know_nothing();
};

// N⁻¹ at the problem's values, with the datum of its inner constraints.
bool Analysis::Data::invert(const Problem& problem) {
    const auto count = at(problem.observation_count());
    rows.plain.resize(count);
    rows.residual.resize(count);
    rows.begin.assign(block_list.size(), -1);
    std::size_t numbers = 0;
    for (const auto& block : observations) {
        for (int k = 0; k < block.block_count; ++k)
            numbers +=
                at(block.size) * at(parameters[at(block_list[at(block.block_begin + k)])].size);
    }
    rows.jacobian.reserve(numbers);

    internal::NormalEquations normals(n());
    if (!internal::accumulate(problem, layout, problem.values().data(), normals, &rows))
        return false;
    internal::Factor factored(n());
    if (problem.inner_datum().empty()) {
        if (!factored.compute(normals.matrix, layout.envelope, 0.0)) return false;
        factored.invert(inverse);
    } else {
        internal::InnerDatum datum(problem, layout);
        if (!datum.find(normals, SolveOptions{}.rank_tolerance)) return false;
        datum.apply(normals, Eigen::VectorXd::Zero(n()));
        if (!factored.compute(normals.matrix, datum.envelope, 0.0)) return false;
        factored.invert(inverse);
        Eigen::Map<RowMajor>(inverse.data(), n(), n()) -=
            datum.basis * datum.basis.transpose() / datum.weight;
    }
    // The inverse carries a relative error of about ε over the smallest pivot.
    constexpr double kGuard = 64.0 * std::numeric_limits<double>::epsilon();
    rounding = std::clamp(kGuard / factored.smallest_pivot(), 1e-12, 1e-6);
    return true;
}

// P = I − Ã N⁻¹ Ãᵀ, only the block on the diagonal.
void Analysis::Data::check_block(const Problem::ObservationBlock& block) {
    double* p = whitened_check.data() + block.factor_begin;
    const int size = block.size;
    for (int i = 0; i < size; ++i) p[i * size + i] = 1.0;
    for (int a = 0; a < block.block_count; ++a) {
        const int entry_a = block.block_begin + a;
        if (rows.begin[at(entry_a)] < 0) continue;
        const int width_a = parameters[at(block_list[at(entry_a)])].size;
        const double* jacobian_a = rows.jacobian.data() + rows.begin[at(entry_a)];
        for (int b = 0; b <= a; ++b) {
            const int entry_b = block.block_begin + b;
            if (rows.begin[at(entry_b)] < 0) continue;
            const int width_b = parameters[at(block_list[at(entry_b)])].size;
            const double* jacobian_b = rows.jacobian.data() + rows.begin[at(entry_b)];
            const double* q = inverse.data() +
                              at(layout.first[at(block_list[at(entry_a)])]) * at(n()) +
                              at(layout.first[at(block_list[at(entry_b)])]);
            switch (width_b) {
                case 2:
                    subtract_product<2>(jacobian_a, width_a, jacobian_b, 2, q, n(), size, a != b,
                                        p);
                    break;
                case 3:
                    subtract_product<3>(jacobian_a, width_a, jacobian_b, 3, q, n(), size, a != b,
                                        p);
                    break;
                case 4:
                    subtract_product<4>(jacobian_a, width_a, jacobian_b, 4, q, n(), size, a != b,
                                        p);
                    break;
                default:
                    subtract_product<0>(jacobian_a, width_a, jacobian_b, width_b, q, n(), size,
                                        a != b, p);
            }
        }
    }
}

// With L⁻¹ =: F, ṽ = Fv: Wv = Fᵀṽ, M = FᵀPF, W = FᵀF, Q_vW = F⁻¹PF.
void Analysis::Data::describe_block(const Problem::ObservationBlock& block, double root_lambda) {
    const int size = block.size;
    const double* f = factors.data() + block.factor_begin;
    const double* p = whitened_check.data() + block.factor_begin;
    const double* v = rows.residual.data() + block.first_row;
    std::array<double, kSize> left{};  // row of F⁻¹, by back substitution of eᵢᵀ = xᵀF
    for (int i = 0; i < size; ++i) {
        const int row = block.first_row + i;
        double weighted = 0.0;
        double weight = 0.0;
        for (int k = i; k < size; ++k) {
            weighted += f[k * size + i] * v[k];
            weight += f[k * size + i] * f[k * size + i];
        }
        for (int j = i; j >= 0; --j) {
            double sum = i == j ? 1.0 : 0.0;
            for (int k = j + 1; k <= i; ++k) sum -= left[at(k)] * f[k * size + j];
            left[at(j)] = sum / f[j * size + j];
        }
        double check = 0.0;
        double share = 0.0;
        for (int k = i; k < size; ++k) {
            double column = 0.0;  // (PF)_{k i}
            for (int l = i; l < size; ++l) column += p[k * size + l] * f[l * size + i];
            check += f[k * size + i] * column;
        }
        for (int k = 0; k <= i; ++k) {
            double column = 0.0;
            for (int l = i; l < size; ++l) column += p[k * size + l] * f[l * size + i];
            share += left[at(k)] * column;
        }
        redundancy(row) = share;
        block_of_row[at(row)] = static_cast<int>(&block - observations.data());
        const bool checked = check > rounding * weight;
        const double root = checked ? std::sqrt(check) : 0.0;
        standardised(row) = checked ? weighted / root : 0.0;
        detectable(row) = checked ? root_lambda / root : kInfinity;
        bias(row) = checked ? -weighted / check : 0.0;
    }
}

void Analysis::Data::know_nothing() {
    regular = false;
    inverse.assign(at(n()) * at(n()), 0.0);
    for (int i = 0; i < n(); ++i) inverse[at(i) * at(n()) + at(i)] = kInfinity;
    redundancy.setZero();
    standardised.setZero();
    detectable.setConstant(kInfinity);
    bias.setZero();
    std::fill(whitened_check.begin(), whitened_check.end(), 0.0);
    for (const auto& block : observations) {
        for (int i = 0; i < block.size; ++i)
            block_of_row[at(block.first_row + i)] = static_cast<int>(&block - observations.data());
    }
}

Analysis::Analysis(const Problem& problem, const SolveSummary& summary,
                   const AnalysisOptions& options) {
    const auto data = std::make_shared<Data>(problem);
    const Index count = problem.observation_count();
    data->square_sum = summary.weighted_square_sum;
    data->degrees = summary.redundancy;
    data->redundancy.resize(count);
    data->standardised.resize(count);
    data->detectable.resize(count);
    data->bias.resize(count);
    data->block_of_row.resize(at(count));
    data->whitened_check.assign(problem.factors().size(), 0.0);
    const bool regular = data->invert(problem);
    data->residual = Eigen::Map<const Eigen::VectorXd>(data->rows.plain.data(), count);
    if (regular) {
        const double root = std::sqrt(noncentrality(options.significance, options.power, 1));
        for (const auto& block : data->observations) {
            data->check_block(block);
            data->describe_block(block, root);
        }
    } else {
        data->residual =
            data->residual.unaryExpr([](double x) { return std::isfinite(x) ? x : 0.0; });
        data->know_nothing();
    }
    data_ = data;
}

Eigen::MatrixXd Analysis::covariance(ParameterId block) const {
    return covariance(block, block);
}

Eigen::MatrixXd Analysis::covariance(ParameterId row_block, ParameterId column_block) const {
    const Data& d = *data_;
    const Index rows = d.parameters[at(row_block.index)].size;
    const Index columns = d.parameters[at(column_block.index)].size;
    const int r = d.layout.first[at(row_block.index)];
    const int c = d.layout.first[at(column_block.index)];
    if (r < 0 || c < 0) return Eigen::MatrixXd::Zero(rows, columns);
    return Eigen::Map<const RowMajor>(d.inverse.data(), d.n(), d.n()).block(r, c, rows, columns);
}

const Eigen::VectorXd& Analysis::residual() const {
    return data_->residual;
}
const Eigen::VectorXd& Analysis::redundancy() const {
    return data_->redundancy;
}
const Eigen::VectorXd& Analysis::standardised() const {
    return data_->standardised;
}
const Eigen::VectorXd& Analysis::detectable() const {
    return data_->detectable;
}
const Eigen::VectorXd& Analysis::estimated_bias() const {
    return data_->bias;
}

double Analysis::tau(int row) const {
    const Data& d = *data_;
    if (d.degrees <= 0 || !(d.square_sum > 0.0)) return 0.0;
    return d.standardised(row) / std::sqrt(d.square_sum / d.degrees);
}

// N⁻¹ Ãᵀ F e_row: the observation's own column of F has the rows below it too.
Eigen::VectorXd Analysis::influence(int row) const {
    const Data& d = *data_;
    Eigen::VectorXd out = Eigen::VectorXd::Zero(d.n());
    if (!d.regular) return out;
    const auto& block = d.observations[at(d.block_of_row[at(row)])];
    const Index local = row - block.first_row;
    const Column column = d.factor(block).col(local);
    const Eigen::Map<const RowMajor> inverse(d.inverse.data(), d.n(), d.n());
    for (int k = 0; k < block.block_count; ++k) {
        const int entry = block.block_begin + k;
        if (d.rows.begin[at(entry)] < 0) continue;
        const Index width = d.parameters[at(d.block_list[at(entry)])].size;
        const int first = d.layout.first[at(d.block_list[at(entry)])];
        const Eigen::Map<const RowMajor> jacobian(d.rows.jacobian.data() + d.rows.begin[at(entry)],
                                                  block.size, width);
        const Eigen::VectorXd part =
            inverse.middleCols(first, width) * (jacobian.transpose() * column);
        for (int i = 0; i < d.n(); ++i) out(d.layout.given[at(i)]) += part(i);
    }
    return out;
}

Eigen::VectorXd Analysis::external_effect(int row) const {
    const Data& d = *data_;
    Eigen::VectorXd out = influence(row);
    const double bias = d.detectable(row);
    if (std::isfinite(bias)) return out * bias;
    // Reached means: by more than rounding, against the unknown's own standard deviation.
    const auto& block = d.observations[at(d.block_of_row[at(row)])];
    const double root_weight = d.factor(block).col(row - block.first_row).norm();
    for (int i = 0; i < d.n(); ++i) {
        double& effect = out(d.layout.given[at(i)]);
        const double sd = std::sqrt(d.inverse[at(i) * at(d.n()) + at(i)]);
        const bool reached = std::abs(effect) > d.rounding * sd * root_weight;
        effect = reached ? std::copysign(kInfinity, effect) : 0.0;
    }
    return out;
}

int Analysis::unknown_index(ParameterId block) const {
    const int first = data_->layout.first[at(block.index)];
    return first < 0 ? -1 : data_->layout.given[at(first)];
}

// ṽ_b lies in the range of P_bb, its covariance, so any generalised inverse gives the same number:
// T = ṽᵀP⁺ṽ. F is regular and drops out.
Analysis::BlockTest Analysis::block_test(int observation_block) const {
    const Data& d = *data_;
    const auto& block = d.observations[at(observation_block)];
    BlockTest test;
    if (!d.regular) return test;
    const Eigen::SelfAdjointEigenSolver<Square> solver(Square(d.check(block)));
    const Eigen::Map<const Eigen::VectorXd> v(d.rows.residual.data() + block.first_row, block.size);
    for (Index i = 0; i < block.size; ++i) {
        const double eigenvalue = solver.eigenvalues()(i);
        if (!(eigenvalue > d.rounding)) continue;
        const double part = solver.eigenvectors().col(i).dot(v);
        test.statistic += part * part / eigenvalue;
        ++test.dimension;
    }
    return test;
}

}  // namespace layproof::adjust
