#pragma once
// The dense work inside fronts. Matrices are column-major with a leading dimension; of symmetric
// ones the lower triangle counts. Large ones go to BLAS where this build has one, else to Eigen.
// Not for other rooms.

#include <cstddef>

namespace layproof::adjust::internal {

/// c −= a aᵀ, lower triangle; a: n × k.
void subtract_square(int n, int k, const double* a, int lda, double* c, int ldc);
/// c −= a bᵀ; a: m × k, b: n × k.
void subtract_product(int m, int n, int k, const double* a, int lda, const double* b, int ldb,
                      double* c, int ldc);
/// b := b L⁻ᵀ; b: m × n, L: n × n lower.
void divide_by_transposed(int m, int n, const double* l, int ldl, double* b, int ldb);
/// b := b L⁻¹.
void divide(int m, int n, const double* l, int ldl, double* b, int ldb);
/// c := −s b; s: m × m symmetric, b: m × n.
void negated_symmetric_product(int m, int n, const double* s, int lds, const double* b, int ldb,
                               double* c, int ldc);
/// c −= aᵀ b, lower triangle of a symmetric result; a, b: k × n.
void subtract_inner_product(int n, int k, const double* a, int lda, const double* b, int ldb,
                            double* c, int ldc);
/// l (n × n lower factor) := L⁻ᵀL⁻¹, lower triangle.
void invert_from_factor(int n, double* l, int ldl);

}  // namespace layproof::adjust::internal
