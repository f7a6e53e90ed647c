# Sanitizers (with assertions on) go into the product's own code; the tests that drive it are compiled
# as ever, so that the compiler cache has them already, and only linked with the sanitizers.
add_library(layproof_sanitize INTERFACE)
if(LAYPROOF_SANITIZE)
  target_compile_options(layproof_sanitize INTERFACE -fsanitize=${LAYPROOF_SANITIZE}
    -fno-sanitize-recover=all -fno-omit-frame-pointer -O1 -g1 -UNDEBUG)
  # The address sanitizer sees null and object size itself; alignment and vptr find little where
  # nothing is cast. Together they cost a third of the build's time.
  if(LAYPROOF_SANITIZE MATCHES "address" AND CMAKE_CXX_COMPILER_ID STREQUAL "GNU")
    target_compile_options(layproof_sanitize INTERFACE -fno-sanitize=null,object-size,alignment,vptr)
  endif()
  # Eigen allocates differently under the address sanitizer unless told; tests and rooms must agree.
  target_compile_definitions(layproof_sanitize INTERFACE EIGEN_MALLOC_ALREADY_ALIGNED=1)
  add_link_options(-fsanitize=${LAYPROOF_SANITIZE})
endif()
