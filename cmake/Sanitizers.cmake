# Sanitizers (with assertions on) go into the product's own code; the tests that drive it are compiled
# as ever, so that the compiler cache has them already, and only linked with the sanitizers.
add_library(layproof_sanitize INTERFACE)
if(LAYPROOF_SANITIZE)
  target_compile_options(layproof_sanitize INTERFACE -fsanitize=${LAYPROOF_SANITIZE}
    -fno-sanitize-recover=all -fno-omit-frame-pointer -O1 -g1 -UNDEBUG)
  # Eigen allocates differently under the address sanitizer unless told; tests and rooms must agree.
  target_compile_definitions(layproof_sanitize INTERFACE EIGEN_MALLOC_ALREADY_ALIGNED=1)
  add_link_options(-fsanitize=${LAYPROOF_SANITIZE})
endif()
