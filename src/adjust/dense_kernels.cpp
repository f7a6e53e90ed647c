#include "adjust/dense_kernels_internal.hpp"

#include <Eigen/Core>
#include <algorithm>
#ifdef LAYPROOF_FRONT_LIBRARY
#include <stdexcept>

#include "adjust/front_library.hpp"
#endif

namespace layproof::adjust::internal {
namespace {

using Square = Eigen::MatrixXd;
using Stride = Eigen::OuterStride<>;
using Mapped = Eigen::Map<Eigen::MatrixXd, 0, Stride>;
using ConstMapped = Eigen::Map<const Eigen::MatrixXd, 0, Stride>;

// Below this many multiplications a call into a library costs more than it saves.
constexpr double kSmallWork = 6000.0;

const double* column(const double* a, int lda, int j) {
    return a + static_cast<std::ptrdiff_t>(lda) * j;
}
double* column(double* a, int lda, int j) {
    return a + static_cast<std::ptrdiff_t>(lda) * j;
}

bool is_small(int m, int n, int k) {
    return static_cast<double>(m) * n * k <= kSmallWork;
}

#ifdef LAYPROOF_FRONT_LIBRARY
const FrontLibrary& blas() {
    const auto& found = front_library();
    // lacks_front_library() says so before; the digits of Eigen in its place would be others.
    if (!found) throw std::runtime_error(found.refusal().to_text());
    return **found;
}
#endif

// y[0…n) −= Σ_k a_k f_k, four columns of `a` at a time; f with a stride.
void subtract_columns(int n, int k, const double* a, int lda, const double* f, int stride,
                      double* y) {
    int c = 0;
    for (; c + 4 <= k; c += 4) {
        const double* a0 = column(a, lda, c);
        const double* a1 = a0 + lda;
        const double* a2 = a1 + lda;
        const double* a3 = a2 + lda;
        const double f0 = *column(f, stride, c);
        const double f1 = *column(f, stride, c + 1);
        const double f2 = *column(f, stride, c + 2);
        const double f3 = *column(f, stride, c + 3);
        for (int i = 0; i < n; ++i) y[i] -= (a0[i] * f0 + a1[i] * f1) + (a2[i] * f2 + a3[i] * f3);
    }
    for (; c < k; ++c) {
        const double* a0 = column(a, lda, c);
        const double f0 = *column(f, stride, c);
        for (int i = 0; i < n; ++i) y[i] -= a0[i] * f0;
    }
}

}  // namespace

void subtract_square(int n, int k, const double* a, int lda, double* c, int ldc) {
    if (n == 0 || k == 0) return;
    if (is_small(n, n, k)) {
        for (int j = 0; j < n; ++j)
            subtract_columns(n - j, k, a + j, lda, a + j, lda, column(c, ldc, j) + j);
        return;
    }
#ifdef LAYPROOF_FRONT_LIBRARY
    const double minus = -1.0;
    const double one = 1.0;
    blas().dsyrk("L", "N", &n, &k, &minus, a, &lda, &one, c, &ldc);
#else
    const ConstMapped left(a, n, k, Stride(lda));
    Mapped(c, n, n, Stride(ldc)).selfadjointView<Eigen::Lower>().rankUpdate(left, -1.0);
#endif
}

void subtract_product(int m, int n, int k, const double* a, int lda, const double* b, int ldb,
                      double* c, int ldc) {
    if (m == 0 || n == 0 || k == 0) return;
    if (is_small(m, n, k)) {
        for (int j = 0; j < n; ++j) subtract_columns(m, k, a, lda, b + j, ldb, column(c, ldc, j));
        return;
    }
#ifdef LAYPROOF_FRONT_LIBRARY
    const double minus = -1.0;
    const double one = 1.0;
    blas().dgemm("N", "T", &m, &n, &k, &minus, a, &lda, b, &ldb, &one, c, &ldc);
#else
    Mapped(c, m, n, Stride(ldc)).noalias() -=
        ConstMapped(a, m, k, Stride(lda)) * ConstMapped(b, n, k, Stride(ldb)).transpose();
#endif
}

void divide_by_transposed(int m, int n, const double* l, int ldl, double* b, int ldb) {
    if (m == 0 || n == 0) return;
    if (is_small(m, n, n)) {
        for (int j = 0; j < n; ++j) {
            double* y = column(b, ldb, j);
            subtract_columns(m, j, b, ldb, l + j, ldl, y);
            const double pivot = 1.0 / column(l, ldl, j)[j];
            for (int i = 0; i < m; ++i) y[i] *= pivot;
        }
        return;
    }
#ifdef LAYPROOF_FRONT_LIBRARY
    const double one = 1.0;
    blas().dtrsm("R", "L", "T", "N", &m, &n, &one, l, &ldl, b, &ldb);
#else
    const ConstMapped lower(l, n, n, Stride(ldl));
    Mapped right(b, m, n, Stride(ldb));
    lower.transpose().triangularView<Eigen::Upper>().solveInPlace<Eigen::OnTheRight>(right);
#endif
}

void divide(int m, int n, const double* l, int ldl, double* b, int ldb) {
    if (m == 0 || n == 0) return;
    if (is_small(m, n, n)) {
        for (int j = n - 1; j >= 0; --j) {
            double* y = column(b, ldb, j);
            for (int k = j + 1; k < n; ++k) {
                const double f = column(l, ldl, j)[k];
                const double* x = column(b, ldb, k);
                for (int i = 0; i < m; ++i) y[i] -= x[i] * f;
            }
            const double pivot = 1.0 / column(l, ldl, j)[j];
            for (int i = 0; i < m; ++i) y[i] *= pivot;
        }
        return;
    }
#ifdef LAYPROOF_FRONT_LIBRARY
    const double one = 1.0;
    blas().dtrsm("R", "L", "N", "N", &m, &n, &one, l, &ldl, b, &ldb);
#else
    const ConstMapped lower(l, n, n, Stride(ldl));
    Mapped right(b, m, n, Stride(ldb));
    lower.triangularView<Eigen::Lower>().solveInPlace<Eigen::OnTheRight>(right);
#endif
}

void negated_symmetric_product(int m, int n, const double* s, int lds, const double* b, int ldb,
                               double* c, int ldc) {
    if (m == 0 || n == 0) return;
    if (is_small(m, m, n)) {
        for (int j = 0; j < n; ++j) std::fill_n(column(c, ldc, j), m, 0.0);
        for (int j = 0; j < n; ++j) {
            const double* x = column(b, ldb, j);
            double* y = column(c, ldc, j);
            for (int k = 0; k < m; ++k) {
                const double* f = column(s, lds, k);
                const double factor = x[k];
                double sum = f[k] * factor;
                for (int i = k + 1; i < m; ++i) {
                    y[i] -= f[i] * factor;
                    sum += f[i] * x[i];
                }
                y[k] -= sum;
            }
        }
        return;
    }
#ifdef LAYPROOF_FRONT_LIBRARY
    const double minus = -1.0;
    const double zero = 0.0;
    blas().dsymm("L", "L", &m, &n, &minus, s, &lds, b, &ldb, &zero, c, &ldc);
#else
    Mapped(c, m, n, Stride(ldc)).noalias() =
        ConstMapped(s, m, m, Stride(lds)).selfadjointView<Eigen::Lower>() *
        (-ConstMapped(b, m, n, Stride(ldb)));
#endif
}

void subtract_inner_product(int n, int k, const double* a, int lda, const double* b, int ldb,
                            double* c, int ldc) {
    if (n == 0 || k == 0) return;
    if (is_small(n, n, k)) {
        for (int j = 0; j < n; ++j) {
            const double* y = column(b, ldb, j);
            for (int i = j; i < n; ++i) {
                const double* x = column(a, lda, i);
                double sum = 0.0;
                for (int r = 0; r < k; ++r) sum += x[r] * y[r];
                column(c, ldc, j)[i] -= sum;
            }
        }
        return;
    }
    // In stripes: what lies above the diagonal is formed for a stripe's own square only.
    constexpr int kStripe = 96;
    for (int j = 0; j < n; j += kStripe) {
        const int wide = std::min(kStripe, n - j);
        const int tall = n - j;
#ifdef LAYPROOF_FRONT_LIBRARY
        const double minus = -1.0;
        const double one = 1.0;
        blas().dgemm("T", "N", &tall, &wide, &k, &minus, column(a, lda, j), &lda, column(b, ldb, j),
                     &ldb, &one, column(c, ldc, j) + j, &ldc);
#else
        Mapped(column(c, ldc, j) + j, tall, wide, Stride(ldc)).noalias() -=
            ConstMapped(column(a, lda, j), k, tall, Stride(lda)).transpose() *
            ConstMapped(column(b, ldb, j), k, wide, Stride(ldb));
#endif
    }
}

// Column blocks from the last to the first: with L = [A 0; B D] and Z_D = D⁻ᵀD⁻¹ known, Y = BA⁻¹,
// the rest is −Z_D Y and A⁻ᵀA⁻¹ + YᵀZ_D Y.
void invert_from_factor(int n, double* l, int ldl) {
    constexpr int kBlock = 48;
    if (n > kBlock) {
        const int head = n / 2;
        const int tail = n - head;
        double* corner = column(l, ldl, head) + head;
        invert_from_factor(tail, corner, ldl);
        divide(tail, head, l, ldl, l + head, ldl);
        Square y = ConstMapped(l + head, tail, head, Stride(ldl));
        negated_symmetric_product(tail, head, corner, ldl, y.data(), tail, l + head, ldl);
        invert_from_factor(head, l, ldl);
        subtract_inner_product(head, tail, y.data(), tail, l + head, ldl, l, ldl);
        return;
    }
    // L⁻¹ in place, then its product.
    for (int j = 0; j < n; ++j) {
        double* own = column(l, ldl, j);
        own[j] = 1.0 / own[j];
    }
    for (int j = n - 2; j >= 0; --j) {
        // Column j below the diagonal: −(inverse of the rest) · l_j / l_jj.
        double* own = column(l, ldl, j);
        for (int i = n - 1; i > j; --i) {
            double sum = 0.0;
            for (int k = j + 1; k <= i; ++k) sum += column(l, ldl, k)[i] * own[k];
            own[i] = -sum * own[j];
        }
    }
    for (int j = 0; j < n; ++j) {
        double* own = column(l, ldl, j);
        for (int i = j; i < n; ++i) {
            const double* other = column(l, ldl, i);
            double sum = 0.0;
            for (int k = i; k < n; ++k) sum += other[k] * own[k];
            own[i] = sum;
        }
    }
}

}  // namespace layproof::adjust::internal
