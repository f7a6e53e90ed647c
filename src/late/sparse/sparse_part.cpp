// The part layproof_sparse.so.

#include <metis.h>

#include "adjust/front_library.hpp"
#include "late/part.hpp"

extern "C" {
void dsyrk_(const char* uplo, const char* trans, const int* n, const int* k, const double* alpha,
            const double* a, const int* lda, const double* beta, double* c, const int* ldc);
void dgemm_(const char* trans_a, const char* trans_b, const int* m, const int* n, const int* k,
            const double* alpha, const double* a, const int* lda, const double* b, const int* ldb,
            const double* beta, double* c, const int* ldc);
void dtrsm_(const char* side, const char* uplo, const char* trans, const char* diag, const int* m,
            const int* n, const double* alpha, const double* a, const int* lda, double* b,
            const int* ldb);
void dsymm_(const char* side, const char* uplo, const int* m, const int* n, const double* alpha,
            const double* a, const int* lda, const double* b, const int* ldb, const double* beta,
            double* c, const int* ldc);
}

namespace {

bool dissect(int n, int* begin, int* neighbour, int* size, int* order, int* position) {
    static_assert(sizeof(idx_t) == sizeof(int));
    idx_t options[METIS_NOPTIONS];
    METIS_SetDefaultOptions(options);
    options[METIS_OPTION_NUMBERING] = 0;
    options[METIS_OPTION_SEED] = 1;
    return METIS_NodeND(&n, begin, neighbour, size, options, order, position) == METIS_OK;
}

}  // namespace

LAYPROOF_PART_ENTRY const layproof::late::Part<layproof::adjust::FrontLibrary> layproof_sparse_part;
const layproof::late::Part<layproof::adjust::FrontLibrary> layproof_sparse_part{
    layproof::late::made_for(), {dsyrk_, dgemm_, dtrsm_, dsymm_, dissect}};
