#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numeric>

#include "adjust/normal_internal.hpp"
#include "base/index.hpp"

namespace layproof::adjust::internal {
namespace {

constexpr std::size_t kSize = Problem::kMaxObservationSize;
constexpr std::size_t kBlocks = Problem::kMaxBlocksPerObservation;
constexpr std::size_t kParameters = Problem::kMaxParameterSize;

// The kernels below exist for sizes known to the compiler, where they unroll, and for any size
// (kAny). Widths 1 to 4 with 1 to 3 observations are what small blocks have.
constexpr int kAny = 0;

// rows (size × width) := L⁻¹ rows, in place from the last row up.
template <int Size, int Width>
void whiten_rows(const double* inverse_factor, int any_size, double* rows, int any_width) {
    const int size = Size == kAny ? any_size : Size;
    const int width = Width == kAny ? any_width : Width;
    for (int i = size - 1; i >= 0; --i) {
        const double* factor = inverse_factor + i * size;
        double* row = rows + i * width;
        for (int c = 0; c < width; ++c) row[c] *= factor[i];
        for (int k = 0; k < i; ++k) {
            const double f = factor[k];
            const double* above = rows + k * width;
            for (int c = 0; c < width; ++c) row[c] += f * above[c];
        }
    }
}

// target (leading dimension `stride`) += AᵀB, A: size × width_a, B: size × width_b.
template <int Size, int Width>
void add_rows(const double* a, int width_a, const double* b, int any_width, int any_size,
              double* target, int stride) {
    const int size = Size == kAny ? any_size : Size;
    const int width = Width == kAny ? any_width : Width;
    // Copies, so that the compiler need not fear that the target overlaps the factors.
    std::array<double, std::size_t{Width == kAny ? kParameters : Width}> sum;
    for (int i = 0; i < width_a; ++i) {
        double* row = target + i * stride;
        std::copy_n(row, width, sum.data());
        for (int k = 0; k < size; ++k) {
            const double f = a[k * width_a + i];
            const double* other = b + k * width;
            for (int j = 0; j < width; ++j) sum[at(j)] += f * other[j];
        }
        std::copy_n(sum.data(), width, row);
    }
}

// Calls visit.template operator()<Size, Width>() with the sizes, or kAny where they are larger.
template <int Size, class Visit>
void with_width(int width, Visit visit) {
    switch (width) {
        case 1:
            return visit.template operator()<Size, 1>();
        case 2:
            return visit.template operator()<Size, 2>();
        case 3:
            return visit.template operator()<Size, 3>();
        case 4:
            return visit.template operator()<Size, 4>();
        default:
            return visit.template operator()<kAny, kAny>();
    }
}
template <class Visit>
void with_sizes(int size, int width, Visit visit) {
    switch (size) {
        case 1:
            return with_width<1>(width, visit);
        case 2:
            return with_width<2>(width, visit);
        case 3:
            return with_width<3>(width, visit);
        default:
            return visit.template operator()<kAny, kAny>();
    }
}

void whiten(const double* inverse_factor, int size, double* rows, int width) {
    with_sizes(size, width, [&]<int Size, int Width>() {
        whiten_rows<Size, Width>(inverse_factor, size, rows, width);
    });
}

void add_product(const double* a, int width_a, const double* b, int width_b, int size,
                 double* target, int stride) {
    with_sizes(size, width_b, [&]<int Size, int Width>() {
        add_rows<Size, Width>(a, width_a, b, width_b, size, target, stride);
    });
}

double dot(const double* a, const double* b, int count) {
    double even = 0.0;
    double odd = 0.0;
    int k = 0;
    for (; k + 1 < count; k += 2) {
        even += a[k] * b[k];
        odd += a[k + 1] * b[k + 1];
    }
    if (k < count) even += a[k] * b[k];
    return even + odd;
}

// Blocks in the order of `order`; fills first, given and envelope. Returns the size of the
// envelope.
long long lay_out(const Problem& problem, const std::vector<int>& order, Layout& layout) {
    const auto& parameters = problem.parameters();
    std::vector<int> given(parameters.size(), -1);
    int count = 0;
    for (std::size_t p = 0; p < parameters.size(); ++p) {
        if (parameters[p].held) continue;
        given[p] = count;
        count += parameters[p].size;
    }
    layout.unknowns = count;
    layout.first.assign(parameters.size(), -1);
    layout.given.resize(at(count));
    int row = 0;
    for (const int p : order) {
        layout.first[at(p)] = row;
        for (int i = 0; i < parameters[at(p)].size; ++i) layout.given[at(row++)] = given[at(p)] + i;
    }
    std::vector<int> reach = layout.first;
    for (const auto& block : problem.observations()) {
        const int* list = problem.block_list().data() + block.block_begin;
        int lowest = count;
        for (int k = 0; k < block.block_count; ++k) {
            const int first = layout.first[at(list[k])];
            if (first >= 0) lowest = std::min(lowest, first);
        }
        for (int k = 0; k < block.block_count; ++k)
            reach[at(list[k])] = std::min(reach[at(list[k])], lowest);
    }
    layout.envelope.resize(at(count));
    long long size = 0;
    for (const int p : order) {
        for (int i = 0; i < parameters[at(p)].size; ++i) {
            const int r = layout.first[at(p)] + i;
            layout.envelope[at(r)] = reach[at(p)];
            size += r - reach[at(p)] + 1;
        }
    }
    return size;
}

Eigen::MatrixXd scaled_dense(const NormalEquations& normals, int n, Eigen::VectorXd& scale) {
    scale.resize(n);
    for (int i = 0; i < n; ++i) {
        const double d = normals.matrix[at(i) * at(n) + at(i)];
        scale(i) = d > 0.0 ? 1.0 / std::sqrt(d) : 1.0;
    }
    Eigen::MatrixXd full(n, n);
    for (int i = 0; i < n; ++i) {
        for (int j = 0; j <= i; ++j) {
            full(i, j) = normals.matrix[at(i) * at(n) + at(j)] * scale(i) * scale(j);
            full(j, i) = full(i, j);
        }
    }
    return full;
}

}  // namespace

Layout::Layout(const Problem& problem) {
    const auto& parameters = problem.parameters();
    std::vector<int> order;
    order.reserve(parameters.size());
    for (std::size_t p = 0; p < parameters.size(); ++p) {
        if (!parameters[p].held) order.push_back(static_cast<int>(p));
    }
    std::vector<int> neighbours(parameters.size(), 0);
    for (const auto& block : problem.observations()) {
        const int* list = problem.block_list().data() + block.block_begin;
        for (int k = 0; k < block.block_count; ++k)
            neighbours[at(list[k])] += block.block_count - 1;
    }
    const long long as_given = lay_out(problem, order, *this);
    std::vector<int> sorted = order;
    std::stable_sort(sorted.begin(), sorted.end(),
                     [&](int a, int b) { return neighbours[at(a)] < neighbours[at(b)]; });
    if (sorted != order && lay_out(problem, sorted, *this) > as_given)
        lay_out(problem, order, *this);
}

bool accumulate(const Problem& problem, const Layout& layout, const double* values,
                NormalEquations& out, WhitenedRows* rows) {
    const int n = layout.unknowns;
    std::fill(out.matrix.begin(), out.matrix.end(), 0.0);
    std::fill(out.gradient.begin(), out.gradient.end(), 0.0);
    double square_sum = 0.0;

    std::array<std::array<double, kSize * kParameters>, kBlocks> storage;
    std::array<const double*, kBlocks> pointers{};
    std::array<double*, kBlocks> jacobians{};
    std::array<double, kSize> residual{};
    const auto& parameters = problem.parameters();

    for (const auto& block : problem.observations()) {
        const int* list = problem.block_list().data() + block.block_begin;
        const double* factor = problem.factors().data() + block.factor_begin;
        for (int k = 0; k < block.block_count; ++k) {
            pointers[at(k)] = values + parameters[at(list[k])].offset;
            jacobians[at(k)] = layout.first[at(list[k])] < 0 ? nullptr : storage[at(k)].data();
        }
        block.function->evaluate({pointers.data(), at(block.block_count)}, residual.data(),
                                 jacobians.data());
        if (rows != nullptr)
            std::copy_n(residual.data(), block.size, rows->plain.data() + block.first_row);
        whiten(factor, block.size, residual.data(), 1);
        for (int i = 0; i < block.size; ++i) square_sum += residual[at(i)] * residual[at(i)];
        if (rows != nullptr)
            std::copy_n(residual.data(), block.size, rows->residual.data() + block.first_row);

        for (int a = 0; a < block.block_count; ++a) {
            if (jacobians[at(a)] == nullptr) continue;
            const int width = parameters[at(list[a])].size;
            const int first = layout.first[at(list[a])];
            whiten(factor, block.size, jacobians[at(a)], width);
            add_product(residual.data(), 1, jacobians[at(a)], width, block.size,
                        out.gradient.data() + first, width);
            for (int b = 0; b <= a; ++b) {
                if (jacobians[at(b)] == nullptr) continue;
                const int other_width = parameters[at(list[b])].size;
                const int other = layout.first[at(list[b])];
                if (first >= other) {
                    add_product(jacobians[at(a)], width, jacobians[at(b)], other_width, block.size,
                                out.matrix.data() + first * n + other, n);
                } else {
                    add_product(jacobians[at(b)], other_width, jacobians[at(a)], width, block.size,
                                out.matrix.data() + other * n + first, n);
                }
            }
            if (rows != nullptr) {
                rows->begin[at(block.block_begin + a)] = static_cast<int>(rows->jacobian.size());
                rows->jacobian.insert(rows->jacobian.end(), jacobians[at(a)],
                                      jacobians[at(a)] + block.size * width);
            }
        }
    }
    out.square_sum = square_sum;
    double sum = square_sum;
    for (int i = 0; i < n; ++i) sum += std::abs(out.gradient[at(i)]) + out.matrix[at(i * n + i)];
    return std::isfinite(sum);
}

Factor::Factor(int unknowns)
    : n_(unknowns), lower_(at(unknowns) * at(unknowns)), scale_(at(unknowns)) {}

bool Factor::compute(const std::vector<double>& matrix, std::span<const int> envelope,
                     double damping, std::span<const double> weights) {
    envelope_ = envelope;
    smallest_pivot_ = 1.0;
    for (int i = 0; i < n_; ++i) {
        double d = matrix[at(i) * at(n_) + at(i)];
        if (damping > 0.0) d += damping * weights[at(i)];
        scale_[at(i)] = d > 0.0 ? 1.0 / std::sqrt(d) : 1.0;
    }
    for (int i = 0; i < n_; ++i) {
        double* row = lower_.data() + at(i) * at(n_);
        const double* source = matrix.data() + at(i) * at(n_);
        const int begin = envelope[at(i)];
        for (int j = begin; j < i; ++j) {
            const double* other = lower_.data() + at(j) * at(n_);
            const int from = std::max(begin, envelope[at(j)]);
            const double value = source[j] * scale_[at(i)] * scale_[at(j)] -
                                 (j > from ? dot(row + from, other + from, j - from) : 0.0);
            row[j] = value * other[j];  // the diagonal holds 1/L_jj
        }
        double diagonal = source[i];
        if (damping > 0.0) diagonal += damping * weights[at(i)];
        const double pivot =
            diagonal * scale_[at(i)] * scale_[at(i)] - dot(row + begin, row + begin, i - begin);
        smallest_pivot_ = std::min(smallest_pivot_, pivot);
        if (!(pivot > 1e-30)) return false;
        row[i] = 1.0 / std::sqrt(pivot);
    }
    return true;
}

void Factor::solve(const std::vector<double>& gradient, std::vector<double>& step) const {
    for (int i = 0; i < n_; ++i) {
        const double* row = lower_.data() + at(i) * at(n_);
        const int begin = envelope_[at(i)];
        step[at(i)] =
            (-gradient[at(i)] * scale_[at(i)] - dot(row + begin, step.data() + begin, i - begin)) *
            row[i];
    }
    for (int i = n_ - 1; i >= 0; --i) {
        const double* row = lower_.data() + at(i) * at(n_);
        const double value = step[at(i)] * row[i];
        for (int j = envelope_[at(i)]; j < i; ++j) step[at(j)] -= row[j] * value;
        step[at(i)] = value * scale_[at(i)];
    }
}

void Factor::invert(std::vector<double>& out) const {
    const auto n = at(n_);
    // X = L⁻¹ row by row; row i of X begins at start[i].
    std::vector<double> x(n * n, 0.0);
    std::vector<int> start(n);
    out.assign(n * n, 0.0);
    for (int i = 0; i < n_; ++i) {
        const double* row = lower_.data() + at(i) * n;
        double* target = x.data() + at(i) * n;
        int begin = i;
        for (int k = envelope_[at(i)]; k < i; ++k) {
            if (row[k] == 0.0) continue;
            const double f = -row[k] * row[i];
            const double* source = x.data() + at(k) * n;
            for (int j = start[at(k)]; j <= k; ++j) target[j] += f * source[j];
            begin = std::min(begin, start[at(k)]);
        }
        target[i] = row[i];
        start[at(i)] = begin;
        // (L Lᵀ)⁻¹ = Xᵀ X
        for (int r = begin; r <= i; ++r) {
            double* result = out.data() + at(r) * n;
            const double f = target[r];
            for (int c = begin; c <= r; ++c) result[c] += f * target[c];
        }
    }
    for (int r = 0; r < n_; ++r) {
        for (int c = 0; c <= r; ++c) {
            const double value = out[at(r) * n + at(c)] * scale_[at(r)] * scale_[at(c)];
            out[at(r) * n + at(c)] = value;
            out[at(c) * n + at(r)] = value;
        }
    }
}

InnerDatum::InnerDatum(const Problem& problem, const Layout& layout)
    : in_datum(at(layout.unknowns), 0), envelope(at(layout.unknowns), 0) {
    for (const ParameterId id : problem.inner_datum()) {
        const int first = layout.first[at(id.index)];
        if (first < 0) continue;
        for (int i = 0; i < problem.parameters()[at(id.index)].size; ++i)
            in_datum[at(first + i)] = 1;
    }
}

bool InnerDatum::find(const NormalEquations& normals, double rank_tolerance) {
    const int n = static_cast<int>(in_datum.size());
    Eigen::VectorXd scale;
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(scaled_dense(normals, n, scale));
    int count = 0;
    while (count < n && solver.eigenvalues()(count) < rank_tolerance) ++count;
    basis = scale.asDiagonal() * solver.eigenvectors().leftCols(count);
    basis.colwise().normalize();

    weight = 0.0;
    int rows = 0;
    Eigen::MatrixXd datum_rows = basis;
    for (int i = 0; i < n; ++i) {
        if (in_datum[at(i)] != 0) {
            weight += normals.matrix[at(i) * at(n) + at(i)];
            ++rows;
        } else {
            datum_rows.row(i).setZero();
        }
    }
    weight = weight > 0.0 ? weight / rows : 1.0;
    if (count == 0) return true;
    if (datum_rows.colwise().squaredNorm().minCoeff() < rank_tolerance) return false;
    // Orthonormal in the datum rows: H ← H·R⁻¹ with H_dᵀH_d = RᵀR.
    const Eigen::VectorXd length = datum_rows.colwise().norm().cwiseInverse();
    basis = basis * length.asDiagonal();
    datum_rows = datum_rows * length.asDiagonal();
    const Eigen::LLT<Eigen::MatrixXd> llt(datum_rows.transpose() * datum_rows);
    if (llt.info() != Eigen::Success) return false;
    if (Eigen::MatrixXd(llt.matrixL()).diagonal().minCoeff() < std::sqrt(rank_tolerance))
        return false;
    llt.matrixU().solveInPlace<Eigen::OnTheRight>(basis);
    return true;
}

void InnerDatum::apply(NormalEquations& system, const Eigen::VectorXd& offset) const {
    const int n = static_cast<int>(in_datum.size());
    Eigen::VectorXd shift = Eigen::VectorXd::Zero(basis.cols());
    for (int i = 0; i < n; ++i) {
        if (in_datum[at(i)] != 0) shift += basis.row(i).transpose() * offset(i);
    }
    for (int i = 0; i < n; ++i) {
        if (in_datum[at(i)] == 0) continue;
        system.gradient[at(i)] += weight * basis.row(i).dot(shift);
        for (int j = 0; j <= i; ++j) {
            if (in_datum[at(j)] != 0)
                system.matrix[at(i) * at(n) + at(j)] += weight * basis.row(i).dot(basis.row(j));
        }
    }
}

double InnerDatum::penalty(const Eigen::VectorXd& offset) const {
    Eigen::VectorXd shift = Eigen::VectorXd::Zero(basis.cols());
    for (Eigen::Index i = 0; i < offset.size(); ++i) {
        if (in_datum[static_cast<std::size_t>(i)] != 0)
            shift += basis.row(i).transpose() * offset(i);
    }
    return weight * shift.squaredNorm();
}

Eigen::VectorXd weakest_direction(const NormalEquations& normals, const Layout& layout) {
    const int n = layout.unknowns;
    Eigen::VectorXd scale;
    const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver(scaled_dense(normals, n, scale));
    const Eigen::VectorXd direction = scale.cwiseProduct(solver.eigenvectors().col(0)).normalized();
    Eigen::VectorXd out(n);
    for (int i = 0; i < n; ++i) out(layout.given[at(i)]) = direction(i);
    return out;
}

}  // namespace layproof::adjust::internal
