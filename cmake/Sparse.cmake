# layproof_sparse(TARGET): the libraries that make large sparse systems fast.
#
# METIS finds orders of elimination (nested dissection), BLAS multiplies the large fronts. Without
# them (LAYPROOF_SPARSE=off, as for WebAssembly) Eigen does both: minimum degree only, and slower.
set(LAYPROOF_SPARSE on CACHE STRING "METIS and BLAS for large sparse systems: on or off")
set_property(CACHE LAYPROOF_SPARSE PROPERTY STRINGS on off)

function(layproof_sparse TARGET)
  if(NOT LAYPROOF_SPARSE)
    return()
  endif()
  find_path(METIS_INCLUDE_DIR metis.h)
  find_library(METIS_LIBRARY metis)
  find_library(BLAS_LIBRARY NAMES openblas blas)
  if(NOT METIS_INCLUDE_DIR OR NOT METIS_LIBRARY OR NOT BLAS_LIBRARY)
    message(FATAL_ERROR "METIS or BLAS is missing: scripts/setup installs them, "
      "LAYPROOF_SPARSE=off does without")
  endif()
  target_compile_definitions(${TARGET} PRIVATE LAYPROOF_METIS LAYPROOF_BLAS)
  target_include_directories(${TARGET} SYSTEM PRIVATE ${METIS_INCLUDE_DIR})
  target_link_libraries(${TARGET} PRIVATE ${METIS_LIBRARY} ${BLAS_LIBRARY})
endfunction()
