#pragma once
// What large sparse systems take from elsewhere: products of large fronts (BLAS) and an order of
// elimination by nested dissection (METIS). This room declares it and loads nothing; the program
// that links it defines front_library() (late/front_library.cpp).
//
// A build has it or has it not (LAYPROOF_SPARSE): Eigen in its place gives other digits in the last
// places, so that a program whose part is missing refuses and never falls back.

#include <optional>

#include "base/result.hpp"

namespace layproof::adjust {

/// Functions of Fortran BLAS with their usual arguments, and of METIS.
struct FrontLibrary {
    void (*dsyrk)(const char* uplo, const char* trans, const int* n, const int* k,
                  const double* alpha, const double* a, const int* lda, const double* beta,
                  double* c, const int* ldc);
    void (*dgemm)(const char* trans_a, const char* trans_b, const int* m, const int* n,
                  const int* k, const double* alpha, const double* a, const int* lda,
                  const double* b, const int* ldb, const double* beta, double* c, const int* ldc);
    void (*dtrsm)(const char* side, const char* uplo, const char* trans, const char* diag,
                  const int* m, const int* n, const double* alpha, const double* a, const int* lda,
                  double* b, const int* ldb);
    void (*dsymm)(const char* side, const char* uplo, const int* m, const int* n,
                  const double* alpha, const double* a, const int* lda, const double* b,
                  const int* ldb, const double* beta, double* c, const int* ldc);
    /// Nested dissection of a graph of n nodes with weights: order[k] is the node that goes k-th,
    /// position its inverse. The same seed each time. False when METIS gave up.
    bool (*dissect)(int n, int* begin, int* neighbour, int* size, int* order, int* position);
};

/// cannot_read where it cannot be loaded.
const Result<const FrontLibrary*>& front_library();

/// Why large systems cannot be solved; nothing when all is there, or when this build does without.
/// To be asked before a SparseSolver is made: inside it there is no way back.
std::optional<Refusal> lacks_front_library();

}  // namespace layproof::adjust
