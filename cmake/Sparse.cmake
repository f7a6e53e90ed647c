# layproof_sparse(TARGET): the libraries that make large sparse systems fast.
#
# METIS finds orders of elimination (nested dissection), BLAS multiplies the large fronts. Without
# them (LAYPROOF_SPARSE=off, as for WebAssembly) Eigen does both: minimum degree only, and slower.
# They are a part that is loaded when a network is first solved (src/late/sparse): OpenBLAS alone
# takes longer to load, and starts threads, than most commands need to answer. The room itself loads
# nothing; it declares a function (adjust/front_library.hpp) that layproof_late defines.
set(LAYPROOF_SPARSE on CACHE STRING "METIS and BLAS for large sparse systems: on or off")
set_property(CACHE LAYPROOF_SPARSE PROPERTY STRINGS on off)

if(LAYPROOF_SPARSE)
  find_path(METIS_INCLUDE_DIR metis.h)
  find_library(METIS_LIBRARY metis)
  find_library(BLAS_LIBRARY NAMES openblas blas)
  if(NOT METIS_INCLUDE_DIR OR NOT METIS_LIBRARY OR NOT BLAS_LIBRARY)
    message(FATAL_ERROR "METIS or BLAS is missing: scripts/setup installs them, "
      "LAYPROOF_SPARSE=off does without")
  endif()
endif()

function(layproof_sparse TARGET)
  if(LAYPROOF_SPARSE)
    target_compile_definitions(${TARGET} PRIVATE LAYPROOF_FRONT_LIBRARY)
    target_link_libraries(${TARGET} PRIVATE layproof_late)
  endif()
endfunction()
