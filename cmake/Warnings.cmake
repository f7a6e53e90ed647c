# Warnings are errors. Contraction of a*b+c is off so that both compilers give the same digits.
add_library(layproof_flags INTERFACE)
target_compile_options(layproof_flags INTERFACE
  -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wsign-conversion -Werror
  -ffp-contract=off)
# GCC 12 reports array bounds and uninitialised reads inside Eigen's own fixed-size kernels, and
# overlapping copies inside std::string + (GCC bug 105651).
if(CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
  target_compile_options(layproof_flags INTERFACE -Wno-maybe-uninitialized -Wno-array-bounds
    -Wno-stringop-overflow -Wno-stringop-overread -Wno-restrict)
endif()
